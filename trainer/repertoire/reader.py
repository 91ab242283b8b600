"""Reading a repertoire from PGN: all games and variations of a file, merged to one graph.

Nothing is lost silently: what cannot be read is reported with its game, its line and the reason,
and takes with it only what hangs on it.
"""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Final

import chess

from trainer.errors import StemlineError
from trainer.notation.tokens import Token, tokens
from trainer.repertoire.files import FileFingerprint, decode, read_bytes
from trainer.repertoire.game_reader import FileReader
from trainer.repertoire.graph import Repertoire
from trainer.repertoire.report import Skipped

if TYPE_CHECKING:
    from trainer.repertoire.moves_ahead import MovesAhead, WordTree

#: Tokens between two looks at `cancelled`: a few milliseconds of work.
_TOKENS_PER_LOOK: Final = 512
#: From so many characters on the moves of a text are resolved ahead.
_LARGE: Final = 100_000
#: What share of the work that is.
_AHEAD: Final = 0.5


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
        loaded = _read(text, side, _Watch(progress, cancelled), _LARGE)
    if progress is not None:
        progress(1.0)
    return loaded


class _Watch:
    """Asks now and then whether to stop, and says how far reading is."""

    def __init__(
        self, progress: Callable[[float], None] | None, cancelled: Callable[[], bool] | None
    ) -> None:
        self._progress = progress
        self._cancelled = cancelled

    def at(self, share: float) -> None:
        """Raises `ReadingCancelledError` where the caller asked to stop."""
        if self._cancelled is not None and self._cancelled():
            raise ReadingCancelledError("Reading the repertoire was cancelled.")
        if self._progress is not None:
            self._progress(share)

    def over(
        self, found: Iterator[Token], length: int, begin: float, end: float
    ) -> Iterator[list[Token]]:
        """The tokens of a text of this length, some at a time, while the share goes on."""
        while some := list(islice(found, _TOKENS_PER_LOOK)):
            yield some
            self.at(begin + (end - begin) * some[-1][2] / length)


def _read(text: str, side: chess.Color | None, watch: _Watch, large: int) -> LoadedRepertoire:
    ahead: MovesAhead | None = None
    found, begin = tokens(text), 0.0
    if len(text) >= large:
        tree = _look_ahead(text, watch)
        ahead, found, begin = tree.ahead, tree.tokens(), _AHEAD
    reader = FileReader(text, ahead)
    handlers = reader.handlers
    for some in watch.over(found, len(text), begin, 1.0):
        for kind, word, offset in some:
            handlers[kind](word, offset)
    repertoire, side_guessed = reader.finish(side)
    skipped = sorted(reader.skipped, key=lambda entry: (entry.game, entry.line))
    return LoadedRepertoire(repertoire, skipped, side_guessed)


def _look_ahead(text: str, watch: _Watch) -> WordTree:
    """The tokens of a large text, with their moves resolved."""
    # Most files are small and need no numpy, which takes a tenth of a second to import.
    from trainer.repertoire.moves_ahead import WordTree

    tree = WordTree()
    for some in watch.over(tokens(text), len(text), 0.0, _AHEAD / 2):
        tree.take(some)
    for share in tree.resolve():
        watch.at(_AHEAD / 2 * (1 + share))
    return tree


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
