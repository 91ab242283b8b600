"""The games of some files, read once and kept while the player tries out what to take of them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Final

import chess

from trainer.repertoire.workshop.games import Game, games_in
from trainer.repertoire.workshop.text import clean_text

#: Games of more files than this many are read anew each time: they would fill the memory.
MOST_KEPT: Final = 40_000

Progress = Callable[[float], None]


class KeptGames:
    """The games of files, in their order; the files are taken to stay as they are."""

    def __init__(self, paths: Sequence[Path], *, most: int = MOST_KEPT) -> None:
        self.paths = tuple(paths)
        self._most = most
        self._plies = -1
        self._kept: list[tuple[Path, Game]] | None = None

    def games(
        self,
        plies: int,
        *,
        progress: Progress | None = None,
        cancelled: Callable[[], bool] | None = None,
    ) -> Iterator[tuple[Path, Game]]:
        """Each game with its file, its first `plies` half-moves or more.

        Raises `RepertoireFileError` where a file cannot be read, and `ImportCancelledError`.
        """
        if self._kept is not None and plies <= self._plies:
            yield from self._kept
            return
        kept: list[tuple[Path, Game]] | None = []
        for number, path in enumerate(self.paths):
            part = None if progress is None else _part(progress, number, len(self.paths))
            for game in games_in(path, plies, progress=part, cancelled=cancelled):
                if kept is not None:
                    kept.append((path, game))
                    if len(kept) > self._most:
                        kept = None
                yield path, game
        self._kept, self._plies = kept, plies

    def players(
        self,
        plies: int = 0,
        *,
        progress: Progress | None = None,
        cancelled: Callable[[], bool] | None = None,
    ) -> list[tuple[str, int, int]]:
        """The players named with their games as White and as Black, the most games first.

        With `plies` the games are kept for what asks for so many next. Raises as `games` does.
        """
        counts: dict[str, list[int]] = {}
        names: dict[str, str] = {}
        for _path, game in self.games(plies, progress=progress, cancelled=cancelled):
            for number, side in enumerate((chess.WHITE, chess.BLACK)):
                name = game.name(side)
                if name:
                    same = folded_name(name)
                    names.setdefault(same, clean_text(name))
                    counts.setdefault(same, [0, 0])[number] += 1
        found = [(names[same], white, black) for same, (white, black) in counts.items()]
        return sorted(found, key=lambda one: (-one[1] - one[2], one[0]))


def folded_name(name: str) -> str:
    """A name as it is compared: without capitals, commas and doubled spaces."""
    return " ".join(name.casefold().replace(",", " ").split())


def _part(progress: Progress, number: int, count: int) -> Progress:
    return lambda share: progress((number + share) / count)
