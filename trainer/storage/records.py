"""What the progress file holds besides answers: repertoires, sessions, flags, notes."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

import chess


@dataclass(frozen=True)
class KnownRepertoire:
    """A repertoire file to which there are answers.

    `side` is None and `path` is `Path(".")` where only answers were rescued from a damaged file.
    """

    id: int
    path: Path
    side: chess.Color | None


@dataclass(frozen=True)
class DrillSession:
    """One sitting: when it began, the minutes it was meant to take, and how it ended.

    `ended` is None for a session that goes on, or that was broken off. `summary` is whatever
    was noted at its end (values that JSON can hold).
    """

    id: int
    repertoire_id: int
    started: datetime
    minutes: int
    ended: datetime | None = None
    summary: Mapping[str, object] = field(default_factory=dict, hash=False)


@dataclass(frozen=True)
class Flag:
    """A position that the player marked to look at later."""

    key: int
    note: str
    at: datetime


@dataclass(frozen=True)
class PairNote:
    """What the player wrote on two positions that look alike, by their keys in any order."""

    first: int
    second: int
    note: str
    at: datetime


def place_of(path: Path) -> str | bytes:
    """A path as the database holds it: text, or bytes where the file's name is not UTF-8."""
    text = str(path)
    try:
        text.encode()
    except UnicodeEncodeError:
        return os.fsencode(path)
    return text


def path_at(place: str | bytes) -> Path:
    """The inverse of `place_of`."""
    return Path(os.fsdecode(place))
