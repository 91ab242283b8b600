"""A lesson on paper, as a page for a browser, as PGN or EPD, as pictures."""
