"""Structures of whole games: how often each occurs, and in which games to look at it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import chess

from trainer.lesson.structures import Found, StructureBook
from trainer.position import unpack_position
from trainer.repertoire.workshop.games import Game, games_in

#: Half-moves of a game that are looked at: later there are seldom enough pawns for a name.
PLIES = 80
#: Half-moves that a structure must stand in a game to be counted: less is a stage on the way.
_STANDS = 4


@dataclass(frozen=True)
class GamePlace:
    """Where a game stands: its file, its number there from 1, and its players."""

    path: Path
    number: int
    players: str


@dataclass(frozen=True)
class GameStructure:
    """A structure in `games` of `total` games, the ones in which it stood longest first."""

    found: Found
    games: tuple[GamePlace, ...]
    total: int


class GameCounter:
    """Counts the structures of games, one game after the other."""

    def __init__(
        self, book: StructureBook, wanted: Callable[[str, str], bool] | None = None
    ) -> None:
        """`wanted` is asked with the names of White and Black whether a game counts."""
        self._book = book
        self._wanted = wanted
        self._stood: dict[str, list[tuple[int, GamePlace]]] = {}
        self._found: dict[str, Found] = {}
        self._total = 0

    def take(self, path: Path, game: Game) -> None:
        """Count a game; what could not be read of it is left out, the rest counts."""
        names = game.name(chess.WHITE), game.name(chess.BLACK)
        if not game.moves or (self._wanted is not None and not self._wanted(*names)):
            return
        self._total += 1
        place = GamePlace(path, game.number, " – ".join(name or "?" for name in names))
        start = unpack_position(game.start[0])
        for key, length in _lengths(start, game.moves, self._book, self._found).items():
            if length >= _STANDS:
                self._stood.setdefault(key, []).append((length, place))

    def result(self) -> list[GameStructure]:
        """The structures of the games so far, the most frequent first."""
        found = [
            GameStructure(
                self._found[key],
                tuple(place for _, place in sorted(places, key=lambda one: -one[0])),
                self._total,
            )
            for key, places in self._stood.items()
        ]
        return sorted(found, key=lambda one: (-len(one.games), one.found.name))


def games_of(paths: Sequence[Path]) -> Iterator[tuple[Path, Game]]:
    """The games of some files, as far as structures are looked for.

    Raises `RepertoireFileError` where a file cannot be read.
    """
    for path in paths:
        for game in games_in(path, PLIES, any_start=True):
            yield path, game


def structures_of_games(paths: Sequence[Path], book: StructureBook) -> list[GameStructure]:
    """The structures of all games in some files. Raises `RepertoireFileError`."""
    counter = GameCounter(book)
    for path, game in games_of(paths):
        counter.take(path, game)
    return counter.result()


def _lengths(
    board: chess.Board,
    moves: Iterable[tuple[chess.Move, str, int]],
    book: StructureBook,
    found_by_key: dict[str, Found],
) -> dict[str, int]:
    """How many positions of a game have each structure."""
    lengths: dict[str, int] = {}
    for move, _, _ in moves:
        board.push(move)
        for one in book.find(board):
            found_by_key[one.key] = one
            lengths[one.key] = lengths.get(one.key, 0) + 1
    return lengths
