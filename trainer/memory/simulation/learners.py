"""Simulated players: a hidden memory, and what the program believes of it.

The truth of a player is FSRS-6 with every parameter multiplied by exp(N(0, 0.2)) and, for each
position, a difficulty offset drawn from N(0, 1.5). He is right with the probability that this
truth gives, and finds a move that he was never shown one time in five. The program sees only his
answers, and keeps its own memory states with the published parameters.

Memories are (decisions, players). All chance comes from one seed; what a player would answer on
a given day at a given position is drawn once and is the same whatever the policy asked before,
so policies differ by what they ask and not by luck.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from trainer.memory import fsrs_arrays as fsrs
from trainer.memory.model import PARAMETERS, UNSEEN_RECALL
from trainer.memory.value import Indices
from trainer.repertoire.arrays import Bools, Floats

#: How far players differ: standard deviations of the logarithm of each parameter, and of the
#: difficulty of a position.
PARAMETER_SPREAD: Final = 0.2
DIFFICULTY_SPREAD: Final = 1.5


class Memories:
    """Memories of d decisions by k players: stability (NaN if never asked), difficulty, last day.

    `parameters` is (21, 1) or (21, k); `offset` is added to the first difficulty.
    """

    def __init__(self, parameters: Floats, shape: tuple[int, int], offset: Floats | float) -> None:
        self.parameters = parameters
        self.offset = np.broadcast_to(np.asarray(offset, np.float64), shape)
        self.stability = np.full(shape, np.nan)
        self.difficulty = np.full(shape, np.nan)
        self.day = np.zeros(shape)

    @property
    def seen(self) -> Bools:
        """Where a move was asked at least once."""
        seen: Bools = ~np.isnan(self.stability)
        return seen

    def recall(self, day: float) -> Floats:
        """Recall on a day (d, k); the guess where nothing was asked."""
        days = np.maximum(day - self.day, 0.0)
        recall = fsrs.recall_of(self.parameters, days, self.stability)
        return np.where(np.isnan(recall), UNSEEN_RECALL, recall)

    def review(self, rows: Indices, columns: Indices, right: Bools, day: float) -> None:
        """Count answers (one a place, none answered today before) at these places."""
        if not len(rows):
            return
        one = self.parameters.shape[1] == 1
        w = self.parameters if one else self.parameters[:, columns]
        w = np.broadcast_to(w, (21, len(rows)))
        s, d = self.stability[rows, columns], self.difficulty[rows, columns]
        offset = self.offset[rows, columns]
        recall = fsrs.recall_of(w, day - self.day[rows, columns], s)
        after_right = fsrs.stability_after_right(w, s, d, recall)
        after_wrong = fsrs.stability_after_wrong(w, s, d, recall)
        new = np.isnan(s)
        first = np.where(
            right, fsrs.first_stability(w, fsrs.GOOD), fsrs.first_stability(w, fsrs.AGAIN)
        )
        later = np.where(right, after_right, after_wrong)
        self.stability[rows, columns] = np.where(new, first, later)
        self.difficulty[rows, columns] = np.where(
            new,
            np.where(
                right,
                fsrs.first_difficulty(w, fsrs.GOOD, offset),
                fsrs.first_difficulty(w, fsrs.AGAIN, offset),
            ),
            np.where(
                right,
                fsrs.difficulty_after(w, d, fsrs.GOOD),
                fsrs.difficulty_after(w, d, fsrs.AGAIN),
            ),
        )
        self.day[rows, columns] = day


@dataclass(frozen=True, eq=False)
class Learners:
    """k players of d decisions: their hidden parameters (21, k) and offsets (d, k)."""

    seed: int
    parameters: Floats
    offset: Floats

    @classmethod
    def draw(cls, seed: int, decisions: int, players: int) -> Learners:
        """Players drawn at random; the same seed gives the same players."""
        rng = np.random.default_rng([seed, 0])
        spread = np.exp(rng.normal(0.0, PARAMETER_SPREAD, (21, players)))
        published = np.array(PARAMETERS)[:, None]
        offset = rng.normal(0.0, DIFFICULTY_SPREAD, (decisions, players))
        return cls(seed, published * spread, offset)

    @property
    def shape(self) -> tuple[int, int]:
        """Decisions and players."""
        decisions, players = self.offset.shape
        return decisions, players

    def truth(self) -> Memories:
        """The players' memories before they ever drilled."""
        return Memories(self.parameters, self.shape, self.offset)

    def belief(self) -> Memories:
        """What the program believes of them, by the published parameters."""
        return Memories(np.array(PARAMETERS)[:, None], self.shape, 0.0)

    def luck(self, day: int) -> Floats:
        """A number in 0..1 for each decision and player (d, k): he is right if recall is above."""
        return np.random.default_rng([self.seed, 1, day]).random(self.shape)
