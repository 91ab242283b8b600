"""Crossings: positions that two or more move orders reach."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import chess

from trainer.repertoire.graph import Edge, Node
from trainer.repertoire.order_graph import LISTED, Order, OrderGraph, OrderRank, SeenOrders


@dataclass(frozen=True)
class Crossing:
    """A position entered by two or more distinct (parent position, move) pairs.

    `order_count` is the number of move orders to it (`exact`, or at least so many), see
    `trainer.repertoire.order_graph`. It is 1 where the other moves that enter only repeat the
    position. `parting` is the last position before it that all orders have in common, None where
    they begin at different starting positions. `reach` is that of the position.
    """

    node: Node
    order_count: int
    exact: bool
    parting: Node | None
    reach: float


@dataclass(frozen=True)
class Allowed:
    """What one move order allows the opponent on the way, and no other order listed with it.

    Looked at are the positions with the opponent to move that not all orders pass. `known` are
    the repertoire's replies at positions that lie on this order alone, without those by which an
    order goes on. `legal` are the other moves that are legal at some position of this order and
    at none of the others, each with the first position where it is. A move is the same where the
    squares are.
    """

    order: Order
    known: tuple[Edge, ...]
    legal: tuple[tuple[Node, chess.Move], ...]


@dataclass(frozen=True)
class CrossingOrders:
    """The move orders of one crossing: `orders` are the first few, `crossing` has their count.

    `ways` are the first few ways between the parting and the crossing, `way_count` how many there
    are; each of them ends an order, whatever came before the parting. Without a parting they are
    the orders themselves. `allowed` is what each of the ways allows, in their order.
    `likeliest` is the order by which a game gets there most probably, of all orders; None only
    where no starting position leads here. `most_seen` is the order seen most often, None where
    none was seen. Neither need be among the listed ones.
    """

    crossing: Crossing
    orders: tuple[Order, ...]
    ways: tuple[Order, ...]
    way_count: int
    likeliest: Order | None
    most_seen: Order | None
    allowed: tuple[Allowed, ...]


def find_crossings(graph: OrderGraph) -> list[Crossing]:
    """All crossings, the most reached first; of equal reach in the order of the file."""
    found = [crossing_at(graph, node) for node in graph.repertoire.crossings()]
    return sorted(found, key=lambda crossing: -crossing.reach)


def crossing_at(graph: OrderGraph, node: Node) -> Crossing:
    """What is known of `node` as a crossing."""
    return Crossing(
        node,
        graph.count(node),
        graph.is_exact(node),
        graph.parting(node),
        float(graph.reach[graph.arrays.number(node)]),
    )


def moves_that_part(crossing: Crossing) -> tuple[Edge, ...]:
    """The moves by which the orders of a crossing part, in the order of the file.

    Empty where they have no parting. Those are the moves of the parting from which the crossing
    is reached without coming back to the parting.
    """
    parting = crossing.parting
    if parting is None:
        return ()
    leading, waiting = {crossing.node}, [crossing.node]
    while waiting:
        for edge in waiting.pop().entries:
            before = edge.parent
            if before is not parting and before not in leading:
                leading.add(before)
                waiting.append(before)
    return tuple(edge for edge in parting.edges if edge.child in leading)


def orders_of_crossing(
    graph: OrderGraph,
    node: Node,
    limit: int = LISTED,
    by: OrderRank = "length",
    seen: SeenOrders | None = None,
) -> CrossingOrders:
    """The move orders to `node`, up to `limit`, and how they differ.

    `seen` tells how often an order was seen in drills and games; it may hold orders to other
    positions, which are left aside.
    """
    orders = tuple(graph.orders(node, limit, by, seen))
    seen_orders = [
        order
        for ucis, times in (seen or {}).items()
        if times and (order := graph.order_along(ucis, times)) and order.nodes[-1] is node
    ]
    crossing = crossing_at(graph, node)
    ways, way_count = orders, crossing.order_count
    if crossing.parting is not None:
        ways = tuple(graph.ways(crossing.parting, node, limit, by))
        # All orders pass the parting, so what comes before it is free to combine.
        way_count = max(len(ways), way_count // max(1, graph.count(crossing.parting)))
    return CrossingOrders(
        crossing,
        orders,
        ways,
        way_count,
        graph.likeliest(node),
        max(seen_orders, key=lambda order: order.seen, default=None),
        allowed_by(ways, graph.repertoire.side),
    )


def parting_of(first: Order, second: Order) -> Node | None:
    """The last position before the end that both orders pass, whatever their moves before it.

    None where they have none: they begin at different starting positions.
    """
    on_second = set(second.nodes[:-1])
    return next((node for node in reversed(first.nodes[:-1]) if node in on_second), None)


def allowed_by(orders: Sequence[Order], side: chess.Color) -> tuple[Allowed, ...]:
    """What each of `orders`, all to one position, allows the opponent of `side` alone."""
    ways = [[node for node in order.nodes[:-1] if node.turn != side] for order in orders]
    passes: dict[Node, int] = {}
    for way in ways:
        for node in way:
            passes[node] = passes.get(node, 0) + 1
    own = [
        [node for node in way if passes[node] < len(orders)] if len(orders) > 1 else []
        for way in ways
    ]
    moves = {node: list(node.board().legal_moves) for way in own for node in way}
    possible = [{move for node in way for move in moves[node]} for way in own]
    gone = {edge for order in orders for edge in order.edges}
    taken = {edge.move for edge in gone if edge.parent.turn != side}
    found: list[Allowed] = []
    for number, order in enumerate(orders):
        elsewhere = set().union(*possible[:number], *possible[number + 1 :])
        known = tuple(
            edge
            for node in own[number]
            if passes[node] == 1
            for edge in node.edges
            if edge not in gone
        )
        listed = {edge.move for edge in known}
        first: dict[chess.Move, Node] = {}
        for node in own[number]:
            for move in moves[node]:
                if move not in elsewhere and move not in taken and move not in listed:
                    first.setdefault(move, node)
        found.append(Allowed(order, known, tuple((node, move) for move, node in first.items())))
    return tuple(found)
