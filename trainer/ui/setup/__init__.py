"""Setting up a position by hand: a board to put pieces on, and what the rules say of it."""
