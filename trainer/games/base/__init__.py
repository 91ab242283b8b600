"""The reference base: indexed games against which novelty and frequency are measured.

`reader` reads PGN fast, `builder.build_base` makes a base of it or adds to one, and
`store.ReferenceBase` answers: `totals(key)`, `position(board)`, `moves(board)`, what had been
played before a game (`visits_before`, `moves_before`), `games_through(key)`, `game_text(entry)`.
"""
