"""The reference base: indexed games against which novelty and frequency are measured.

`reader` reads PGN fast, `builder` makes a base of it, `store.ReferenceBase` answers questions.
"""
