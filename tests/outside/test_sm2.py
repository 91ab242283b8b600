"""SM-2 as the simulation uses it, against its published description.

Source: P. A. Woźniak, "Optimization of learning", 1990, chapter 3.2 (algorithm SM-2): I(1) = 1,
I(2) = 6, I(n) = I(n−1) · EF, fractions rounded up; EF' = EF − 0.8 + 0.28·q − 0.02·q², not below
1.3; below quality 3 the repetitions begin anew with EF unchanged. The quadratic form is the one
printed there; written from memory.
"""

from __future__ import annotations

import math
from itertools import pairwise

import pytest

from trainer.memory.simulation.sm2 import Sm2Card


@pytest.mark.parametrize(("quality", "change"), [(5, 0.10), (4, 0.00), (3, -0.14)])
def test_the_factor_changes_as_published(quality: int, change: float) -> None:
    card = Sm2Card().after(quality)
    assert card.factor == pytest.approx(2.5 + change)
    assert card.factor == pytest.approx(2.5 - 0.8 + 0.28 * quality - 0.02 * quality**2)


def test_intervals_of_a_card_that_is_always_known() -> None:
    card, intervals = Sm2Card(), []
    for _ in range(6):
        card = card.after(4)
        intervals.append(card.interval)
    assert intervals == [1, 6, 15, 38, 95, 238]
    assert all(later == math.ceil(2.5 * earlier) for earlier, later in pairwise(intervals[1:]))


def test_a_failure_starts_anew_and_keeps_the_factor() -> None:
    card = Sm2Card().after(5).after(5).after(5)
    failed = card.after(2)
    assert (failed.interval, failed.repetitions) == (1, 0)
    assert failed.factor == card.factor == pytest.approx(2.8)
    assert failed.after(4).interval == 1
    assert failed.after(4).after(4).interval == 6


def test_the_factor_has_a_floor() -> None:
    card = Sm2Card()
    for _ in range(30):
        card = card.after(3)
    assert card.factor == 1.3
    with pytest.raises(ValueError, match="0 to 5"):
        card.after(6)
