"""Pawn breaks: moves of a pawn that challenge the other side's pawns.

A break is a push to a square from which the pawn attacks a pawn of the other side (which then
attacks it too). It is possible now where the push is legal with the side to move, and after
preparation where the pawn's way along its file is free of pawns. What stands for and against it
is counted on the square the pawn goes to. Common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

import chess

from trainer.exchange import exchange_gain
from trainer.lesson.pawns import own_rank, pawns_of

#: Pushes of one pawn, the breaking one among them, beyond which a break is no plan yet.
_MOST_PUSHES = 2


@dataclass(frozen=True)
class Break:
    """One pawn break of `side`.

    `start` is where the pawn stands now and `target` where it challenges the pawns on
    `challenges`. `pushes` is the number of its moves up to then, at least 1; `now` whether it is
    legal at once. `support` and `opposition` count the pieces and pawns of either side that guard
    the target (the pawn itself not among them); `in_the_way` are the squares of the way on which
    pieces stand; `loses` is how many pawns (by exchange evaluation) the push loses now, 0 where it
    holds or cannot be played yet.
    """

    side: chess.Color
    start: chess.Square
    target: chess.Square
    challenges: tuple[chess.Square, ...]
    pushes: int
    now: bool
    support: int
    opposition: int
    in_the_way: tuple[chess.Square, ...]
    loses: int

    @property
    def name(self) -> str:
        """As players write it: `e4–e5`."""
        return f"{chess.square_name(self.start)}–{chess.square_name(self.target)}"

    @property
    def holds(self) -> bool:
        """Whether at least as much stands for the break as against it, and it loses nothing."""
        return self.support >= self.opposition and not self.loses


def breaks(board: chess.Board, side: chess.Color) -> tuple[Break, ...]:
    """The breaks of `side`, those possible now first, then by what stands behind them."""
    seen = to_move(board, side)
    found = [
        one
        for pawn in chess.scan_forward(pawns_of(board, side))
        if (one := _break_of(board, seen, side, pawn)) is not None
    ]
    return tuple(
        sorted(found, key=lambda one: (not one.now, one.opposition - one.support, one.target))
    )


def to_move(board: chess.Board, side: chess.Color) -> chess.Board | None:
    """The board with `side` to move, or None where the other side is in check."""
    if board.turn == side:
        return board
    if board.is_check():
        return None
    turned = board.copy(stack=False)
    turned.turn = side
    turned.ep_square = None
    return turned


def _break_of(
    board: chess.Board, seen: chess.Board | None, side: chess.Color, pawn: chess.Square
) -> Break | None:
    others = pawns_of(board, not side)
    step = 8 if side else -8
    square, pushes = pawn, 0
    in_the_way: list[chess.Square] = []
    while own_rank(square, side) < 7:
        square += step
        if board.pawns & chess.BB_SQUARES[square]:
            return None
        if board.occupied & chess.BB_SQUARES[square]:
            in_the_way.append(square)
        # Two steps at once from the second rank count as one push.
        steps = own_rank(square, side) - own_rank(pawn, side)
        pushes = steps - (1 if own_rank(pawn, side) == 2 and steps > 1 else 0)
        challenged = chess.BB_PAWN_ATTACKS[side][square] & others
        if challenged:
            break
    else:
        return None
    if pushes > _MOST_PUSHES:
        return None
    move = chess.Move(pawn, square)
    now = seen is not None and pushes == 1 and seen.is_legal(move)
    own = board.attackers_mask(side, square) & ~chess.BB_SQUARES[pawn]
    return Break(
        side=side,
        start=pawn,
        target=square,
        challenges=tuple(chess.scan_forward(challenged)),
        pushes=pushes,
        now=now,
        support=chess.popcount(own),
        opposition=chess.popcount(board.attackers_mask(not side, square)),
        in_the_way=tuple(in_the_way),
        loses=max(0, -exchange_gain(seen, move)) if now and seen is not None else 0,
    )
