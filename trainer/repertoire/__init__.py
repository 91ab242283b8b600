"""The repertoire as a graph of positions: reading, writing, audit, reach."""
