"""What a player names, knows and hands on: structures, breaks, tricks, moments, handouts."""
