"""The page Memory: what the program knows of the player, the weeks ahead, and exercises."""
