"""Structures of whole games: how often each occurs, and in which games to look at it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

import chess

from trainer.lesson.structures import Found, StructureBook
from trainer.position import unpack_position
from trainer.repertoire.workshop.games import games_in

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


def structures_of_games(
    paths: Sequence[Path],
    book: StructureBook,
    *,
    wanted: Callable[[str, str], bool] | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> list[GameStructure]:
    """The structures of the games in some files, the most frequent first.

    `wanted` is asked with the names of White and Black whether a game counts. What cannot be read
    of a game is left out, the rest of it counts. Raises `RepertoireFileError` where a file cannot
    be read, and `ImportCancelledError`.
    """
    stood: dict[str, list[tuple[int, GamePlace]]] = {}
    found_by_key: dict[str, Found] = {}
    total = 0
    for path in paths:
        for game in games_in(path, PLIES, any_start=True, cancelled=cancelled):
            names = game.name(chess.WHITE), game.name(chess.BLACK)
            if not game.moves or (wanted is not None and not wanted(*names)):
                continue
            total += 1
            place = GamePlace(path, game.number, " – ".join(name or "?" for name in names))
            lengths = _lengths(unpack_position(game.start[0]), game.moves, book, found_by_key)
            for key, length in lengths.items():
                if length >= _STANDS:
                    stood.setdefault(key, []).append((length, place))
    result = [
        GameStructure(
            found_by_key[key],
            tuple(place for _, place in sorted(places, key=lambda one: -one[0])),
            total,
        )
        for key, places in stood.items()
    ]
    return sorted(result, key=lambda one: (-len(one.games), one.found.name))


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
