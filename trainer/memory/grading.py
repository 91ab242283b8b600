"""From what was played, and how long it took, to a grade and to the model's rating.

The player never grades himself: one who sees the solution judges himself by it. The program
knows whether the prepared move was played, with how many hints, and after how many seconds.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from itertools import islice
from statistics import median
from typing import Final

from fsrs import Rating

from trainer.storage.answers import Answer, AnswerKind, Grade

#: An answer in less time than this is never slow, in seconds.
SLOW_FLOOR: Final = 6.0
#: An answer is slow when it takes this many times the player's median time.
SLOW_FACTOR: Final = 2.0
#: How many of the player's last answers make up his typical time.
TYPICAL_ANSWERS: Final = 50
#: With fewer answers than this his typical time is not known yet, and only the floor counts.
FEWEST_ANSWERS: Final = 5

#: The model's rating of each grade.
#:
#: - Clean is Good: recalled at the player's usual pace.
#: - Slow is Hard: recalled, with effort.
#: - Hinted is Again, not Hard: the model's Hard is a success, and it was fitted on reviews
#:   recalled without help. A move that came only after the program had shown the piece was not
#:   recalled, and no game offers a hint.
#: - Missed is Again.
#:
#: Easy is never given. The model fits it to a player's own claim that a review cost nothing, and
#: a quick move proves no such thing: it is as often a forced recapture or a pattern shared by
#: many positions as a memory of this one. Easy also lengthens the interval for good, so a wrong
#: one costs more than a missed chance to give it.
RATINGS: Final = {
    Grade.CLEAN: Rating.Good,
    Grade.SLOW: Rating.Hard,
    Grade.HINTED: Rating.Again,
    Grade.MISSED: Rating.Again,
}

#: The kinds of answers that are reviews in the sense of the model.
REVIEWS: Final = frozenset({AnswerKind.DRILL, AnswerKind.GAME})


def effective(answers: Iterable[Answer]) -> list[Answer]:
    """The answers that stand: without retractions and what they took back."""
    answers = list(answers)
    retracted = {answer.retracts for answer in answers if answer.kind is AnswerKind.RETRACTION}
    return [
        answer
        for answer in answers
        if answer.kind is not AnswerKind.RETRACTION and not (answer.id and answer.id in retracted)
    ]


def found_unhinted(answer: Answer) -> bool:
    """Whether the move was found in a drill, without a hint.

    Not in games (other clocks), and not when it came back (just shown).
    """
    return answer.kind is AnswerKind.DRILL and answer.grade in (Grade.CLEAN, Grade.SLOW)


class Pace:
    """The player's typical time, over his last answers that were right without a hint."""

    def __init__(self, answers: Iterable[Answer] = ()) -> None:
        self._seconds: deque[float] = deque(maxlen=TYPICAL_ANSWERS)
        for answer in answers:
            self.add(answer)

    @classmethod
    def lately(cls, answers: list[Answer]) -> Pace:
        """The pace after a long log (in order of time), without walking through all of it."""
        counted = (answer for answer in reversed(answers) if found_unhinted(answer))
        return cls(reversed(list(islice(counted, TYPICAL_ANSWERS))))

    def add(self, answer: Answer) -> None:
        """Count an answer, if it is of a kind that tells a typical time."""
        if found_unhinted(answer):
            self._seconds.append(answer.seconds)

    @property
    def slow_after(self) -> float:
        """An answer that takes more seconds than this is slow."""
        if len(self._seconds) < FEWEST_ANSWERS:
            return SLOW_FLOOR
        return max(SLOW_FLOOR, SLOW_FACTOR * median(self._seconds))

    def grade(self, seconds: float, hints: int = 0) -> Grade:
        """The grade of a right move played after `seconds`, with `hints` asked for."""
        if hints:
            return Grade.HINTED
        return Grade.SLOW if seconds > self.slow_after else Grade.CLEAN
