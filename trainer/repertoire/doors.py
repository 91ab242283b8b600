"""Entry doors: how the position where the player's system begins can arise."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from trainer.repertoire.arrays import Floats
from trainer.repertoire.graph import Edge, Node
from trainer.repertoire.openings import Opening, OpeningBook
from trainer.repertoire.order_graph import LISTED, Order, OrderGraph, OrderRank, SeenOrders

#: A system begins after so many moves of the player at the earliest.
LEAST_MOVES: Final = 3


@dataclass(frozen=True)
class Door:
    """A move order to the position, with the named openings on the way.

    `names` are (moves made so far, opening); `called` is what the order is called just before it
    arrives.
    """

    order: Order
    names: tuple[tuple[int, Opening], ...]
    called: Opening | None


@dataclass(frozen=True)
class FirstMove:
    """One of the opponent's first moves in the repertoire.

    `arrives` is the probability that a game gets to the position after it, when the player plays
    what is prepared; `leads` tells whether any known line does.
    """

    edge: Edge
    arrives: float
    leads: bool


@dataclass(frozen=True)
class Doors:
    """All about the ways into one position.

    `doors` are the first few of `order_count` move orders (`exact`, or at least so many).
    `first_moves` are the opponent's, those that lead there first, then by how surely they do.
    `exits` are later replies on the way there after which it can no longer arise, the most
    reached first. `reach` is the probability that a game gets there.
    """

    node: Node
    doors: tuple[Door, ...]
    order_count: int
    exact: bool
    reach: float
    first_moves: tuple[FirstMove, ...]
    exits: tuple[Edge, ...]


def entry_doors(
    graph: OrderGraph,
    node: Node,
    book: OpeningBook,
    limit: int = LISTED,
    by: OrderRank = "reach",
    seen: SeenOrders | None = None,
) -> Doors:
    """The ways into `node`, up to `limit` of them, the likeliest first."""
    orders = graph.orders(node, limit, by, seen)
    doors = tuple(
        Door(order, tuple(book.names_along(order.edges)), book.last_named(order.edges[:-1]))
        for order in orders
    )
    arrays = graph.arrays
    arrives = _arrival(graph, node)
    leading = _leading(node)
    first = _first_replies(graph)
    first_moves = [
        FirstMove(edge, float(arrives[arrays.number(edge.child)]), edge.child in leading)
        for edge in first
    ]
    later = set(first)
    exits = [
        edge
        for before in leading
        if before is not node and before.turn != graph.repertoire.side
        for edge in before.edges
        if edge.child not in leading and edge not in later
    ]
    exits.sort(key=lambda edge: -_reach_of(graph, edge))
    return Doors(
        node,
        doors,
        graph.count(node),
        graph.is_exact(node),
        float(graph.reach[arrays.number(node)]),
        tuple(sorted(first_moves, key=lambda move: (not move.leads, -move.arrives))),
        tuple(exits),
    )


def suggest_system_position(graph: OrderGraph) -> Node | None:
    """Where the player's system may be said to begin; None without any decision.

    The decision that a game gets to most probably among those with at least `LEAST_MOVES` moves
    of the player before them on every order; of equal ones the one that most orders reach, then
    the earliest read. A shallow repertoire gives the one with the most moves before it.
    """
    moves = _moves_before(graph)
    decisions = [node for node in graph.repertoire.decisions() if node in moves]
    if not decisions:
        return None
    deepest = min(LEAST_MOVES, max(moves[node] for node in decisions))

    def worth(node: Node) -> tuple[float, int]:
        return round(float(graph.reach[graph.arrays.number(node)]), 9), graph.count(node)

    return max((node for node in decisions if moves[node] >= deepest), key=worth)


def _reach_of(graph: OrderGraph, edge: Edge) -> float:
    """The probability that a game gets to a move and sees it."""
    parent = graph.arrays.number(edge.parent)
    return float(graph.reach[parent] * graph.shares[graph.edge_number(edge)])


def _moves_before(graph: OrderGraph) -> dict[Node, int]:
    """The fewest moves of the player before each position that orders lead to."""
    side = graph.repertoire.side
    level = [graph.arrays.nodes[number] for number in graph.sources]
    found = dict.fromkeys(level, 0)
    # The sides move in turn, so the shortest order has the fewest moves of the player, but for
    # starting positions with different sides to move.
    while level:
        below: list[Node] = []
        for node in level:
            for edge in node.edges:
                moves = found[node] + (node.turn == side)
                if moves < found.get(edge.child, moves + 1):
                    found[edge.child] = moves
                    below.append(edge.child)
        level = below
    return found


def _first_replies(graph: OrderGraph) -> list[Edge]:
    """The opponent's moves before which the player has made one move at most."""
    side = graph.repertoire.side
    found: dict[Edge, None] = {}
    for number in graph.sources:
        root = graph.arrays.nodes[number]
        befores = [root] if root.turn != side else [edge.child for edge in root.edges]
        for before in befores:
            found.update(dict.fromkeys(before.edges))
    return list(found)


def _leading(node: Node) -> set[Node]:
    """All positions from which known moves lead to `node`, and itself."""
    found = {node}
    waiting = [node]
    while waiting:
        for edge in waiting.pop().entries:
            if edge.parent not in found:
                found.add(edge.parent)
                waiting.append(edge.parent)
    return found


def _arrival(graph: OrderGraph, node: Node) -> Floats:
    """The probability to get to `node` from each position."""
    arrays = graph.arrays
    arrives = np.zeros(len(arrays.nodes))
    arrives[arrays.number(node)] = 1.0
    for edges in arrays.levels_back():
        onward = graph.shares[edges] * arrives[arrays.child[edges]]
        np.add.at(arrives, arrays.parent[edges], onward)
    return arrives
