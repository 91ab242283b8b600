"""What the pawns alone tell: files, majorities, space, weak squares, islands, passed pawns.

Pure functions of a board. Squares are numbers of python-chess, files 0 (a) to 7 (h); ranks are
seen from the side's own end of the board, 1 to 8. The definitions are common practice, no source,
made exact here.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import chess

CENTRE_FILES = chess.BB_FILES[2] | chess.BB_FILES[3] | chess.BB_FILES[4] | chess.BB_FILES[5]


class Wing(StrEnum):
    """One half of the board."""

    QUEENS_SIDE = "queen's side"
    KINGS_SIDE = "king's side"


@dataclass(frozen=True)
class Majority:
    """More pawns than the other side has on one half: files a to d, or e to h."""

    side: chess.Color
    wing: Wing
    own: int
    other: int


@dataclass(frozen=True)
class Files:
    """Files without pawns, and without pawns of one side only; each a tuple of 0 to 7."""

    open: tuple[int, ...]
    half_open_white: tuple[int, ...]
    half_open_black: tuple[int, ...]

    def half_open(self, side: chess.Color) -> tuple[int, ...]:
        """The files on which the other side has a pawn and `side` has none."""
        return self.half_open_white if side else self.half_open_black


def pawns_of(board: chess.Board, side: chess.Color) -> int:
    """The pawns of a side as a bitboard."""
    return board.pawns & board.occupied_co[side]


def own_rank(square: chess.Square, side: chess.Color) -> int:
    """The rank of a square as `side` counts it, 1 (its own back rank) to 8."""
    rank = chess.square_rank(square)
    return rank + 1 if side else 8 - rank


def files(board: chess.Board) -> Files:
    """The open and half-open files."""
    white, black = pawns_of(board, chess.WHITE), pawns_of(board, chess.BLACK)
    numbers = range(8)
    return Files(
        tuple(n for n in numbers if not (white | black) & chess.BB_FILES[n]),
        tuple(n for n in numbers if black & chess.BB_FILES[n] and not white & chess.BB_FILES[n]),
        tuple(n for n in numbers if white & chess.BB_FILES[n] and not black & chess.BB_FILES[n]),
    )


def majorities(board: chess.Board) -> tuple[Majority, ...]:
    """The pawn majorities, the queen's side first; equal numbers are none."""
    found = []
    queens_side = sum(chess.BB_FILES[number] for number in range(4))
    for wing, half in (
        (Wing.QUEENS_SIDE, queens_side),
        (Wing.KINGS_SIDE, chess.BB_ALL & ~queens_side),
    ):
        white = chess.popcount(pawns_of(board, chess.WHITE) & half)
        black = chess.popcount(pawns_of(board, chess.BLACK) & half)
        if white > black:
            found.append(Majority(chess.WHITE, wing, white, black))
        elif black > white:
            found.append(Majority(chess.BLACK, wing, black, white))
    return tuple(found)


def space(board: chess.Board, side: chess.Color) -> int:
    """Squares behind the foremost pawn of `side` on each of the files c to f.

    0 to 24: on each file the foremost pawn's rank less one, 0 where there is no pawn.
    """
    total = 0
    for number in range(2, 6):
        ranks = [
            own_rank(square, side)
            for square in chess.scan_forward(pawns_of(board, side) & chess.BB_FILES[number])
        ]
        total += max(ranks, default=1) - 1
    return total


def guardable(board: chess.Board, side: chess.Color) -> int:
    """The squares that a pawn of `side` guards now or can guard by advancing, as a bitboard.

    A pawn advances straight on; that something may stand in its way, and captures that would
    bring it to another file, are left out of account.
    """
    mask = 0
    for pawn in chess.scan_forward(pawns_of(board, side)):
        file = chess.square_file(pawn)
        for near in (file - 1, file + 1):
            if 0 <= near <= 7:
                ahead = (
                    chess.square(near, rank)
                    for rank in range(8)
                    if own_rank(chess.square(near, rank), side) > own_rank(pawn, side)
                )
                mask |= sum(chess.BB_SQUARES[square] for square in ahead)
    return mask


def weak_squares(board: chess.Board, side: chess.Color) -> tuple[chess.Square, ...]:
    """Squares on the own third and fourth rank, files b to g, that no pawn can guard any more.

    The rook files are left out, where a single neighbour makes nearly every square weak.
    """
    safe = guardable(board, side)
    return tuple(
        square
        for square in chess.SQUARES
        if own_rank(square, side) in (3, 4)
        and 0 < chess.square_file(square) < 7
        and not safe & chess.BB_SQUARES[square]
    )


def islands(board: chess.Board, side: chess.Color) -> int:
    """Groups of pawns on neighbouring files, 0 to 4."""
    taken = [bool(pawns_of(board, side) & chess.BB_FILES[number]) for number in range(8)]
    return sum(here and not before for before, here in zip([False, *taken], taken, strict=False))


def passed_pawns(board: chess.Board, side: chess.Color) -> tuple[chess.Square, ...]:
    """Pawns that no pawn of the other side can block or take on their way."""
    others = list(chess.scan_forward(pawns_of(board, not side)))
    return tuple(
        pawn
        for pawn in chess.scan_forward(pawns_of(board, side))
        if not any(
            abs(chess.square_file(other) - chess.square_file(pawn)) <= 1
            and own_rank(other, side) > own_rank(pawn, side)
            for other in others
        )
    )


def isolated_pawns(board: chess.Board, side: chess.Color) -> tuple[chess.Square, ...]:
    """Pawns with no pawn of their side on a neighbouring file."""
    own = pawns_of(board, side)
    return tuple(
        pawn
        for pawn in chess.scan_forward(own)
        if not any(
            own & chess.BB_FILES[near]
            for near in (chess.square_file(pawn) - 1, chess.square_file(pawn) + 1)
            if 0 <= near <= 7
        )
    )


def fixed_pawns(board: chess.Board, side: chess.Color) -> tuple[chess.Square, ...]:
    """Pawns with a pawn of the other side directly in front of them."""
    step = 8 if side else -8
    others = pawns_of(board, not side)
    return tuple(
        pawn
        for pawn in chess.scan_forward(pawns_of(board, side))
        if others & chess.BB_SQUARES[pawn + step]
    )
