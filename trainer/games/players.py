"""Whose games they are: finding a player by name, in whatever spelling.

Names in PGN are "Surname, First" (PGN Standard, 8.1.1.5), but files hold "First Surname",
initials, other cases and lost accents as well. A spelling is never guessed at where two people
could be meant: then the caller is told both.
"""

from __future__ import annotations

import re
import unicodedata
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from trainer.errors import UsageError
from trainer.notation.display import sentence_list

_NAMED_AT_MOST = 6


@dataclass(frozen=True)
class FoundPlayer:
    """The spellings that mean one player, and those that could mean him or somebody else."""

    spellings: frozenset[str]
    unclear: tuple[str, ...] = ()

    def __contains__(self, name: str) -> bool:
        return name in self.spellings


class AmbiguousNameError(UsageError):
    """A name that two or more players share; `choices` are their spellings."""

    def __init__(self, wanted: str, choices: list[str]) -> None:
        shown = sentence_list(f"“{name}”" for name in choices[:_NAMED_AT_MOST])
        super().__init__(
            f"“{wanted}” could be {shown}; give the whole name of the player as one of them."
        )
        self.choices = choices


class UnknownPlayerError(UsageError):
    """A name that no player of the games has."""

    def __init__(self, wanted: str, names: Counter[str]) -> None:
        most = sentence_list(f"“{name}”" for name, _ in names.most_common(3))
        hint = f"; most games there are by {most}" if most else ""
        super().__init__(f"No game has a player “{wanted}”{hint}.")


def count_names(pairs: Iterable[tuple[str, str]]) -> Counter[str]:
    """How many games each spelling has; of pairs of White and Black, "" where unknown."""
    names: Counter[str] = Counter()
    for pair in pairs:
        names.update(name for name in dict.fromkeys(pair) if name)
    return names


def find_player(wanted: str, names: Counter[str]) -> FoundPlayer:
    """The spellings among `names` that mean the player `wanted`.

    Raises `UnknownPlayerError`, and `AmbiguousNameError` where two people could be meant.
    """
    readings = {name: _readings(name) for name in names}
    asked = _readings(wanted)
    fitting = [name for name in names if _fit(asked, readings[name])]
    if not fitting:
        raise UnknownPlayerError(wanted, names)
    # Whole names that say different things are different people, however alike they look.
    fullest = [
        name
        for name in fitting
        if not any(_says_more(readings[other], readings[name]) for other in fitting)
    ]
    own = [name for name in fullest if _folded(name) == _folded(wanted)] or [
        name for name in fullest if set(asked) & set(readings[name])
    ]
    people = own or fullest
    first = readings[people[0]]
    others = [name for name in people[1:] if not _fit(first, readings[name])]
    if others:
        raise AmbiguousNameError(wanted, sorted([people[0], *others]))
    mine = [name for name in fitting if all(_fit(readings[name], readings[p]) for p in people)]
    strangers = [
        name for name in names if not (_fit(asked, readings[name]) and _fit(first, readings[name]))
    ]
    unclear = {
        name: [other for other in strangers if _fit(readings[name], readings[other])]
        for name in mine
        if _folded(name) != _folded(wanted)
    }
    spellings = frozenset(name for name in mine if not unclear.get(name))
    if not spellings:
        meant = set(mine) | {other for name in mine for other in unclear[name]}
        raise AmbiguousNameError(wanted, sorted(meant))
    return FoundPlayer(spellings, tuple(sorted(set(mine) - spellings)))


#: One way to read a name: the surname's words, and the first names or their initials.
_Reading = tuple[tuple[str, ...], tuple[str, ...]]


def _folded(name: str) -> str:
    plain = unicodedata.normalize("NFKD", name.casefold())
    plain = "".join(mark for mark in plain if not unicodedata.combining(mark))
    return " ".join(re.sub(r"[^\w,'’-]+", " ", plain.replace(".", " ")).split())


def _readings(name: str) -> tuple[_Reading, ...]:
    """How a name may be meant; without a comma the surname may stand last or first."""
    folded = _folded(name)
    surname, comma, first = folded.partition(",")
    if comma:
        return ((tuple(surname.split()), tuple(first.replace(",", " ").split())),)
    words = folded.split()
    if len(words) < 2:
        return ((tuple(words), ()),)
    found = []
    for size in range(1, len(words)):
        found.append((tuple(words[-size:]), tuple(words[:-size])))
        found.append((tuple(words[:size]), tuple(words[size:])))
    return tuple(dict.fromkeys(found))


def _fit(one: tuple[_Reading, ...], other: tuple[_Reading, ...]) -> bool:
    """Whether two names may mean one person: initials stand for names, missing ones for any."""
    return any(a[0] == b[0] and all(map(_same_first_name, a[1], b[1])) for a in one for b in other)


def _same_first_name(one: str, other: str) -> bool:
    return one == other or (one[0] == other[0] and 1 in (len(one), len(other)))


def _says_more(one: tuple[_Reading, ...], other: tuple[_Reading, ...]) -> bool:
    """Whether `one` fits `other` and gives more letters of the first names."""

    def letters(readings: tuple[_Reading, ...]) -> int:
        return max(sum(map(len, first)) for _, first in readings)

    return _fit(one, other) and letters(one) > letters(other)
