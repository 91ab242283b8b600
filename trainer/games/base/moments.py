"""When a game was played, as one number that sorts and that a database can compare.

The rules are those of `trainer.games.when`: what is not known sorts after all that is, and makes a
game earlier than none. The number has the year, month, day, second of the day and the round.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt

from trainer.games.when import GameWhen

_ORDER_BITS, _SECOND_BITS, _DAY_BITS, _MONTH_BITS = 10, 17, 6, 4
_UNKNOWN_YEAR: Final = 9999
#: From this moment on the year of a game is not known.
UNDATED: Final = _UNKNOWN_YEAR << _MONTH_BITS + _DAY_BITS + _SECOND_BITS + _ORDER_BITS


def moment_of(tags: Mapping[str, str]) -> int:
    """The moment of a game with these tags."""
    get = tags.get
    return _moment(
        get("UTCDate", ""), get("Date", ""), get("UTCTime", ""), get("Time", ""), get("Round", "")
    )


@lru_cache(maxsize=1 << 15)
def _moment(utc_date: str, date: str, utc_time: str, time: str, number: str) -> int:
    when = GameWhen.of(
        {"UTCDate": utc_date, "Date": date, "UTCTime": utc_time, "Time": time, "Round": number}
    )
    return moment(when)


def moment(when: GameWhen) -> int:
    """The moment of a game, for sorting."""
    year, month, day, seconds, order = when.sort_key
    return _joined(year, month, day, seconds, min(order, (1 << _ORDER_BITS) - 1))


def limit(when: GameWhen) -> int:
    """Games whose moment is below this are certainly earlier than `when`; 0 where none is."""
    if not when.known:
        return 0
    return _joined(*when.first, max(0, when.seconds) if when.day else 0, 0)


def year(moment: int) -> int:
    """The year, 0 where it is not known."""
    found = moment >> _MONTH_BITS + _DAY_BITS + _SECOND_BITS + _ORDER_BITS
    return 0 if found >= _UNKNOWN_YEAR else found


def years(moment: npt.NDArray[np.int64]) -> npt.NDArray[np.uint16]:
    """The years, 0 where they are not known."""
    found = (moment >> _MONTH_BITS + _DAY_BITS + _SECOND_BITS + _ORDER_BITS).astype(np.uint16)
    found[found >= _UNKNOWN_YEAR] = 0
    return found


def date_text(moment: int) -> str:
    """The date as PGN writes it, such as `2024.05.??`."""
    day = moment >> _SECOND_BITS + _ORDER_BITS
    month = day >> _DAY_BITS
    found, month, day = year(moment), month & 15, day & 63
    if not found:
        return "????.??.??"
    return (
        f"{found:04}.{f'{month:02}' if month <= 12 else '??'}.{f'{day:02}' if day <= 31 else '??'}"
    )


def _joined(year: int, month: int, day: int, seconds: int, order: int) -> int:
    value = (year << _MONTH_BITS | month) << _DAY_BITS | day
    return (value << _SECOND_BITS | seconds) << _ORDER_BITS | order
