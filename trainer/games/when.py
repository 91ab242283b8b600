"""When a game was played, and which of two games is earlier.

The tags are those of the PGN Standard (Edwards, 1994): `Date` (8.1.1.3, unknown parts written as
question marks), `Round` (8.1.1.4), `UTCDate`, `UTCTime` and `Time` (9.3). What is not known is
never guessed: of two games one is *earlier* only where that is certain.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from hashlib import blake2b
from typing import Final, TypeAlias

import chess

#: Which game it is, whatever file it stands in: see `game_identity`.
GameIdentity: TypeAlias = int

#: The half-moves that an identity rests on: what a base of openings resolves in any case.
IDENTITY_PLIES: Final = 20

_DATE: Final = re.compile(r"\s*(\d{4}|\?+)(?:[.\-/](\d{1,2}|\?+)(?:[.\-/](\d{1,2}|\?+))?)?\s*")
_TIME: Final = re.compile(r"\s*(\d{1,2}):(\d{2})(?::(\d{2}))?")
_DAYS: Final = (31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)


@dataclass(frozen=True, slots=True)
class GameWhen:
    """When a game was played, as far as its tags tell.

    `year` is 0 where it is not known, then `month` and `day` are 0 too; `month` 0 makes `day` 0.
    `seconds` is the time of day at which it began (UTC where the tags say so), -1 unknown.
    `order` is the first number of its round, 0 unknown: it breaks ties between games of one day
    when the first of several is wanted, and never makes a game an earlier one.
    """

    year: int = 0
    month: int = 0
    day: int = 0
    seconds: int = -1
    order: int = 0

    @classmethod
    def of(cls, tags: Mapping[str, str]) -> GameWhen:
        """What the tags of a game tell."""
        year, month, day = _date_parts(tags.get("UTCDate", ""))
        if not year:
            year, month, day = _date_parts(tags.get("Date", ""))
        seconds = _seconds(tags.get("UTCTime", "")) if day else -1
        if day and seconds < 0:
            seconds = _seconds(tags.get("Time", ""))
        number = re.match(r"\s*(\d{1,6})", tags.get("Round", ""))
        return cls(year, month, day, seconds, int(number[1]) if number else 0)

    @property
    def known(self) -> bool:
        """Whether at least the year is known."""
        return self.year > 0

    @property
    def date(self) -> date | None:
        """The day, where all of it is known."""
        return date(self.year, self.month, self.day) if self.day else None

    @property
    def first(self) -> tuple[int, int, int]:
        """The earliest day that the tags allow; (0, 0, 0) where nothing is known."""
        return (
            self.year,
            max(1, self.month) if self.year else 0,
            max(1, self.day) * bool(self.year),
        )

    @property
    def last(self) -> tuple[int, int, int]:
        """The latest day that the tags allow; in the year 9999 where nothing is known."""
        return self.year or 9999, self.month or 12, self.day or 31

    def earlier_than(self, other: GameWhen) -> bool:
        """Whether this game was certainly begun before `other`.

        On one and the same day only where both times are known. A game without a year is earlier
        than none, and none is earlier than it.
        """
        if not self.year or not other.year:
            return False
        if self.last < other.first:
            return True
        if not self.day or self.last != other.last or other.first != other.last:
            return False
        return 0 <= self.seconds < other.seconds

    @property
    def sort_key(self) -> tuple[int, int, int, int, int]:
        """Puts games in their order in time; what is unknown comes last among its equals."""
        seconds = self.seconds if self.seconds >= 0 else 86_400
        return self.year or 9999, self.month or 13, self.day or 32, seconds, self.order


def game_identity(
    white: str, black: str, when: GameWhen, moves: list[chess.Move] | tuple[chess.Move, ...]
) -> GameIdentity:
    """64 bits that are the same for the same game in whatever file it stands.

    Players (case and spacing left aside), date, time and round, and the first `IDENTITY_PLIES`
    half-moves tell games apart. Only those of `moves` count, so more may be given.
    """
    words = [" ".join(white.casefold().split()), " ".join(black.casefold().split())]
    words.append(f"{when.year}.{when.month}.{when.day} {when.seconds} {when.order}")
    words += [move.uci() for move in moves[:IDENTITY_PLIES]]
    digest = blake2b("\n".join(words).encode("utf-8", "replace"), digest_size=8)
    return int.from_bytes(digest.digest(), "big")


def _date_parts(text: str) -> tuple[int, int, int]:
    """Year, month and day; 0 for each that is not known or that cannot be one."""
    found = _DATE.fullmatch(text)
    if found is None or not found[1].isdecimal():
        return 0, 0, 0
    year = int(found[1])
    month = int(found[2]) if found[2] and found[2].isdecimal() else 0
    day = int(found[3]) if found[3] and found[3].isdecimal() else 0
    if not year or not 1 <= month <= 12:
        return year, 0, 0
    if not 1 <= day <= _DAYS[month - 1]:
        return year, month, 0
    if (month, day) == (2, 29) and (year % 4 or (year % 100 == 0 and year % 400)):
        return year, month, 0
    return year, month, day


def _seconds(text: str) -> int:
    found = _TIME.match(text)
    if found is None:
        return -1
    hours, minutes, seconds = int(found[1]), int(found[2]), int(found[3] or 0)
    return hours * 3600 + minutes * 60 + seconds if hours < 24 and minutes < 60 > seconds else -1
