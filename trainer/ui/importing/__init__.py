"""Importing whole games: which files, what of them, and what comes out."""
