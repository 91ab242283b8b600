"""Replies that a sound opponent might choose: near-best moves from the cache, for drills."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Final

import chess

from trainer.engine.cache import EvaluationCache
from trainer.engine.evaluator import Evaluate

#: A reply that loses more than this, in centipawns, is a blunder and never a stranger.
NEAR_BEST: Final = 60
#: Lines asked for where a position is prepared for drills.
LINES: Final = 5

Replies = Sequence[tuple[chess.Move, float]]


def near_best(cache: EvaluationCache, board: chess.Board) -> Replies:
    """Moves of the side to move that lose little, with weights; nothing where none are known.

    The engine is not asked: what an earlier look or test left in the cache is used, so that
    nothing has to be waited for in a drill.
    """
    known = cache.known_lines(board)
    if known is None:
        return ()
    best = known.score.value
    return tuple(
        (line.move, math.exp((line.score.value - best) / NEAR_BEST))
        for line in known.lines
        if line.move is not None and best - line.score.value <= NEAR_BEST
    )


def prepare(board: chess.Board, evaluate: Evaluate, *, nodes: int) -> None:
    """Have the near-best moves of a position in the cache before a drill asks for them."""
    if any(board.legal_moves):
        evaluate(board, nodes=nodes, lines=min(LINES, board.legal_moves.count()))


def joined(*sources: Callable[[chess.Board], Replies]) -> Callable[[chess.Board], Replies]:
    """One source of replies from several, such as the base and the engine.

    The weights of each source sum to 1 before they are added, so that none drowns the others.
    """

    def replies(board: chess.Board) -> Replies:
        total: dict[chess.Move, float] = {}
        for source in sources:
            found = source(board)
            whole = sum(weight for _move, weight in found)
            for move, weight in found:
                total[move] = total.get(move, 0.0) + weight / whole
        return tuple(total.items())

    return replies
