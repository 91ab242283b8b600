"""How often each reply that the repertoire knows was played, in own games and in a base."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol

import chess

from trainer.games.departures import Walk
from trainer.repertoire.graph import Repertoire


class MovePlayed(Protocol):
    """A move of a position and how many games played it."""

    @property
    def move(self) -> chess.Move | None:
        """The move, None for the end of a game."""

    @property
    def games(self) -> int:
        """How many games."""


class PositionPlayed(Protocol):
    """What all games of a base did in a position."""

    @property
    def moves(self) -> Sequence[MovePlayed]:
        """Each move."""


class PlayedPositions(Protocol):
    """A base, asked for positions by their `trainer.position.position_key`."""

    def totals(self, key: int) -> PositionPlayed:
        """What all games did in a position."""


def own_replies(repertoire: Repertoire, walks: Iterable[Walk]) -> dict[int, dict[str, int]]:
    """Opponents' known replies in the player's games with the colour of the repertoire.

    By position key and move in UCI; a game that repeats a position counts once.
    """
    nodes, side = repertoire.nodes, repertoire.side
    found: dict[int, Counter[str]] = defaultdict(Counter)
    for walk in walks:
        if walk.player_side != side:
            continue
        keys = walk.game.keys
        pairs = dict.fromkeys(
            (keys[ply - 1], keys[ply])
            for ply in range(1, len(keys))
            if keys[ply - 1] in nodes and keys[ply] in nodes
        )
        for before, after in pairs:
            node = nodes[before]
            if node.turn == side:
                continue
            for edge in node.edges:
                if edge.child.key == after:
                    found[before][edge.move.uci()] += 1
    return {key: dict(moves) for key, moves in found.items()}


@dataclass(frozen=True, slots=True)
class Parting:
    """A position of the opponent's in which more than one reply is known: its key, the moves."""

    key: int
    moves: frozenset[str]


def partings(repertoire: Repertoire) -> list[Parting]:
    """The positions in which it matters how often each reply is played."""
    return [
        Parting(node.key, frozenset(edge.move.uci() for edge in node.edges))
        for node in repertoire.nodes.values()
        if node.turn != repertoire.side and len(node.edges) > 1
    ]


def base_replies(wanted: Iterable[Parting], base: PlayedPositions) -> dict[int, dict[str, int]]:
    """Opponents' known replies in all games of a base. Raises what the base raises."""
    found: dict[int, dict[str, int]] = {}
    for parting in wanted:
        moves = {
            one.move.uci(): one.games
            for one in base.totals(parting.key).moves
            if one.move is not None and one.move.uci() in parting.moves
        }
        if moves:
            found[parting.key] = moves
    return found
