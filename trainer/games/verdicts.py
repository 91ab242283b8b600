"""What a departure of the player's own was: a memory that failed, or a move not learnt yet."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from enum import StrEnum
from typing import TypeAlias

from trainer.games.departures import By, Departure, Walk
from trainer.repertoire.graph import Repertoire

#: Whether the prepared move (key of the position, move in UCI) had been learnt before a day, or
#: by now where the day is None.
Learnt: TypeAlias = Callable[[int, str, date | None], bool]


class Verdict(StrEnum):
    """What to make of a departure at a decision."""

    FORGOTTEN = "forgotten"
    NOT_YET_LEARNT = "not yet learnt"
    #: The game came to a section's starting position: another way in, not a slip.
    ANOTHER_DOOR = "another door"


def verdict(
    repertoire: Repertoire, walk: Walk, departure: Departure, learnt: Learnt
) -> Verdict | None:
    """The verdict on a departure; None where there is nothing that could have been forgotten.

    That is so for an opponent's move, at the end of a line, in a game that the player played with
    the colour that this repertoire is not for, and where nobody said who the player is. Forgotten
    is what had been learnt before the day of the game, or, where that day is not known, what is
    learnt by now.
    """
    if departure.by is By.OPPONENT or departure.at_line_end:
        return None
    if walk.player_side != repertoire.side or not walk.named:
        return None
    if departure.another_door:
        return Verdict.ANOTHER_DOOR
    main = repertoire.nodes[departure.key].edges[0]
    if learnt(departure.key, main.move.uci(), walk.game.when.date):
        return Verdict.FORGOTTEN
    return Verdict.NOT_YET_LEARNT


def verdicts(repertoire: Repertoire, walk: Walk, learnt: Learnt) -> tuple[Verdict | None, ...]:
    """The verdicts on all departures of a game."""
    return tuple(verdict(repertoire, walk, one, learnt) for one in walk.departures)
