"""Where the repertoires of an import are written, and what is never written over."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

import chess

from trainer.repertoire.side import SIDE_NAMES
from trainer.repertoire.workshop.importing import Imported
from trainer.repertoire.writer import save_repertoire


def target_files(path: Path, sides: Iterable[chess.Color]) -> dict[chess.Color, Path]:
    """The file for each side when `path` is named: with two sides, two names made of it."""
    sides = list(sides)
    if len(sides) == 1:
        return {sides[0]: path}
    return {
        side: path.with_name(f"{path.stem}-{SIDE_NAMES[side].lower()}{path.suffix}")
        for side in sides
    }


def refusal(path: Path, games: Sequence[Path], opened: Path | None = None) -> str:
    """Why a file must not be written over, in one sentence, or nothing."""
    if opened is not None and _same(path, opened):
        return (
            f"{path.name} is the repertoire that is open; merge into it, or choose another name."
        )
    if any(_same(path, one) for one in games):
        return f"{path.name} is one of the files of games; choose another name."
    return ""


def save_imported(
    by_side: Mapping[chess.Color, Imported], files: Mapping[chess.Color, Path]
) -> list[Path]:
    """Write each repertoire to its file, the one of most games first. Returns the files.

    A file that was there stays as `<name>.bak`. Raises `RepertoireFileError`.
    """
    order = sorted(by_side, key=lambda side: -by_side[side].report.used)
    for side in order:
        save_repertoire(by_side[side].repertoire, files[side], expected=None)
    return [files[side] for side in order]


def _same(path: Path, other: Path) -> bool:
    try:
        return path.resolve() == other.resolve()
    except OSError:
        return False
