"""One answer of the player: the only thing from which memory is computed."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from functools import lru_cache
from typing import Final

EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)
_MILLISECOND: Final = timedelta(milliseconds=1)
#: A move in the notation of the Universal Chess Interface protocol.
_UCI: Final = re.compile(r"(?:[a-h][1-8]){2}[nbrq]?", re.ASCII)
_LARGEST_KEY: Final = (1 << 64) - 1


@lru_cache(maxsize=4096)
def _is_move(text: str | None) -> bool:
    return not text or _UCI.fullmatch(text) is not None


class Grade(StrEnum):
    """How well a prepared move was remembered, by the program's own measure."""

    CLEAN = "clean"
    SLOW = "slow"
    HINTED = "hinted"
    MISSED = "missed"


class AnswerKind(StrEnum):
    """What was asked, or what happened instead of an answer."""

    #: The first answer at this position today. It counts for memory.
    DRILL = "drill"
    #: The same position again in the same session. Not a review of another day.
    REPEAT = "repeat"
    STRANGER_NOTICED = "stranger_noticed"
    STRANGER_UNNOTICED = "stranger_unnoticed"
    #: "Left known lines" where the opponent's move was known.
    FALSE_ALARM = "false_alarm"
    SKIPPED = "skipped"
    #: Played in a game of the player's own.
    GAME = "game"
    #: Takes back an earlier answer (a slip of the mouse).
    RETRACTION = "retraction"


def to_milliseconds(moment: datetime) -> int:
    """Milliseconds since 1970 (UTC), rounded down. `moment` must know its time zone."""
    return (moment - EPOCH) // _MILLISECOND


def from_milliseconds(milliseconds: int) -> datetime:
    """The inverse of `to_milliseconds`, in UTC. Raises `OverflowError` beyond the year 9999."""
    return EPOCH + timedelta(milliseconds=milliseconds)


@dataclass(frozen=True, kw_only=True, slots=True)
class Answer:
    """What the player did at one position.

    `key` is the unsigned 64-bit key of the position and `move` the main prepared move in UCI
    notation ("" for strangers); `played` is what the player moved ("" where he did not).
    `seconds` is the time taken. `entered_from` and `entered_by` are the key of the position
    before and the opponent's move in UCI by which this question was reached. `at` is kept to the
    millisecond and in UTC, so that an answer is the same after it was stored. `id` is 0 until it
    was. `retracts` is the id of the answer that a retraction takes back.

    Raises `ValueError` where a field cannot be meant.
    """

    repertoire_id: int
    key: int
    move: str
    kind: AnswerKind
    at: datetime
    grade: Grade | None = None
    played: str = ""
    seconds: float = 0.0
    session_id: int = 0
    entered_from: int | None = None
    entered_by: str | None = None
    hints: int = 0
    retracts: int | None = None
    id: int = 0

    def __post_init__(self) -> None:
        # Plain statements: a log of years is read at every start, answer by answer.
        if not 0 <= self.key <= _LARGEST_KEY:
            raise ValueError(f"not an unsigned 64-bit key: {self.key}")
        if self.entered_from is not None and not 0 <= self.entered_from <= _LARGEST_KEY:
            raise ValueError(f"not an unsigned 64-bit key: {self.entered_from}")
        if not (_is_move(self.move) and _is_move(self.played) and _is_move(self.entered_by)):
            raise ValueError(
                f"not moves in UCI notation: {self.move!r}, {self.played!r}, {self.entered_by!r}"
            )
        if not 0 <= self.seconds < math.inf:
            raise ValueError(f"not a time taken: {self.seconds}")
        if self.hints < 0:
            raise ValueError(f"not a number of hints: {self.hints}")
        if (self.entered_from is None) != (self.entered_by is None):
            raise ValueError("entered_from and entered_by belong together")
        if self.grade is None and (
            self.kind is AnswerKind.DRILL or self.kind is AnswerKind.REPEAT
        ):
            raise ValueError(f"an answer of kind {self.kind} needs a grade")
        if (self.retracts is not None) != (self.kind is AnswerKind.RETRACTION):
            raise ValueError("a retraction, and nothing else, says what it retracts")
        if self.at.tzinfo is None:
            raise ValueError("the time of an answer must know its time zone")
        if self.at.tzinfo is not UTC or self.at.microsecond % 1000:
            object.__setattr__(self, "at", from_milliseconds(to_milliseconds(self.at)))
