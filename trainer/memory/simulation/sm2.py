"""SM-2, the published schedule of repetitions, for comparison only.

Source: P. A. Woźniak, "Optimization of learning", 1990, chapter 3.2: intervals of 1 day, 6 days,
then the last one times the E-Factor, which begins at 2.5, changes with the quality q of each
answer (0 to 5) by 0.1 − (5 − q) · (0.08 + (5 − q) · 0.02), and never falls below 1.3. An answer
of a quality below 3 starts the repetitions from the beginning, with the E-Factor as it was.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

FIRST_FACTOR: Final = 2.5
LEAST_FACTOR: Final = 1.3


@dataclass(frozen=True)
class Sm2Card:
    """A card's E-Factor, its repetitions in a row, and its interval in days (0 when new)."""

    factor: float = FIRST_FACTOR
    repetitions: int = 0
    interval: int = 0

    def after(self, quality: int) -> Sm2Card:
        """The card after an answer of `quality`, 0 to 5."""
        if not 0 <= quality <= 5:
            raise ValueError(f"a quality is 0 to 5, not {quality}")
        if quality < 3:
            return Sm2Card(self.factor, 0, 1)
        miss = 5 - quality
        factor = max(LEAST_FACTOR, self.factor + 0.1 - miss * (0.08 + miss * 0.02))
        repetitions = self.repetitions + 1
        interval = {1: 1, 2: 6}.get(repetitions) or math.ceil(self.interval * self.factor)
        return Sm2Card(factor, repetitions, interval)
