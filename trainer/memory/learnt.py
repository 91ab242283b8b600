"""Which prepared moves had been learnt on which day."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from trainer.memory.days import StudyDays
from trainer.memory.grading import effective, found_unhinted
from trainer.storage.answers import Answer


class LearntDays:
    """A move counts as learnt from the day on which it was first found in a drill, unhinted.

    A move that was only shown, hinted at or repeated minutes later has not been recalled yet.
    """

    def __init__(self, answers: Iterable[Answer], days: StudyDays) -> None:
        self._first: dict[tuple[int, str], int] = {}
        for answer in effective(answers):
            if found_unhinted(answer):
                place = (answer.key, answer.move)
                day = days.number(answer.at)
                self._first[place] = min(day, self._first.get(place, day))

    def __call__(self, key: int, move: str, day: date | None) -> bool:
        """Whether the move (UCI) prepared at `key` was learnt before `day`; None: by now."""
        first = self._first.get((key, move))
        if first is None:
            return False
        return day is None or first < day.toordinal()
