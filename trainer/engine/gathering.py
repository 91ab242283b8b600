"""The reports of one search, put together to an evaluation."""

from __future__ import annotations

import chess
import chess.engine

from trainer.engine.evaluation import Evaluation, Line, Score


class Gathered:
    """The lines of a search as they come in."""

    def __init__(self, lines: int) -> None:
        #: Reports that named a variation, all of it legal.
        self.variations = 0
        self._wanted = lines
        #: The lines of the last depth that was told in full, and of the one being told.
        self._whole: dict[int, Line] = {}
        self._part: dict[int, Line] = {}
        self._depth = self._nodes = 0

    def take(self, info: chess.engine.InfoDict) -> bool:
        """Take one report; whether the lines are complete at a new depth."""
        self._nodes = max(self._nodes, info.get("nodes", 0))
        moves = info.get("pv")
        if moves:
            self.variations += 1
        score = info.get("score")
        if not moves or score is None or "lowerbound" in info or "upperbound" in info:
            return False
        number = info.get("multipv", 1)
        if not 1 <= number <= self._wanted:
            return False
        depth = info.get("depth", self._depth)
        if depth != self._depth:
            self._depth, self._part = depth, {}
        # An engine that tells a depth again has put its moves in another order meanwhile: a move
        # stands where it was named last, and a place that it has left is open again.
        self._part = {n: line for n, line in self._part.items() if line.move != moves[0]}
        relative = score.relative
        self._part[number] = Line(
            tuple(moves), Score(cp=relative.score() or 0, mate=relative.mate())
        )
        if len(self._part) < self._wanted:
            return False
        self._whole = dict(self._part)
        return True

    def evaluation(self, best: chess.Move | None) -> Evaluation:
        """What is known now; at the end, with `best`, its line stands first.

        Where the engine was stopped within a depth, the lines of that depth count before those of
        the one before it, and no move stands twice.
        """
        lines: dict[chess.Move | None, Line] = {}
        for line in (*self._part.values(), *self._whole.values()):
            lines.setdefault(line.move, line)
        ordered = sorted(lines.values(), key=lambda line: -line.score.value)
        if best is not None:
            if best not in lines:
                ordered.insert(0, Line((best,), ordered[0].score if ordered else Score(0)))
            ordered.sort(key=lambda line: line.move != best)
        return Evaluation(tuple(ordered[: self._wanted]), self._depth, self._nodes)
