"""A chess engine at the player's side: processes, evaluations, what they mean in words."""
