"""Whole games against the repertoire: where they left it, and whether that was new."""
