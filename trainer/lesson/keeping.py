"""Moments kept for repetition: a repertoire file for each side, drilled as any other."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import chess

from trainer.errors import RepertoireFileError
from trainer.lesson.moments import Moment, moments_pgn
from trainer.repertoire.reader import read_repertoire
from trainer.storage.atomic import write_atomically
from trainer.storage.locations import make_directory

_NAMES = {chess.WHITE: "moments-white.pgn", chess.BLACK: "moments-black.pgn"}


def keep_moments(folder: Path, moments: Sequence[Moment]) -> list[Path]:
    """Add moments to the files of their sides in `folder`, those already kept left out.

    Returns the files that hold them. Raises `RepertoireFileError` where a file cannot be read or
    written; it is unchanged then.
    """
    make_directory(folder, RepertoireFileError)
    paths = []
    for side, name in _NAMES.items():
        own = [moment for moment in moments if moment.board.turn == side]
        if not own:
            continue
        path = folder / name
        text = ""
        if path.exists():
            known = read_repertoire(path).repertoire
            own = [moment for moment in own if known.node_at(moment.board) is None]
            text = path.read_text(encoding="utf-8").rstrip() + "\n\n"
        added = moments_pgn(own, side)
        if added:
            _write(path, text + added)
        paths.append(path)
    return paths


def _write(path: Path, text: str) -> None:
    try:
        write_atomically(path, text.encode())
    except OSError as error:
        raise RepertoireFileError(
            f"The moments cannot be written to {path} ({error.strerror or error}); "
            "make room or free the file, and keep them again."
        ) from error
