"""Evaluations by a fixed number of nodes, from the cache where they were paid for before."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Protocol

import chess

from trainer.engine.cache import EvaluationCache
from trainer.engine.evaluation import Evaluation, Limit, finished
from trainer.engine.session import Engine


class Evaluate(Protocol):
    """Evaluates a position: `lines` best lines, of `moves` only where some are named.

    Raises `EngineError`, and `EngineStoppedError` once the work was cancelled.
    """

    def __call__(
        self,
        board: chess.Board,
        *,
        nodes: int,
        lines: int = 1,
        moves: Sequence[chess.Move] = (),
    ) -> Evaluation:
        """The evaluation, after at least so many nodes."""
        ...


class CachedEvaluator:
    """An engine with the cache before it; calling it is `Evaluate`."""

    def __init__(
        self,
        engine: Engine,
        cache: EvaluationCache,
        cancelled: Callable[[], bool] | None = None,
    ) -> None:
        self._engine = engine
        self._cache = cache
        self._cancelled = cancelled
        #: Questions that the engine had to answer.
        self.asked = 0

    @property
    def engine_name(self) -> str:
        """What the engine calls itself."""
        return self._engine.name

    def __call__(
        self,
        board: chess.Board,
        *,
        nodes: int,
        lines: int = 1,
        moves: Sequence[chess.Move] = (),
    ) -> Evaluation:
        """The evaluation, after it was kept. Raises as `Evaluate` says."""
        over = finished(board)
        if over is not None:
            return over
        name = self._engine.name
        known = self._cache.find(board, name, nodes=nodes, lines=lines, moves=moves)
        if known is not None:
            return known
        self.asked += 1
        found = self._engine.evaluate(
            board, Limit(nodes=nodes), lines=lines, moves=moves, cancelled=self._cancelled
        )
        self._cache.keep(board, name, found, nodes=nodes, lines=lines, moves=moves)
        return found
