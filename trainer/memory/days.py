"""Days of study.

The memory model counts whole days. Counted as 24 hours from one answer to the next, a player who
drills every morning would find yesterday's answers "0 days old" whenever he is a minute early;
so the days counted here are the player's own: they change at four in the morning of his time
zone, when a late evening is over and an early morning has not begun.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from typing import Final

#: Local time at which a day of study begins (common practice, no source).
DAY_BEGINS = timedelta(hours=4)

_MONTHS: Final = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)


@dataclass(frozen=True)
class StudyDays:
    """The player's calendar: his time zone, and when his day begins."""

    zone: tzinfo = UTC
    begins: timedelta = DAY_BEGINS

    def number(self, moment: datetime) -> int:
        """The day of `moment` (which must know its time zone), counted as `date.toordinal`."""
        # Taken off the wall clock, so that a change to or from summer time moves no day.
        local = moment.astimezone(self.zone).replace(tzinfo=None)
        return (local - self.begins).toordinal()

    def date(self, number: int) -> date:
        """The calendar date of a day."""
        return date.fromordinal(number)

    def moment(self, number: int) -> datetime:
        """Midnight UTC of a day: how a day is told to the memory model."""
        return datetime.combine(self.date(number), time(0), UTC)


def month_name(month: int) -> str:
    """The name of a month, from 1, whatever language the system is set to."""
    return _MONTHS[month - 1]


def day_and_month(day: date) -> str:
    """`21 February`, whatever language the system is set to (Qt sets `strftime`'s)."""
    return f"{day.day} {_MONTHS[day.month - 1]}"
