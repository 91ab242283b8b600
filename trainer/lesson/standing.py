"""How long each structure stood in a game: fast, for very many games.

Only pawns decide (and a bishop, for two set-ups), so nothing but the squares of the men is kept:
no legality is looked at, the moves are taken to be legal. Held to python-chess's board in
`tests/unit/test_model_games.py`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import chess

from trainer.lesson.structures import Found, PieceDemand, StructureBook

_START: Final = chess.Board()
#: 1 to 6 for White's men, 7 to 12 for Black's, 0 for an empty square.
_SQUARES: Final = [
    0 if piece is None else piece.piece_type + (0 if piece.color else 6)
    for piece in map(_START.piece_at, chess.SQUARES)
]
_WHITE_PAWNS: Final = _START.pawns & _START.occupied_co[chess.WHITE]
_BLACK_PAWNS: Final = _START.pawns & _START.occupied_co[chess.BLACK]
_WHITE_PAWN, _BLACK_PAWN = 1, 7
_KINGS: Final = (6, 12)


@dataclass(frozen=True)
class Stood:
    """A structure in one game: in how many positions, and by which half-move it first came."""

    found: Found
    plies: int
    since: int


def stood_in(moves: Iterable[chess.Move], book: StructureBook) -> list[Stood]:
    """The structures of a game of legal `moves` from the starting position."""
    men = _Men()
    since: dict[str, int] = {}
    counts: dict[str, int] = {}
    by_key: dict[str, Found] = {}

    def holds(demand: PieceDemand) -> bool:
        wanted = demand.piece + (0 if demand.color else 6)
        return any(men.squares[square] == wanted for square in chess.scan_forward(demand.squares))

    for ply, move in enumerate(moves, start=1):
        men.move(move)
        for found in book.of_pawns(men.white, men.black, holds):
            key = found.key
            if key in counts:
                counts[key] += 1
            else:
                counts[key], since[key], by_key[key] = 1, ply, found
    return [Stood(by_key[key], count, since[key]) for key, count in counts.items()]


class _Men:
    """Where the men stand, and the pawns of either side as bitboards."""

    __slots__ = ("black", "squares", "white")

    def __init__(self) -> None:
        self.squares = _SQUARES.copy()
        self.white, self.black = _WHITE_PAWNS, _BLACK_PAWNS

    def move(self, move: chess.Move) -> None:
        start, target, squares = move.from_square, move.to_square, self.squares
        if start == target:  # a null move
            return
        man, taken = squares[start], squares[target]
        squares[start], squares[target] = 0, man
        if taken in (_WHITE_PAWN, _BLACK_PAWN):
            self._lift(target, taken)
        if man in (_WHITE_PAWN, _BLACK_PAWN):
            self._pawn(move, man, taken)
        elif man in _KINGS and abs(start - target) == 2:
            rook, to = (target + 1, target - 1) if target > start else (target - 2, target + 1)
            squares[rook], squares[to] = 0, squares[rook]

    def _pawn(self, move: chess.Move, man: int, taken: int) -> None:
        start, target = move.from_square, move.to_square
        self._lift(start, man)
        if not taken and (start - target) % 8:
            beaten = target - 8 if man == _WHITE_PAWN else target + 8
            self._lift(beaten, self.squares[beaten])
            self.squares[beaten] = 0
        if move.promotion:
            self.squares[target] = move.promotion + man - 1
        elif man == _WHITE_PAWN:
            self.white |= 1 << target
        else:
            self.black |= 1 << target

    def _lift(self, square: int, man: int) -> None:
        if man == _WHITE_PAWN:
            self.white &= ~(1 << square)
        else:
            self.black &= ~(1 << square)
