"""Where a game left the repertoire, where it came back, and who did it.

Every position of the game is looked up in the graph by its key, so it does not matter by which
order a position was reached.

- A *departure* is a move from a known position to one that the repertoire does not know. Moves
  that are prepared, accepted alternatives and moves that lead to a known position by an order
  that the repertoire does not list are none. Where the prepared line ended at that very position,
  nothing was `prepared` instead: the line was played to its end, and nobody left it by a fault.
- A *re-entry* is a position that is known again. Where a game begins outside the repertoire, the
  first known position counts as one too.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum, StrEnum
from typing import Final

import chess

from trainer.games.reading import PlayedGame
from trainer.position import position_epd, unpack_position
from trainer.repertoire.graph import Node, Repertoire


class Step(IntEnum):
    """What a half-move of a game is to the repertoire."""

    #: A move of the repertoire: the main one, an accepted alternative, or a known reply.
    KNOWN = 0
    #: Not listed where it was played, but its position is known.
    CROSSED = 1
    #: From a known position to an unknown one.
    LEFT = 2
    #: Between unknown positions.
    OUTSIDE = 3
    #: From an unknown position to a known one.
    BACK = 4


class By(StrEnum):
    """Who made a move."""

    PLAYER = "player"
    OPPONENT = "opponent"


@dataclass(frozen=True, slots=True)
class Departure:
    """A move that left known positions: half-move `ply` from 1, from the position `key`.

    `prepared` are the moves that the repertoire has there, the main one first; empty where its
    line ends there. `another_door` tells that the game then came to the starting position of a
    section: the player took another way in.
    """

    ply: int
    by: By
    move: str
    prepared: tuple[str, ...]
    key: int
    another_door: bool = False

    @property
    def at_line_end(self) -> bool:
        """Whether the prepared line ended where this move was played."""
        return not self.prepared


@dataclass(frozen=True, slots=True)
class ReEntry:
    """A position after half-move `ply` that is known again."""

    ply: int
    key: int


@dataclass(frozen=True, eq=False, slots=True)
class Walk:
    """A game held against a repertoire, seen by the player of `player_side`.

    `known_start` is whether the position it begins from is known; `steps` has a `Step` for each
    half-move. `plies_known` counts the half-moves from the beginning up to the first position
    that is not known. `deepest` is the last half-move whose position is known, 0 for the starting
    position, None where none is. `named` tells whether it is known who the player is: without a
    name the games may be anybody's.
    """

    game: PlayedGame
    player_side: chess.Color
    known_start: bool
    steps: bytes
    plies_known: int
    departures: tuple[Departure, ...]
    reentries: tuple[ReEntry, ...]
    deepest: int | None
    named: bool = True

    @property
    def departure(self) -> Departure | None:
        """The first departure."""
        return self.departures[0] if self.departures else None

    def known_at(self, ply: int) -> bool:
        """Whether the position after `ply` half-moves is known."""
        if ply == 0:
            return self.known_start
        return self.steps[ply - 1] not in _AWAY


_AWAY: Final = frozenset({Step.LEFT, Step.OUTSIDE})


def walk(
    repertoire: Repertoire, game: PlayedGame, player_side: chess.Color, *, named: bool = True
) -> Walk:
    """Hold a game against a repertoire."""
    nodes = repertoire.nodes
    keys = game.keys
    before = nodes.get(keys[0])
    known_start = before is not None
    steps = bytearray()
    left: list[tuple[int, Node]] = []
    back: list[ReEntry] = []
    deepest = 0 if known_start else None
    for ply in range(1, len(keys)):
        after = nodes.get(keys[ply])
        if after is None:
            if before is None:
                steps.append(Step.OUTSIDE)
            else:
                steps.append(Step.LEFT)
                left.append((ply, before))
        else:
            deepest = ply
            if before is None:
                steps.append(Step.BACK)
                back.append(ReEntry(ply, after.key))
            else:
                listed = any(edge.child is after for edge in before.edges)
                steps.append(Step.KNOWN if listed else Step.CROSSED)
        before = after
    return Walk(
        game=game,
        player_side=player_side,
        known_start=known_start,
        steps=bytes(steps),
        plies_known=_known_from_start(known_start, steps, left),
        departures=_departures(repertoire, game, player_side, left, back) if left else (),
        reentries=tuple(back),
        deepest=deepest,
        named=named,
    )


def _known_from_start(known: bool, steps: bytearray, left: list[tuple[int, Node]]) -> int:
    if not known:
        return 0
    return left[0][0] - 1 if left else len(steps)


def _departures(
    repertoire: Repertoire,
    game: PlayedGame,
    player_side: chess.Color,
    left: list[tuple[int, Node]],
    back: list[ReEntry],
) -> tuple[Departure, ...]:
    sans = game.moves()
    roots = {section.root.key for section in repertoire.sections}
    found = []
    for ply, node in left:
        next_back = next((entry for entry in back if entry.ply > ply), None)
        found.append(
            Departure(
                ply=ply,
                by=By.PLAYER if game.mover(ply) == player_side else By.OPPONENT,
                move=sans[ply - 1],
                prepared=tuple(edge.san for edge in node.edges),
                key=node.key,
                another_door=next_back is not None and next_back.key in roots,
            )
        )
    return tuple(found)


def fen_at(repertoire: Repertoire, key: int) -> str:
    """The position of the repertoire with this key as a FEN with the counters 0 and 1.

    The en-passant square stands only where the capture is legal.
    """
    return f"{position_epd(unpack_position(repertoire.nodes[key].packed))} 0 1"
