"""Many games held against a repertoire: one walk each, read and looked up in one go."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import chess

from trainer.games.departures import Walk, walk
from trainer.games.players import FoundPlayer, count_names, find_player
from trainer.games.reading import PlayedGame, read_games
from trainer.repertoire.graph import Repertoire
from trainer.repertoire.workshop.games import ImportCancelledError

#: Games that are held against the repertoire between two looks at whether to stop.
_GAMES_PER_LOOK: Final = 200


@dataclass(frozen=True)
class Fault:
    """A game that was read in part or not at all: its file, number and line from 1, why."""

    path: Path
    game: int
    line: int
    reason: str


@dataclass(frozen=True, eq=False)
class Survey:
    """The games of some files. `walks` are those of the player, or all where nobody was named.

    `numbers` are the places of these games among all that were read, from 1. `names` counts the
    spellings of all players, `others` the games in which the player did not take part.
    """

    walks: tuple[Walk, ...]
    numbers: tuple[int, ...]
    names: Counter[str]
    others: int
    player: FoundPlayer | None
    faults: tuple[Fault, ...]


def survey(
    repertoire: Repertoire,
    paths: Sequence[Path],
    player: str = "",
    *,
    progress: Callable[[float], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> Survey:
    """Read the games in `paths` and hold each against the repertoire.

    `player` is the name of the player whose games count; "" takes all, and the player to be the
    one who has the repertoire's side. Raises `RepertoireFileError` where a file cannot be read,
    `UnknownPlayerError`, `AmbiguousNameError`, and `ImportCancelledError`.
    """
    games = list(read_games(paths, progress=progress, cancelled=cancelled))
    return survey_of(repertoire, games, player, cancelled=cancelled)


def survey_of(
    repertoire: Repertoire,
    games: Sequence[PlayedGame],
    player: str = "",
    *,
    cancelled: Callable[[], bool] | None = None,
) -> Survey:
    """As `survey`, of games that were read already."""
    names = count_names((game.white, game.black) for game in games)
    found = find_player(player, names) if player else None
    walks: list[Walk] = []
    numbers: list[int] = []
    for number, game in enumerate(games, start=1):
        if cancelled is not None and number % _GAMES_PER_LOOK == 0 and cancelled():
            raise ImportCancelledError("Looking through the games was cancelled.")
        side = side_of(game, found, repertoire.side)
        if side is not None:
            walks.append(walk(repertoire, game, side, named=found is not None))
            numbers.append(number)
    return Survey(
        walks=tuple(walks),
        numbers=tuple(numbers),
        names=names,
        others=len(games) - len(walks),
        player=found,
        faults=tuple(
            Fault(game.path, game.number, game.fault_line, game.fault)
            for game in games
            if game.fault
        ),
    )


def side_of(game: PlayedGame, player: FoundPlayer | None, side: chess.Color) -> chess.Color | None:
    """The colour of the player in a game, None where he does not play in it."""
    if player is None:
        return side
    if game.name(side) in player:
        return side
    return not side if game.name(not side) in player else None
