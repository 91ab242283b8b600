"""FSRS-6 over whole arrays: many memories, and many sets of parameters, at once.

The formulas are those of the Free Spaced Repetition Scheduler project (FSRS-6); `model.Model`
takes them from its library for one memory at a time, and the tests hold both equal. Only reviews
on different days are computed here: the program counts one review of a position a day.

`parameters` is w0 to w20, either numbers (21,) or one column a player (21, players); the columns
are broadcast against the last axis of the memories.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from trainer.repertoire.arrays import Floats

#: The ratings of the model that are used here, by their number.
AGAIN: Final = 1
GOOD: Final = 3

#: The library's least stability, in days.
LEAST_STABILITY: Final = 0.001
#: Beyond a hundred years nothing changes any more; it keeps simulated numbers finite.
MOST_STABILITY: Final = 36_500.0


def recall_of(parameters: Floats, days: Floats, stability: Floats) -> Floats:
    """R(t, S) after `days` for memories of `stability` days; NaN stays NaN."""
    decay = -parameters[20]
    factor = 0.9 ** (1 / decay) - 1
    recall: Floats = (1 + factor * days / stability) ** decay
    return recall


def recalled_days(parameters: Floats, days: Floats, stability: Floats) -> Floats:
    """The integral of R(u, S) over u from 0 to `days`: expected days of knowing the move."""
    decay = -parameters[20]
    factor = 0.9 ** (1 / decay) - 1
    grown = (1 + factor * days / stability) ** (1 + decay) - 1
    area: Floats = stability / (factor * (1 + decay)) * grown
    return area


def first_stability(parameters: Floats, rating: int) -> Floats:
    """S after the first review."""
    stability: Floats = np.maximum(parameters[rating - 1], LEAST_STABILITY)
    return stability


def first_difficulty(parameters: Floats, rating: int, offset: Floats | float = 0.0) -> Floats:
    """D after the first review, 1 to 10; `offset` makes a position harder or easier."""
    difficulty: Floats = np.clip(_start(parameters, rating) + offset, 1.0, 10.0)
    return difficulty


def stability_after_right(
    parameters: Floats, stability: Floats, difficulty: Floats, recall: Floats
) -> Floats:
    """S after an answer graded Good at this recall."""
    w = parameters
    growth = np.exp(w[8]) * (11 - difficulty) * stability ** -w[9]
    grown = stability * (1 + growth * (np.exp(w[10] * (1 - recall)) - 1))
    after: Floats = np.clip(grown, LEAST_STABILITY, MOST_STABILITY)
    return after


def stability_after_wrong(
    parameters: Floats, stability: Floats, difficulty: Floats, recall: Floats
) -> Floats:
    """S after an answer graded Again at this recall."""
    w = parameters
    forgotten = w[11] * difficulty ** -w[12] * ((stability + 1) ** w[13] - 1)
    forgotten = forgotten * np.exp(w[14] * (1 - recall))
    bound = stability / np.exp(w[17] * w[18])
    after: Floats = np.clip(np.minimum(forgotten, bound), LEAST_STABILITY, MOST_STABILITY)
    return after


def difficulty_after(parameters: Floats, difficulty: Floats, rating: int) -> Floats:
    """D after a later review."""
    w = parameters
    moved = difficulty - w[6] * (rating - 3) * (10 - difficulty) / 9
    reverted: Floats = w[7] * _start(w, 4) + (1 - w[7]) * moved
    return np.clip(reverted, 1.0, 10.0)


def _start(parameters: Floats, rating: int) -> Floats:
    start: Floats = parameters[4] - np.exp(parameters[5] * (rating - 1)) + 1
    return start
