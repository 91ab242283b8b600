"""Policies that ask positions alone, for comparison: each puts a score on every decision.

A score is (d, k), NaN-free; what must not be asked has −inf. The highest is asked first, and new
decisions compete with old ones unless the policy says otherwise.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, Protocol

import numpy as np

from trainer.memory import fsrs_arrays as fsrs
from trainer.memory.model import UNSEEN_RECALL
from trainer.memory.review_index import ReviewIndex
from trainer.memory.simulation.learners import Memories
from trainer.memory.simulation.sitting import Sitting
from trainer.memory.value import DecisionGraph
from trainer.repertoire.arrays import Floats

#: How many questions are chosen before the worth of each decision is computed anew.
BATCH: Final = 6
#: The program asks at least every second question behind a reply of its own.
HALF_A_REPLY: Final = 0.5
#: The horizon over which the plain gain of a review is counted, in days.
HORIZON: Final = 60.0

Score = Callable[[Sitting], Floats]


class Policy(Protocol):
    """What is asked each day."""

    @property
    def name(self) -> str:
        """What the report calls it."""

    def drill(self, sitting: Sitting) -> None:
        """Ask all players of the sitting, until their time is over."""


@dataclass(frozen=True, eq=False)
class Scored:
    """Asks the highest scores, `batch` at a time (all at once where None).

    `replies` of the program are played before each question, on average.
    """

    name: str
    score: Score
    batch: int | None = None
    replies: float = 0.0

    def drill(self, sitting: Sitting) -> None:
        """Ask all players of the sitting, until their time is over."""
        while True:
            score = np.where(sitting.asked, -np.inf, self.score(sitting))
            many = self.batch or len(score)
            if many < len(score):
                top = np.argpartition(-score, many, axis=0)[:many]
                order = np.argsort(-np.take_along_axis(score, top, 0), axis=0, kind="stable")
                rows = np.take_along_axis(top, order, 0)
            else:
                rows = np.argsort(-score, axis=0, kind="stable")
            valid = np.isfinite(np.take_along_axis(score, rows, 0))
            taken = sitting.ask(rows, valid, self.replies)
            if self.batch is None or not taken.any() or not sitting.going_on.any():
                return


def due_alone(graph: DecisionGraph) -> Policy:
    """Position cards, due when recall falls to 0.9; the longest due first, then new ones.

    New ones come by reach.
    """
    reach = graph.arrival(np.ones((len(graph), 1)))

    def score(sitting: Sitting) -> Floats:
        belief = sitting.belief
        due = belief.day + belief.stability  # R(S, S) = 0.9
        waiting = np.where(due <= sitting.day, sitting.day - due + 1e6, -np.inf)
        return np.where(belief.seen, waiting, reach)

    return Scored("due at 0.9, asked alone", score)


def loss(graph: DecisionGraph, retention: float | None = None) -> Policy:
    """By reach × (1 − recall); with a `retention`, only what has fallen below it."""
    reach = graph.arrival(np.ones((len(graph), 1)))

    def score(sitting: Sitting) -> Floats:
        recall = sitting.belief.recall(sitting.day)
        lost = reach * (1 - recall)
        if retention is None:
            return lost
        return np.where(~sitting.belief.seen | (recall < retention), lost, -np.inf)

    bound = "" if retention is None else f"due at {retention:g}, by "
    return Scored(f"{bound}reach × (1 − recall)", score)


def value_gain(graph: DecisionGraph) -> Policy:
    """Value × gain a second: dV/dR times the days of recall that asking now adds in 60 days."""

    def score(sitting: Sitting) -> Floats:
        recall = sitting.belief.recall(sitting.day)
        gain = _gain(sitting.belief, sitting.day, recall)
        cost = recall * sitting.timing.right
        cost = cost + (1 - recall) * (sitting.timing.wrong + sitting.timing.right)
        return graph.worth(recall) * gain / cost

    return Scored("value × gain", score, BATCH)


def review_index(graph: DecisionGraph, index: ReviewIndex, replies: float = 0.0) -> Policy:
    """Review index × value: the price of a second at which asking is just worth it, times w.

    With half a reply a question it pays for context as the program does, which asks every second
    position on the line on the board: what is left between the two is the planning.
    """

    def score(sitting: Sitting) -> Floats:
        belief = sitting.belief
        recall = belief.recall(sitting.day)
        days = sitting.day - belief.day
        return graph.worth(recall) * index.of(belief.stability, belief.difficulty, days)

    name = "review index × value" + (", and replies" if replies else "")
    return Scored(name, score, BATCH, replies)


def _gain(belief: Memories, day: int, recall: Floats) -> Floats:
    """The days of recall within the horizon that asking now adds (d, k)."""
    w = belief.parameters
    s = np.where(belief.seen, belief.stability, 1.0)
    d = np.where(belief.seen, belief.difficulty, 5.0)
    new = ~belief.seen
    right = np.where(
        new, fsrs.first_stability(w, fsrs.GOOD), fsrs.stability_after_right(w, s, d, recall)
    )
    wrong = np.where(
        new, fsrs.first_stability(w, fsrs.AGAIN), fsrs.stability_after_wrong(w, s, d, recall)
    )
    since = day - belief.day
    horizon = np.array(HORIZON)
    without = fsrs.recalled_days(w, since + horizon, s) - fsrs.recalled_days(w, since, s)
    without = np.where(new, UNSEEN_RECALL * HORIZON, without)
    after = recall * fsrs.recalled_days(w, horizon, right)
    after = after + (1 - recall) * fsrs.recalled_days(w, horizon, wrong)
    gain: Floats = after - without
    return gain
