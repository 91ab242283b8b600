"""The workshop: editing a repertoire with exact undo, a journal, pasting, merging, importing."""
