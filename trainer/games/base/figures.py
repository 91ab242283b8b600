"""What a reference base answers."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

import chess

# A look-up makes one of these for each move; named tuples are made several times as fast as
# frozen dataclasses.


class MoveTotals(NamedTuple):
    """What is known of one move in one position; each game counts once.

    `move` is None for games that went no further there. `mean_rating` is the mean of all ratings
    that are known of both players, None without one; `last_year` None where no year is known.
    `first` is the number of the stem game.
    """

    move: chess.Move | None
    games: int
    white: int
    draws: int
    black: int
    mean_rating: float | None
    last_year: int | None
    first: int


class PositionTotals(NamedTuple):
    """All games that reached a position, and its moves, the most frequent first.

    `white`, `draws` and `black` are results; games without one are in `games` only.
    """

    games: int
    white: int
    draws: int
    black: int
    mean_rating: float | None
    last_year: int | None
    first: int | None
    moves: tuple[MoveTotals, ...]


@dataclass(frozen=True, slots=True)
class MoveFigures:
    """A move with its figures in words: `first_game` is the stem game."""

    san: str
    games: int
    white: int
    draws: int
    black: int
    last_year: int | None
    first_game: str | None
    mean_rating: float | None = None


@dataclass(frozen=True, slots=True)
class GamesFile:
    """A file of games of a base: its number there, as much of it as was read (`size` in bytes,
    with a digest `mark` of them), and how many of its games are in the figures."""

    number: int
    path: Path
    size: int
    mark: bytes
    games: int


@dataclass(frozen=True, slots=True)
class GameEntry:
    """One game of a base: its number there, tags, and where it stands (`place` in bytes).

    Ratings are 0 where they are not known, names "".
    """

    number: int
    white: str
    black: str
    white_rating: int
    black_rating: int
    event: str
    date: str
    result: str
    path: Path
    place: int

    def title(self) -> str:
        """Who against whom, where and when, as far as that is known."""
        players = f"{self.white or 'unknown'} – {self.black or 'unknown'}"
        when = "" if self.date.startswith("?") else self.date
        return ", ".join(part for part in (players, self.event, when) if part)


@dataclass(frozen=True, slots=True)
class BaseSummary:
    """What a base holds; `tallies` counts games that are not in the figures, by kind."""

    games: int
    positions: int
    plies: int
    files: tuple[Path, ...]
    tallies: dict[str, int]


@dataclass(frozen=True, slots=True)
class Unused:
    """A game that is not in the figures: its file, number and line from 1, kind and reason."""

    path: Path
    game: int
    line: int
    kind: str
    reason: str
