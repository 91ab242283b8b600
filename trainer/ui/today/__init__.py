"""Today: what is worth asking now, and one obvious way to start."""
