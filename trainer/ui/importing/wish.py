"""What the player wants of which games, and the work that makes it. No Qt."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Literal

import chess

from trainer.notation.display import Notation
from trainer.repertoire.side import SIDE_NAMES
from trainer.repertoire.workshop.import_words import import_words, left_words
from trainer.repertoire.workshop.importing import (
    Imported,
    ImportOptions,
    import_both_sides,
    import_games,
)
from trainer.repertoire.workshop.kept_games import KeptGames

Side = Literal["white", "black", "both"]
Player = tuple[str, int, int]
"""A name with its games as White and as Black."""

_NAMED = 200


@dataclass(frozen=True)
class Wish:
    """The games, whose repertoire they give, and what of them is taken."""

    games: KeptGames
    side: Side
    options: ImportOptions


@dataclass(frozen=True)
class Outcome:
    """What came out, by side, with words about it."""

    by_side: dict[chess.Color, Imported] = field(default_factory=dict)
    words: tuple[str, ...] = ()
    #: Each game that could not be read in full, the first few hundred.
    left: tuple[str, ...] = ()

    def dismantle(self) -> None:
        """Free the repertoires."""
        for imported in self.by_side.values():
            imported.repertoire.dismantle()


def fulfil(
    wish: Wish,
    notation: Notation,
    progress: Callable[[float], None],
    cancelled: Callable[[], bool],
) -> Outcome:
    """Make the repertoires; for a worker thread. Raises as `import_games` does."""
    options = wish.options
    if wish.side == "both":
        by_side = import_both_sides(
            wish.games, options.player, options, progress=progress, cancelled=cancelled
        )
    else:
        one = import_games(wish.games, options, progress=progress, cancelled=cancelled)
        by_side = {options.side: one}
    words: list[str] = []
    left: list[str] = []
    for side, imported in by_side.items():
        if len(by_side) > 1:
            words += [*([""] if words else []), f"With {SIDE_NAMES[side]}"]
        words += import_words(imported, notation)
        left = left_words(imported.report)
    if len(left) > _NAMED:
        left[_NAMED:] = [f"and {len(left) - _NAMED:,} more"]
    return Outcome(by_side, tuple(words), tuple(left))


def players_of(
    games: KeptGames,
    plies: int,
    progress: Callable[[float], None],
    cancelled: Callable[[], bool],
) -> list[Player]:
    """The players of the games; for a worker thread. Raises as `KeptGames.games` does."""
    return games.players(plies, progress=progress, cancelled=cancelled)
