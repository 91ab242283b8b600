"""How often the player sees each move order: counted from the log of his drills, and in games.

The log keeps of each answer the move that led to its position. Answers that follow each other on
one run are chained again, so the moves of the whole run are known. What came before a run is not
in the log: the drill shows a shortest order to where it begins, so that one is taken.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final

from trainer.repertoire.graph import Edge, Node
from trainer.repertoire.order_graph import Order, OrderGraph, SeenOrders
from trainer.storage.answers import Answer, AnswerKind

_ASKED: Final = frozenset({AnswerKind.DRILL, AnswerKind.REPEAT})
_Ucis = tuple[str, ...]


@dataclass(frozen=True)
class SeenOrder:
    """A move order with how often it was seen in drills and in games."""

    order: Order
    drills: int
    games: int


class Sightings:
    """The orders that were seen, by the position that they lead to."""

    def __init__(
        self, graph: OrderGraph, drills: SeenOrders | None = None, games: SeenOrders | None = None
    ) -> None:
        """Orders that the repertoire no longer has are left aside."""
        drills, games = drills or {}, games or {}
        self._at: dict[Node, list[SeenOrder]] = {}
        self._orders: dict[_Ucis, SeenOrder] = {}
        for ucis in dict.fromkeys((*drills, *games)):
            in_drills, in_games = drills.get(ucis, 0), games.get(ucis, 0)
            order = graph.order_along(ucis, in_drills + in_games)
            if order is None or not order.seen:
                continue
            seen = SeenOrder(order, in_drills, in_games)
            self._orders[ucis] = seen
            self._at.setdefault(order.nodes[-1], []).append(seen)
        for found in self._at.values():
            found.sort(key=lambda seen: -seen.order.seen)

    @property
    def total(self) -> dict[_Ucis, int]:
        """All of them as `trainer.repertoire.crossings.orders_of_crossing` takes them."""
        return {ucis: seen.order.seen for ucis, seen in self._orders.items()}

    def at(self, node: Node) -> Sequence[SeenOrder]:
        """The orders to `node` that were seen, the most frequent first."""
        return self._at.get(node, ())

    def of(self, order: Order) -> SeenOrder:
        """How often one order was seen, perhaps never."""
        return self._orders.get(order.ucis) or SeenOrder(replace(order, seen=0), 0, 0)

    def times(self, node: Node) -> int:
        """How often `node` was seen by any order."""
        return sum(seen.order.seen for seen in self.at(node))


def orders_in_drills(graph: OrderGraph, answers: Iterable[Answer]) -> dict[_Ucis, int]:
    """How often the drill came to each crossing by each order.

    `answers` are those to this repertoire, in the order of the log, without what was taken back.
    """
    repertoire = graph.repertoire
    crossings = set(repertoire.crossings())
    before = _Beginnings(graph)
    found: Counter[_Ucis] = Counter()

    def arrive(node: Node, way: tuple[Edge, ...]) -> None:
        if way and node in crossings:
            order = before.completed(way)
            if order is not None:
                found[order.ucis] += 1

    way: tuple[Edge, ...] = ()
    session: int | None = None
    for answer in answers:
        if answer.kind not in _ASKED:
            continue
        node = repertoire.nodes.get(answer.key)
        if node is None:
            way = ()
            continue
        entry = _entry(graph, answer, node)
        if entry is None:
            way = ()
        elif way and answer.session_id == session and way[-1].child is entry.parent:
            way = (*way, entry)
        else:
            way = (entry,)
        session = answer.session_id
        arrive(node, way)
        main = next((edge for edge in node.edges if edge.move.uci() == answer.move), None)
        if main is None:
            way = ()
            continue
        way = (*way, main)
        arrive(main.child, way)
    return dict(found)


def orders_in_games(graph: OrderGraph, games: Iterable[Sequence[int]]) -> dict[_Ucis, int]:
    """How often games came to each crossing by each order.

    Each game is the keys of its positions, the first included. Games that do not begin where
    orders begin are left aside, and of the others what follows the first move that the
    repertoire does not list, or the first repetition.
    """
    nodes, crossings = graph.repertoire.nodes, set(graph.repertoire.crossings())
    beginnings = {graph.arrays.nodes[number].key for number in graph.sources}
    found: Counter[_Ucis] = Counter()
    for keys in games:
        if not keys or keys[0] not in beginnings:
            continue
        node = root = nodes[keys[0]]
        passed, edges = {node}, []
        for key in keys[1:]:
            edge = next((edge for edge in node.edges if edge.child.key == key), None)
            if edge is None or edge.child in passed:
                break
            edges.append(edge)
            node = edge.child
            passed.add(node)
            if node in crossings:
                found[Order(root, tuple(edges), 0.0).ucis] += 1
    return dict(found)


class _Beginnings:
    """A shortest order to where a run begins, each looked for once."""

    def __init__(self, graph: OrderGraph) -> None:
        self._graph = graph
        self._orders: dict[Node, Order | None] = {}

    def completed(self, way: tuple[Edge, ...]) -> Order | None:
        """`way` with what comes before it; None where that would pass a position twice."""
        begin = way[0].parent
        if begin not in self._orders:
            self._orders[begin] = next(iter(self._graph.orders(begin, 1)), None)
        before = self._orders[begin]
        if before is None:
            return None
        order = replace(before, edges=(*before.edges, *way))
        return order if len(set(order.nodes)) == len(order.nodes) else None


def _entry(graph: OrderGraph, answer: Answer, node: Node) -> Edge | None:
    if answer.entered_from is None:
        return None
    before = graph.repertoire.nodes.get(answer.entered_from)
    if before is None:
        return None
    return next(
        (
            edge
            for edge in before.edges
            if edge.child is node and edge.move.uci() == answer.entered_by
        ),
        None,
    )
