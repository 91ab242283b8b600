"""The plan of a repertoire as a railway map: where each position and each move is drawn."""
