"""One answer of the player: the only thing from which memory is computed."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from typing import Final

EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)
_MILLISECOND: Final = timedelta(milliseconds=1)
#: A move in the notation of the Universal Chess Interface protocol.
_UCI: Final = re.compile(r"(?:[a-h][1-8]){2}[nbrq]?", re.ASCII)


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
        for key in (self.key, self.entered_from):
            if key is not None and not 0 <= key < 1 << 64:
                raise ValueError(f"not an unsigned 64-bit key: {key}")
        for move in (self.move, self.played, self.entered_by):
            if move and not _UCI.fullmatch(move):
                raise ValueError(f"not a move in UCI notation: {move!r}")
        if not (math.isfinite(self.seconds) and self.seconds >= 0):
            raise ValueError(f"not a time taken: {self.seconds}")
        if self.hints < 0:
            raise ValueError(f"not a number of hints: {self.hints}")
        if (self.entered_from is None) != (self.entered_by is None):
            raise ValueError("entered_from and entered_by belong together")
        if self.grade is None and self.kind in (AnswerKind.DRILL, AnswerKind.REPEAT):
            raise ValueError(f"an answer of kind {self.kind} needs a grade")
        if (self.retracts is not None) != (self.kind is AnswerKind.RETRACTION):
            raise ValueError("a retraction, and nothing else, says what it retracts")
        if self.at.tzinfo is None:
            raise ValueError("the time of an answer must know its time zone")
        if self.at.tzinfo is not UTC or self.at.microsecond % 1000:
            object.__setattr__(self, "at", from_milliseconds(to_milliseconds(self.at)))
