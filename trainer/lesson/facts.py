"""What was computed about a game: the facts on which sentences of a draft stand."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import chess

from trainer.lesson.breaks import Break
from trainer.lesson.moments import Better
from trainer.lesson.structures import Found
from trainer.lesson.tricks import Trick
from trainer.repertoire.openings import Opening


@dataclass(frozen=True)
class OpeningFact:
    """The position after `ply` half-moves has a name in the opening table.

    `before` is the opening of the line up to there, where its family is another one.
    """

    ply: int
    opening: Opening
    before: Opening | None


@dataclass(frozen=True)
class StructureFact:
    """After `ply` half-moves a structure came about, or was given up (`began` false)."""

    ply: int
    found: Found
    began: bool


@dataclass(frozen=True)
class BreakFact:
    """The half-move `ply` was this break."""

    ply: int
    played: Break


@dataclass(frozen=True)
class TrickFact:
    """After `ply` half-moves this trick stood; `until` is the last such position in a row."""

    ply: int
    until: int
    trick: Trick


@dataclass(frozen=True)
class DepartureFact:
    """The half-move `ply` left the repertoire; `known` are its moves there, none at a line's end.

    `player` tells that it was the player's own move.
    """

    ply: int
    side: chess.Color
    player: bool
    known: tuple[str, ...]


@dataclass(frozen=True)
class ReentryFact:
    """After `ply` half-moves the position is in the repertoire again."""

    ply: int


@dataclass(frozen=True)
class NoveltyFact:
    """The half-move `ply` led to a position of no earlier game; `games` reached the one before."""

    ply: int
    games: int


@dataclass(frozen=True)
class MomentFact:
    """Somebody, such as an engine, knows better moves than the half-move that was played."""

    ply: int
    better: Better


@dataclass(frozen=True)
class EndFact:
    """How the game ended: its result, and whether the last position is mate or stalemate."""

    ply: int
    result: str
    mate: bool
    stalemate: bool


@dataclass(frozen=True)
class KeptFact:
    """What a sentence stood on when it was written, and that is not computed any more: `told` are
    the words of then."""

    ply: int
    told: str


Fact: TypeAlias = (
    OpeningFact
    | StructureFact
    | BreakFact
    | TrickFact
    | DepartureFact
    | ReentryFact
    | NoveltyFact
    | MomentFact
    | EndFact
    | KeptFact
)
