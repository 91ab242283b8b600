"""Decisions that were forgotten in the player's own games, as answers in the log.

A game is the examination that the drill prepares for, so a prepared move that had been learnt and
was not played there is an answer of the kind `GAME`, graded *missed*: no hint was given, the
clock of a game says nothing about slowness, and playing something else is what missing means. A
right move in a game is not counted: it was not asked for, and is as often found as remembered.

The same game is never counted twice, in whatever file it stands and however often it is read. For
that the time of such an answer is made of the game itself: its day, and a moment of that day that
its identity decides. A slip that was taken back stays in the log with its retraction, so it is
not counted again by itself either.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Final

from trainer.storage.answers import Answer, AnswerKind, Grade

#: An hour of UTC that belongs to the same day of study from 10 hours west to 12 hours east.
_HOUR: Final = time(14)
#: Two hours in milliseconds, for telling games of a day apart.
_MOMENTS: Final = 2 * 3600 * 1000


@dataclass(frozen=True, slots=True)
class GameSlip:
    """A learnt decision that was not played: position, main move and played move in UCI.

    `day` is the day of the game and `identity` 64 bits that are the game's own.
    """

    key: int
    move: str
    played: str
    day: date
    identity: int

    @property
    def at(self) -> datetime:
        """The time that stands for this game."""
        moment = timedelta(milliseconds=self.identity % _MOMENTS)
        return datetime.combine(self.day, _HOUR, UTC) + moment


def slips_to_count(
    slips: Iterable[GameSlip],
    log: Iterable[Answer],
    repertoire_id: int,
    now: datetime,
) -> list[Answer]:
    """The answers that are missing in a log for these slips, each once, in order of time.

    `log` must hold the answers that were taken back, too. Games with a day in the future are
    left alone: their date is wrong.
    """
    counted = {(answer.key, answer.at) for answer in log if answer.kind is AnswerKind.GAME}
    found: list[Answer] = []
    for slip in sorted(slips, key=lambda one: one.at):
        if (slip.key, slip.at) in counted or slip.at > now:
            continue
        counted.add((slip.key, slip.at))
        found.append(
            Answer(
                repertoire_id=repertoire_id,
                key=slip.key,
                move=slip.move,
                kind=AnswerKind.GAME,
                at=slip.at,
                grade=Grade.MISSED,
                played=slip.played,
            )
        )
    return found


def in_order_of_time(log: Sequence[Answer]) -> Sequence[Answer]:
    """A log as memory went through it: games are read into it later than they were played.

    A log without games stays as it was recorded, whatever clocks were set back.
    """
    if not any(answer.kind is AnswerKind.GAME for answer in log):
        return log
    return sorted(log, key=lambda answer: answer.at)
