"""What a move in a PGN text says, before any board is looked at.

Standard algebraic notation (PGN Standard, section 8.2.3), and the spellings that older programs
and typists leave behind: castling with zeros or small letters, promotions written `e8Q`, `e8(Q)`
or `e8/Q`, long and pure coordinates, figurines, `e.p.`, a missing `x`, `+` or `=`.
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Final, NamedTuple

import chess

from trainer.notation.display import FIGURINE_LETTERS

#: `Spelling.piece` where only squares are given, and for the two castling moves.
ANY_PIECE: Final = 0
CASTLE_SHORT: Final = 7
CASTLE_LONG: Final = 8

_MOVE: Final = re.compile(
    r"([KQRBN])?([a-h])?([1-8])?[-x:]?([a-h][1-8])"
    r"(?:[=/]?([QRBNqrbn])|[=/]?\(([QRBNqrbn])\))?"
    r"[+#]*(?:e\.?p\.?)?[+#]*[.,]?"
)
_CASTLING: Final = re.compile(r"[Oo0]-?[Oo0](-?[Oo0])?[+#]*[.,]?")
_NULL_MOVES: Final = frozenset({"--", "Z0", "@@@@", "0000", "null", "NULL"})


class Spelling(NamedTuple):
    """A move as written.

    `piece` is a piece type of python-chess, `ANY_PIECE`, `CASTLE_SHORT` or `CASTLE_LONG`;
    `origins` the squares it may come from, as a bitboard; `promotion` a piece type or None.
    """

    piece: int
    target: int
    origins: int
    promotion: int | None


def is_null_move(token: str) -> bool:
    """Whether the token passes the turn instead of moving (not part of the PGN standard)."""
    return token.rstrip("+#") in _NULL_MOVES


@lru_cache(maxsize=1 << 14)
def read_spelling(token: str) -> Spelling | None:
    """What `token` says, or None where it is no move in letters of the PGN standard."""
    token = token.translate(FIGURINE_LETTERS)
    match = _MOVE.fullmatch(token)
    if match is None:
        castling = _CASTLING.fullmatch(token)
        if castling is None:
            return None
        return Spelling(CASTLE_LONG if castling[1] else CASTLE_SHORT, 0, 0, None)
    letter, file_name, rank_name, target, promotion, bracketed = match.groups()
    promotion = promotion or bracketed
    origins = chess.BB_ALL
    if file_name:
        origins &= chess.BB_FILES[chess.FILE_NAMES.index(file_name)]
    if rank_name:
        origins &= chess.BB_RANKS[int(rank_name) - 1]
    if letter:
        piece = chess.PIECE_SYMBOLS.index(letter.lower())
    elif file_name and rank_name:
        piece = ANY_PIECE
    else:
        piece = chess.PAWN
        if not file_name:
            # A pawn move with no file of origin is no capture.
            origins &= chess.BB_FILES[chess.FILE_NAMES.index(target[0])]
    return Spelling(
        piece,
        chess.parse_square(target),
        origins,
        chess.PIECE_SYMBOLS.index(promotion.lower()) if promotion else None,
    )
