"""Reading a repertoire from PGN: all games and variations of a file, merged to one graph.

Nothing is lost silently: what cannot be read is reported with its game, its line and the reason,
and takes with it only what hangs on it.
"""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import chess

from trainer.errors import StemlineError
from trainer.notation.tokens import MOVE, tokens
from trainer.repertoire.files import FileFingerprint, decode, read_bytes
from trainer.repertoire.game_reader import FileReader
from trainer.repertoire.graph import Repertoire
from trainer.repertoire.report import Skipped

#: Tokens between two looks at `cancelled`: a few milliseconds of work.
_TOKENS_PER_LOOK: Final = 512


class ReadingCancelledError(StemlineError):
    """The caller asked to stop; nothing was read."""


@dataclass(frozen=True)
class LoadedRepertoire:
    """A repertoire and what is known about the file it came from.

    `skipped` is in the order of the file; `side_guessed` tells that no tag named the side;
    `fingerprint` is None where the text did not come from a file.
    """

    repertoire: Repertoire
    skipped: list[Skipped]
    side_guessed: bool
    fingerprint: FileFingerprint | None = None
    encoding: str = "utf-8"
    newline: str = "\n"
    path: Path | None = None


def read_repertoire(
    path: Path,
    *,
    side: chess.Color | None = None,
    progress: Callable[[float], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> LoadedRepertoire:
    """The repertoire in the file at `path`. A file without games gives an empty one.

    `side` is whose repertoire it is, whatever the file says. `progress` is called with the share
    of the file that was read, 0 to 1; `cancelled` is asked every few milliseconds.

    Raises `RepertoireFileError` where the file is missing, unreadable or no text, and
    `ReadingCancelledError` where `cancelled` said so.
    """
    data, fingerprint = read_bytes(path)
    decoded = decode(data, str(path))
    del data
    loaded = read_repertoire_text(decoded.text, side=side, progress=progress, cancelled=cancelled)
    return LoadedRepertoire(
        loaded.repertoire,
        loaded.skipped,
        loaded.side_guessed,
        fingerprint,
        decoded.encoding,
        decoded.newline,
        path,
    )


def read_repertoire_text(
    text: str,
    *,
    side: chess.Color | None = None,
    progress: Callable[[float], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> LoadedRepertoire:
    """As `read_repertoire`, from PGN text."""
    text = text.removeprefix("\ufeff")
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    with _no_garbage_collection():
        loaded = _read(text, side, progress, cancelled)
    if progress is not None:
        progress(1.0)
    return loaded


def _read(
    text: str,
    side: chess.Color | None,
    progress: Callable[[float], None] | None,
    cancelled: Callable[[], bool] | None,
) -> LoadedRepertoire:
    reader = FileReader(text)
    handlers = reader.handlers
    left = _TOKENS_PER_LOOK
    move = handlers[MOVE]
    for kind, word, offset in tokens(text):
        if kind == MOVE:
            move(word, offset)
        else:
            handlers[kind](word, offset)
        left -= 1
        if not left:
            left = _TOKENS_PER_LOOK
            if cancelled is not None and cancelled():
                raise ReadingCancelledError("Reading the repertoire was cancelled.")
            if progress is not None:
                progress(offset / len(text))
    repertoire, side_guessed = reader.finish(side)
    skipped = sorted(reader.skipped, key=lambda entry: (entry.game, entry.line))
    return LoadedRepertoire(repertoire, skipped, side_guessed)


@contextmanager
def _no_garbage_collection() -> Iterator[None]:
    """Loading makes hundreds of thousands of objects and no garbage cycles worth looking for.

    Afterwards all objects count as old, so that the next small collection does not walk them.
    """
    was_enabled = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_enabled:
            gc.freeze()
            gc.unfreeze()
            gc.enable()
