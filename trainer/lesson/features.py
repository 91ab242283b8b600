"""Outposts and bishops: what pieces make of pawns. Definitions: common practice, no source."""

from __future__ import annotations

from dataclasses import dataclass

import chess

from trainer.lesson.breaks import Break, breaks
from trainer.lesson.pawns import (
    CENTRE_FILES,
    Files,
    Majority,
    files,
    fixed_pawns,
    guardable,
    majorities,
    own_rank,
    pawns_of,
    space,
    weak_squares,
)


@dataclass(frozen=True)
class Outpost:
    """A square on the own fourth to sixth rank, guarded by an own pawn, that no pawn can attack.

    `piece` is the knight or bishop of the side that stands there, or None.
    """

    square: chess.Square
    piece: chess.PieceType | None


@dataclass(frozen=True)
class Bishop:
    """A bishop and the pawns of its own side: on squares of its colour, on the other colour.

    `fixed` are those of its colour on the files c to f with a pawn of the other side in front. It
    is bad where at least two are fixed and more pawns stand on its colour than on the other.
    """

    square: chess.Square
    same: int
    other: int
    fixed: tuple[chess.Square, ...]

    @property
    def bad(self) -> bool:
        """Whether its own pawns shut it in."""
        return len(self.fixed) >= 2 and self.same > self.other


@dataclass(frozen=True)
class SideFeatures:
    """What one side has: see the functions of the same names for units and definitions."""

    breaks: tuple[Break, ...]
    weak_squares: tuple[chess.Square, ...]
    outposts: tuple[Outpost, ...]
    bishops: tuple[Bishop, ...]
    space: int


@dataclass(frozen=True)
class Features:
    """All features of a position."""

    white: SideFeatures
    black: SideFeatures
    files: Files
    majorities: tuple[Majority, ...]

    def of(self, side: chess.Color) -> SideFeatures:
        """Those of one side."""
        return self.white if side else self.black


def features(board: chess.Board) -> Features:
    """Everything that this module, `pawns` and `breaks` know about a position."""
    return Features(
        _side(board, chess.WHITE), _side(board, chess.BLACK), files(board), majorities(board)
    )


def outposts(board: chess.Board, side: chess.Color) -> tuple[Outpost, ...]:
    """The outposts of a side, the occupied ones first."""
    attacked = guardable(board, not side)
    found = []
    for square in chess.SQUARES:
        if not 4 <= own_rank(square, side) <= 6 or attacked & chess.BB_SQUARES[square]:
            continue
        if not chess.BB_PAWN_ATTACKS[not side][square] & pawns_of(board, side):
            continue
        piece = board.piece_at(square)
        minor = piece is not None and piece.color == side
        kind = piece.piece_type if piece is not None and minor else None
        if board.pawns & chess.BB_SQUARES[square]:
            continue
        found.append(Outpost(square, kind if kind in (chess.KNIGHT, chess.BISHOP) else None))
    return tuple(sorted(found, key=lambda one: (one.piece is None, one.square)))


def bishops(board: chess.Board, side: chess.Color) -> tuple[Bishop, ...]:
    """The bishops of a side with the pawns that concern them."""
    own = pawns_of(board, side)
    fixed = sum(chess.BB_SQUARES[pawn] for pawn in fixed_pawns(board, side)) & CENTRE_FILES
    found = []
    for square in chess.scan_forward(board.pieces_mask(chess.BISHOP, side)):
        light = bool(chess.BB_LIGHT_SQUARES & chess.BB_SQUARES[square])
        colour = chess.BB_LIGHT_SQUARES if light else chess.BB_DARK_SQUARES
        found.append(
            Bishop(
                square,
                chess.popcount(own & colour),
                chess.popcount(own & ~colour),
                tuple(chess.scan_forward(fixed & colour)),
            )
        )
    return tuple(found)


def _side(board: chess.Board, side: chess.Color) -> SideFeatures:
    return SideFeatures(
        breaks(board, side),
        weak_squares(board, side),
        outposts(board, side),
        bishops(board, side),
        space(board, side),
    )
