"""What pieces attack, as tables of python-chess made fast to look up.

Bitboards by square. A slider's attacks are looked up in `…_ATTACKS[square]` by the occupied
squares within `…_MASKS[square]`; the masks leave out the edges.
"""

from __future__ import annotations

from typing import Final

import chess

KNIGHT_ATTACKS: Final = tuple(chess.BB_KNIGHT_ATTACKS)
KING_ATTACKS: Final = tuple(chess.BB_KING_ATTACKS)
#: By colour, then square.
PAWN_ATTACKS: Final = tuple(tuple(attacks) for attacks in chess.BB_PAWN_ATTACKS)
DIAG_MASKS: Final = tuple(chess.BB_DIAG_MASKS)
DIAG_ATTACKS: Final = tuple(chess.BB_DIAG_ATTACKS)
RANK_MASKS: Final = tuple(chess.BB_RANK_MASKS)
RANK_ATTACKS: Final = tuple(chess.BB_RANK_ATTACKS)
FILE_MASKS: Final = tuple(chess.BB_FILE_MASKS)
FILE_ATTACKS: Final = tuple(chess.BB_FILE_ATTACKS)

# What a bishop, a rook and a queen see on an empty board.
BISHOP_RAYS: Final = tuple(table[0] for table in DIAG_ATTACKS)
ROOK_RAYS: Final = tuple(
    ranks[0] | files[0] for ranks, files in zip(RANK_ATTACKS, FILE_ATTACKS, strict=True)
)
QUEEN_RAYS: Final = tuple(
    bishop | rook for bishop, rook in zip(BISHOP_RAYS, ROOK_RAYS, strict=True)
)
