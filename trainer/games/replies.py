"""How often each reply was played where the repertoire knows some, in own games and in a base."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Container, Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol

import chess

from trainer.games.departures import By, Walk
from trainer.notation.fastboard import FastBoard, key_after
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
    """What opponents replied in the player's games with the colour of the repertoire.

    By position key and move in UCI, wherever a reply is known: the known ones, and those for
    which nothing is prepared. A move that leads to a known position by an order that the
    repertoire does not list is neither. A game that repeats a position counts once.
    """
    nodes, side = repertoire.nodes, repertoire.side
    found: dict[int, Counter[str]] = defaultdict(Counter)
    unprepared: Counter[tuple[int, str]] = Counter()
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
        unprepared.update(
            {
                (left.key, left.move)
                for left in walk.departures
                if left.by is By.OPPONENT and not left.at_line_end
            }
        )
    for (key, san), games in unprepared.items():
        move, _ = FastBoard(nodes[key].packed, key).play(san)
        found[key][move.uci()] += games
    return {key: dict(moves) for key, moves in found.items()}


@dataclass(frozen=True, slots=True)
class Parting:
    """A position of the opponent's in which replies are known: its key, itself, their moves."""

    key: int
    packed: bytes
    moves: frozenset[str]

    def crosses(self, move: chess.Move, known: Container[int]) -> bool:
        """Whether a move that is not one of them leads to a position of `known` all the same."""
        if move.uci() in self.moves:
            return False
        return key_after(self.packed, self.key, move) in known


@dataclass(frozen=True, slots=True)
class Partings:
    """Where it matters how often each reply is played, and the keys of all known positions."""

    positions: tuple[Parting, ...]
    known: frozenset[int]

    def part(self, begin: int, end: int) -> Partings:
        """Some of them."""
        return Partings(self.positions[begin:end], self.known)


def partings(repertoire: Repertoire) -> Partings:
    """The positions in which it matters how often each reply is played."""
    positions = tuple(
        Parting(node.key, node.packed, frozenset(edge.move.uci() for edge in node.edges))
        for node in repertoire.nodes.values()
        if node.turn != repertoire.side and node.edges
    )
    return Partings(positions, frozenset(repertoire.nodes))


def base_replies(wanted: Partings, base: PlayedPositions) -> dict[int, dict[str, int]]:
    """What was replied in all games of a base, as `own_replies` counts it.

    Raises what the base raises.
    """
    found: dict[int, dict[str, int]] = {}
    for parting in wanted.positions:
        moves = {
            one.move.uci(): one.games
            for one in base.totals(parting.key).moves
            if one.move is not None and not parting.crosses(one.move, wanted.known)
        }
        if moves:
            found[parting.key] = moves
    return found
