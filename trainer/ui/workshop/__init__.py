"""The workshop: a page on which the repertoire is edited, and the list of what is to be mended."""
