"""The reference base in the window: a panel for a position, and choosing or building a base."""
