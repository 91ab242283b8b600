"""File names that a player typed without an ending."""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path

from trainer.errors import StemlineError


class NameTakenError(StemlineError):
    """The name with its ending is that of a file which the player was not asked about."""


def with_ending(name: str, ending: str, known: Collection[str] = ()) -> Path:
    """The path of a typed name, with `ending` where it has none of the `known` ones.

    Without `known`, any ending will do. The file dialog asks before a file is written over, but
    only for the name as it was typed. Raises `NameTakenError` where the completed one exists.
    """
    path = Path(name)
    if path.suffix.lower() in known if known else path.suffix:
        return path
    completed = path.with_name(f"{path.name}{ending}")
    if completed.exists():
        raise NameTakenError(
            f"There is a file {completed.name} already; type its whole name to write over it."
        )
    return completed
