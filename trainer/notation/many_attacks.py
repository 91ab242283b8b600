"""Attacks on many positions at once: tables of bitboards for numpy, and who sees a square.

Bitboards are unsigned 64-bit numbers; rows are positions. The tables are those of `attacks.py`.
"""

from __future__ import annotations

from typing import Final, TypeAlias

import chess
import numpy as np
import numpy.typing as npt

from trainer.notation.attacks import (
    BISHOP_RAYS,
    KING_ATTACKS,
    KNIGHT_ATTACKS,
    PAWN_ATTACKS,
    QUEEN_RAYS,
    ROOK_RAYS,
)

Bitboards: TypeAlias = npt.NDArray[np.uint64]
Rows: TypeAlias = npt.NDArray[np.intp]
Bools: TypeAlias = npt.NDArray[np.bool_]

ZERO: Final = np.uint64(0)
ONE: Final = np.uint64(1)


def bitboards(values: object) -> Bitboards:
    """An array of bitboards, of the shape of nested sequences of numbers."""
    return np.array(values, np.uint64)


def _between() -> Bitboards:
    """As `chess.between`, for all pairs of squares."""
    above = bitboards([chess.BB_ALL << square & chess.BB_ALL for square in chess.SQUARES])
    from_lower = LINES & (above[:, None] ^ above)
    between: Bitboards = from_lower & (from_lower - ONE)
    return between


SQUARES: Final = bitboards(chess.BB_SQUARES)
KNIGHTS: Final = bitboards(KNIGHT_ATTACKS)
KINGS: Final = bitboards(KING_ATTACKS)
#: By colour, then square.
PAWNS: Final = bitboards(PAWN_ATTACKS)
DIAGONALS: Final = bitboards(BISHOP_RAYS)
STRAIGHTS: Final = bitboards(ROOK_RAYS)
#: `[piece type, square]`: what a piece sees on an empty board; nothing for pawns.
RAYS: Final = bitboards(
    [
        [0] * 64,
        [0] * 64,
        KNIGHT_ATTACKS,
        BISHOP_RAYS,
        ROOK_RAYS,
        QUEEN_RAYS,
        KING_ATTACKS,
    ]
)
#: `[square, square]`: the whole line through two squares, and what lies between them on it.
LINES: Final = bitboards(chess.BB_RAYS)
BETWEEN: Final = _between()


def attacked(
    pieces: Bitboards,
    turn: chess.Color,
    square: Rows,
    occupied: Bitboards,
    attackers: Bitboards,
) -> Bools:
    """Whether pieces of `attackers`, who are not the side `turn`, see a square in each row.

    `pieces` (7, n) are the bitboards by piece type, `occupied` (n) what stands in the way.
    """
    leaping = KNIGHTS[square] & pieces[2] | KINGS[square] & pieces[6]
    leaping |= PAWNS[int(turn)][square] & pieces[1]
    seen: Bools = (leaping & attackers) != 0
    lines = DIAGONALS[square] & (pieces[3] | pieces[5])
    lines |= STRAIGHTS[square] & (pieces[4] | pieces[5])
    lines &= attackers
    rows = np.flatnonzero((lines != 0) & ~seen)
    while len(rows):
        bit = lowest(lines[rows])
        lines[rows] ^= bit
        clear = (BETWEEN[square[rows], square_of(bit)] & occupied[rows]) == 0
        seen[rows[clear]] = True
        rows = rows[~clear & (lines[rows] != 0)]
    return seen


def lowest(bits: Bitboards) -> Bitboards:
    """The lowest bit of each bitboard, none of which is empty."""
    low: Bitboards = bits & (ZERO - bits)
    return low


def square_of(bit: Bitboards) -> Rows:
    """The squares of bitboards that hold one square each."""
    squares: Rows = np.bitwise_count(bit - ONE).astype(np.intp)
    return squares
