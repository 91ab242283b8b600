"""The sections of the open repertoire: their order, names, what joins them and what leaves."""
