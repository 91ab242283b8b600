"""How often each reply was played, kept beside the progress of a repertoire.

It can be counted anew from the games at any time, so a file that is missing or damaged is only
counted anew. Written in one step, as everything that is kept.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final, TypeAlias

from trainer.errors import ProgressError
from trainer.storage.atomic import write_atomically
from trainer.storage.locations import make_directory

VERSION: Final = 2

#: By position key: how many games played each move (UCI) there.
MoveCounts: TypeAlias = Mapping[int, Mapping[str, int]]


@dataclass(frozen=True)
class ReplyCounts:
    """Opponents' replies: in the player's `own` games, and in those of the reference `base`.

    `games` is how many games of the player's were known when they were counted.
    """

    own: MoveCounts = field(default_factory=dict)
    base: MoveCounts = field(default_factory=dict)
    games: int = 0

    def __bool__(self) -> bool:
        return bool(self.own or self.base)


def load_reply_counts(path: Path) -> ReplyCounts:
    """What was kept at `path`; nothing where there is no such file or it cannot be read."""
    try:
        values = json.loads(path.read_bytes())
        if values["version"] != VERSION:
            return ReplyCounts()
        games = int(values.get("games", 0))
        return ReplyCounts(_counts(values["own"]), _counts(values["base"]), max(0, games))
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return ReplyCounts()


def save_reply_counts(path: Path, counts: ReplyCounts) -> None:
    """Keep `counts` at `path`. Raises `ProgressError` where that cannot be done."""
    values = {
        "version": VERSION,
        "own": _plain(counts.own),
        "base": _plain(counts.base),
        "games": counts.games,
    }
    make_directory(path.parent, ProgressError)
    try:
        write_atomically(path, json.dumps(values, separators=(",", ":")).encode())
    except OSError as error:
        raise ProgressError(
            f"The file {path}, which keeps how often replies were played, cannot be written "
            f"({error.strerror or error}); check that the disk has room."
        ) from error


def _counts(values: dict[str, dict[str, Any]]) -> dict[int, dict[str, int]]:
    found: dict[int, dict[str, int]] = {}
    for key, moves in values.items():
        kept = {str(move): int(number) for move, number in moves.items()}
        if any(number < 0 for number in kept.values()):
            raise ValueError("a count below 0")
        found[int(key, 16)] = kept
    return found


def _plain(counts: MoveCounts) -> dict[str, dict[str, int]]:
    return {f"{key:016x}": dict(moves) for key, moves in counts.items()}
