"""The plan of a few move orders: lines which part and meet. No Qt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import chess
import numpy as np

from trainer.repertoire.arrays import RepertoireArrays
from trainer.repertoire.graph import Edge, Node, Repertoire, Section
from trainer.repertoire.railway.layout import layout


@dataclass(frozen=True, eq=False)
class Line:
    """One order to be shown: `moves` (and `sans`) from the position `start`.

    `text` is the whole order as books print it and `ends` the number of its characters up to and
    with each move; `words` are the moves in the player's notation, `numbered` the same with their
    numbers, `remarks` what is said below.
    """

    start: chess.Board
    moves: tuple[chess.Move, ...]
    sans: tuple[str, ...]
    words: tuple[str, ...]
    numbered: tuple[str, ...]
    text: str
    ends: tuple[int, ...]
    remarks: tuple[str, ...]

    def board(self, ply: int) -> chess.Board:
        """The position after the first `ply` moves."""
        board = self.start.copy(stack=False)
        for move in self.moves[:ply]:
            board.push(move)
        return board


@dataclass(frozen=True)
class Station:
    """A position on the plan, by column and row, with how many moves enter and leave it."""

    x: int
    y: int
    entries: int
    exits: int


@dataclass(frozen=True)
class Track:
    """One move: its words, whose it is, its two stations, and the points it runs through."""

    word: str
    white: bool
    start: int
    end: int
    points: tuple[tuple[int, int], ...]


@dataclass(frozen=True, eq=False)
class OrderPlan:
    """Stations and tracks; for each line the stations it passes and the tracks it takes.

    `skipped` moves of each line come before what is drawn.
    """

    stations: tuple[Station, ...]
    tracks: tuple[Track, ...]
    passes: tuple[tuple[int, ...], ...]
    takes: tuple[tuple[int, ...], ...]
    skipped: tuple[int, ...]
    width: int
    height: int

    @property
    def parting(self) -> int | None:
        """The last station before the lines part; None where they have no beginning in common."""
        shared = _shared(self.passes)
        return shared[-1] if shared and len(self.passes) > 1 else None

    @property
    def meeting(self) -> int | None:
        """The first station behind which the lines no longer part; None where they end apart."""
        shared = _shared([line[::-1] for line in self.passes])
        return shared[-1] if shared and len(self.passes) > 1 else None


def _shared(ways: Sequence[Sequence[int]]) -> list[int]:
    """What all ways have in common at their beginning."""
    found: list[int] = []
    for stations in zip(*ways, strict=False):
        if len(set(stations)) > 1:
            break
        found.append(stations[0])
    return found


def plan_of(lines: Sequence[Line], skipped: Sequence[int]) -> OrderPlan:
    """The plan of some lines, each without its first `skipped` moves."""
    small = Repertoire(chess.WHITE)
    words: dict[Edge, str] = {}
    edges_of: list[list[Edge]] = []
    nodes_of: list[list[Node]] = []
    for line, first in zip(lines, skipped, strict=True):
        board = line.board(first)
        node = small.add_position(board)
        if node not in small.roots:
            small.sections.append(Section(node))
        nodes, edges = [node], []
        for move, san, word in zip(
            line.moves[first:], line.sans[first:], line.words[first:], strict=True
        ):
            board.push(move)
            child = small.add_position(board)
            edge = node.edge_for(move)
            if edge is None:
                edge = small.add_edge(node, move, child, san)
                words[edge] = word
            edges.append(edge)
            nodes.append(child)
            node = child
        edges_of.append(edges)
        nodes_of.append(nodes)
    arrays = RepertoireArrays.compile(small)
    drawn = layout(arrays, np.ones(len(arrays.nodes)))
    stations = tuple(
        Station(int(x), int(y), len(node.entries), len(node.edges))
        for node, x, y in zip(arrays.nodes, drawn.x, drawn.y, strict=True)
    )
    tracks: list[Track] = []
    number_of: dict[Edge, int] = {}
    for index, number in enumerate(drawn.edges.tolist()):
        edge = arrays.edges[number]
        route = drawn.route[drawn.route_start[index] : drawn.route_start[index + 1]]
        number_of[edge] = index
        tracks.append(
            Track(
                words[edge],
                edge.parent.turn == chess.WHITE,
                arrays.number(edge.parent),
                arrays.number(edge.child),
                tuple((int(x), int(y)) for x, y in route),
            )
        )
    return OrderPlan(
        stations,
        tuple(tracks),
        tuple(tuple(arrays.number(node) for node in nodes) for nodes in nodes_of),
        tuple(tuple(number_of[edge] for edge in edges) for edges in edges_of),
        tuple(skipped),
        drawn.width,
        drawn.height,
    )
