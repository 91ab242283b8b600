"""Novelties: the first move of a game whose position no earlier game of a reference base had.

A novelty is measured against games, a departure against the repertoire; the two have nothing to
do with each other and are never mixed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

import chess

from trainer.games.reading import PlayedGame, read_games
from trainer.games.when import GameWhen
from trainer.position import unpack_position


class MoveFigures(Protocol):
    """What earlier games played in a position: one move, with its results."""

    @property
    def san(self) -> str:
        """The move."""

    @property
    def games(self) -> int:
        """How many games played it; a game counts once."""

    @property
    def white(self) -> int:
        """How many of them White won."""

    @property
    def draws(self) -> int:
        """How many of them were drawn."""

    @property
    def black(self) -> int:
        """How many of them Black won."""

    @property
    def last_year(self) -> int | None:
        """The year of the last of them, None where none is known."""

    @property
    def first_game(self) -> str | None:
        """The stem game in words: the earliest of them."""


class EarlierGames(Protocol):
    """A reference base, asked for what had been played before a game.

    Only games that are certainly earlier than `when` count (`GameWhen.earlier_than`), each once;
    no game is earlier than itself. `key` is the `trainer.position.position_key` of a position.
    """

    @property
    def plies(self) -> int:
        """How many half-moves of each game are held."""

    def visits_before(self, key: int, when: GameWhen) -> int:
        """How many earlier games had the position."""

    def undated(self, key: int) -> int:
        """How many games had the position and have no year, so that they count for nobody."""

    def moves_before(self, key: int, when: GameWhen, board: chess.Board) -> Sequence[MoveFigures]:
        """What earlier games played there, on `board`; the most frequent move first."""


@dataclass(frozen=True, slots=True)
class Novelty:
    """The first move (half-move `ply`, from 1) whose position no earlier game had.

    `earlier_games` is how many earlier games had the position before it.
    """

    ply: int
    move: str
    earlier_games: int


def find_novelty(base: EarlierGames, game: PlayedGame) -> Novelty | None:
    """The novelty of a game against a base.

    None where the year of the game is not known, so that no game is certainly earlier, and where
    earlier games had all of its positions as deep as the base goes.
    """
    if not game.when.known:
        return None
    for ply in range(1, min(game.plies, base.plies) + 1):
        if base.visits_before(game.keys[ply], game.when) == 0:
            before = base.visits_before(game.keys[ply - 1], game.when)
            return Novelty(ply, game.moves()[ply - 1], before)
    return None


def novelty_in(base: EarlierGames, path: Path, number: int) -> Novelty | None:
    """What was new in game `number` of a file; None too where it has no such game.

    Raises the `StemlineError` of a file that cannot be read.
    """
    for game in read_games([path]):
        if game.number == number:
            return find_novelty(base, game)
    return None


@dataclass(frozen=True)
class NoveltyFound:
    """A novelty with what was played instead: `alternatives` are the moves of earlier games.

    `novelty` is None where there is none; `dated` tells whether the year of the game is known.
    `undated` is how many games with the position before the novelty have no year.
    """

    game: PlayedGame
    novelty: Novelty | None
    dated: bool
    alternatives: tuple[MoveFigures, ...] = ()
    undated: int = 0


def look_for_novelty(base: EarlierGames, game: PlayedGame) -> NoveltyFound:
    """The novelty of a game, and what earlier games played in its place."""
    novelty = find_novelty(base, game)
    if novelty is None:
        return NoveltyFound(game, None, game.when.known)
    key = game.keys[novelty.ply - 1]
    board = unpack_position(game.packed_at(novelty.ply - 1))
    return NoveltyFound(
        game,
        novelty,
        dated=True,
        alternatives=tuple(base.moves_before(key, game.when, board)),
        undated=base.undated(key),
    )
