"""Counting and listing move orders.

What is counted: a *move order* to a position is a way through the repertoire from a starting
position that passes no position twice. It begins at a section's root that no other root leads
to (the tail of an order is not another order; see `trainer.repertoire.reach.root_shares`).

Without repetitions in the repertoire these are all ways, and one pass over the positions in
order counts them. Counting ways that repeat nothing is hard on graphs in general, but a way that
leaves a strongly connected component never comes back to it, so only the few positions of each
cycle are tried out one by one. Where a component is so tangled that this takes more than
`MOST_STEPS` steps, the moves that close a cycle are left out as `trainer.repertoire.arrays`
leaves them out, and the count is a lower bound; `OrderGraph.is_exact` tells.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from heapq import heappop, heappush
from typing import Final, Literal, TypeAlias

import chess
import numpy as np

from trainer.position import position_key
from trainer.repertoire.arrays import RepertoireArrays
from trainer.repertoire.components import components, dominators
from trainer.repertoire.graph import Edge, Node, Repertoire
from trainer.repertoire.reach import ReplyShares, edge_shares, reach, root_shares

#: Steps of trying out the ways through one strongly connected component.
MOST_STEPS: Final = 100_000

#: Partial orders looked at for each one listed; only repetitions can waste any.
_MOST_LOOKS: Final = 2_000

#: How many orders are listed where nothing else is asked for.
LISTED: Final = 20

_STARTING_KEY: Final = position_key(chess.Board())

#: What stands for a share of 0 where shares are multiplied along an order.
_LEAST_SHARE: Final = 1e-12

OrderRank: TypeAlias = Literal["length", "reach"]

#: How often each order was seen in drills and games, by `Order.ucis`.
SeenOrders: TypeAlias = Mapping[tuple[str, ...], int]


@dataclass(frozen=True)
class Order:
    """One move order: `edges` from the position `root`; empty where the root is meant.

    `likelihood` is the probability that a game goes exactly so when the player plays what is
    prepared, `seen` how often it was seen.
    """

    root: Node
    edges: tuple[Edge, ...]
    likelihood: float
    seen: int = 0

    @property
    def sans(self) -> list[str]:
        """The moves in SAN."""
        return [edge.san for edge in self.edges]

    @property
    def ucis(self) -> tuple[str, ...]:
        """The moves in UCI notation: what `SeenOrders` goes by.

        Where the order does not begin at the starting position of chess, the EPD of its root
        stands in front of them.
        """
        moves = tuple(edge.move.uci() for edge in self.edges)
        return moves if self.root.key == _STARTING_KEY else (self.root.board().epd(), *moves)

    @property
    def nodes(self) -> list[Node]:
        """All positions on the way, the first and the last too."""
        return [self.root, *(edge.child for edge in self.edges)]


class OrderGraph:
    """A repertoire as it is now, seen as move orders."""

    def __init__(
        self,
        repertoire: Repertoire,
        arrays: RepertoireArrays | None = None,
        reply_shares: ReplyShares | None = None,
    ) -> None:
        self.repertoire = repertoire
        self.arrays = RepertoireArrays.compile(repertoire) if arrays is None else arrays
        #: The reach of each position, by its number in `arrays`.
        self.reach = reach(self.arrays, reply_shares)
        self._root_shares = root_shares(self.arrays)
        #: The probability of each move once its position stands on the board, by number.
        self.shares = edge_shares(self.arrays, reply_shares)
        #: The positions at which orders begin, by number.
        self.sources = [int(n) for n in self.arrays.roots if self._root_shares[n] > 0]
        #: How likely a game begins at each of them.
        self._chances = {source: float(self._root_shares[source]) for source in self.sources}
        count = len(self.arrays.nodes)
        self._successors: list[list[int]] = [[] for _ in range(count)]
        self._entering: list[list[int]] = [[] for _ in range(count)]
        parents, children = self.arrays.parent.tolist(), self.arrays.child.tolist()
        self._parents: list[int] = parents
        for edge, (parent, child) in enumerate(zip(parents, children, strict=True)):
            self._successors[parent].append(child)
            self._entering[child].append(edge)

    # -- counting ------------------------------------------------------------------------------

    def count(self, node: Node) -> int:
        """How many move orders lead to `node`; it may be far too many to list."""
        return self._counts[0][self.arrays.number(node)]

    def is_exact(self, node: Node) -> bool:
        """Whether `count` is exact for `node`; else there are at least so many."""
        return self._counts[1][self.arrays.number(node)]

    @cached_property
    def _counts(self) -> tuple[list[int], list[bool]]:
        nodes = len(self._successors)
        arriving = [0] * nodes
        for source in self.sources:
            arriving[source] = 1
        counts, exact = [0] * nodes, [True] * nodes
        for members in reversed(components(self._successors)):
            known = len(members) == 1 or self._count_within(members, arriving, counts)
            if len(members) == 1:
                counts[members[0]] = arriving[members[0]]
            elif not known:
                self._count_forward(members, arriving, counts)
            inside = set(members)
            known = known and all(exact[node] for node in members)
            for node in members:
                exact[node] = known
                for target in self._successors[node]:
                    if target not in inside:
                        arriving[target] += counts[node]
                        exact[target] = exact[target] and known
        return counts, exact

    def _count_within(self, members: list[int], arriving: list[int], counts: list[int]) -> bool:
        """Try out the ways through a component; False where they are too many."""
        inside = set(members)
        onward = {
            node: [target for target in self._successors[node] if target in inside]
            for node in members
        }
        found = dict.fromkeys(members, 0)
        steps = 0
        for begin in members:
            if not arriving[begin]:
                continue
            on_way = {begin}
            found[begin] += arriving[begin]
            stack = [(begin, iter(onward[begin]))]
            while stack:
                node, targets = stack[-1]
                target = next(targets, None)
                if target is None:
                    stack.pop()
                    on_way.discard(node)
                elif target not in on_way:
                    steps += 1
                    if steps > MOST_STEPS:
                        return False
                    on_way.add(target)
                    found[target] += arriving[begin]
                    stack.append((target, iter(onward[target])))
        for node, number in found.items():
            counts[node] = number
        return True

    def _count_forward(self, members: list[int], arriving: list[int], counts: list[int]) -> None:
        """Count the ways through a component without the moves that close a cycle."""
        inside = set(members)
        levels = self.arrays.level.tolist()
        for node in members:
            counts[node] = arriving[node]
        # Every move that was not cut leads to a higher level, and none that was cut does.
        for node in sorted(members, key=levels.__getitem__):
            for target in self._successors[node]:
                if target in inside and levels[target] > levels[node]:
                    counts[target] += counts[node]

    # -- listing -------------------------------------------------------------------------------

    def orders(
        self,
        node: Node,
        limit: int = LISTED,
        by: OrderRank = "length",
        seen: SeenOrders | None = None,
    ) -> list[Order]:
        """Up to `limit` move orders to `node`, the shortest or the likeliest first.

        Found backwards from the node, always going on with what can still become the best
        order, so the others are never looked at.
        """
        return self._search(node, set(self._chances), self._chances, limit, by, seen)

    def ways(
        self, start: Node, node: Node, limit: int = LISTED, by: OrderRank = "length"
    ) -> list[Order]:
        """As `orders`, only from `start` on, which must lie on all orders to `node`.

        Their likelihood is that of the moves once `start` stands on the board.
        """
        number = self.arrays.number(start)
        return self._search(node, {number}, {number: 1.0}, limit, by, None)

    def _search(
        self,
        node: Node,
        starts: set[int],
        chances: Mapping[int, float],
        limit: int,
        by: OrderRank,
        seen: SeenOrders | None,
    ) -> list[Order]:
        costs, ahead = self._by_length if by == "length" else self._by_reach
        target = self.arrays.number(node)
        found: list[Order] = []
        if not math.isfinite(ahead[target]):
            return found
        parents, entering = self._parents, self._entering
        # The cost in all, longer tails first among equals, then the order of the file.
        waiting: list[tuple[float, int, int, int, float, _Tail | None]] = []
        heappush(waiting, (round(ahead[target], 9), 0, 0, target, 0.0, None))
        number = 0
        for _ in range(_MOST_LOOKS * limit):
            if not waiting or len(found) >= limit:
                break
            _total, length, _number, here, cost, tail = heappop(waiting)
            if here in starts:
                found.append(self._order(here, chances[here], tail, seen))
                if len(starts) == 1:
                    continue
            on_way = _positions(tail, parents)
            on_way.add(target)
            for edge in entering[here]:
                before = parents[edge]
                if before in on_way or not math.isfinite(ahead[before]):
                    continue
                number += 1
                behind = cost + costs[edge]
                total = round(behind + ahead[before], 9)
                heappush(waiting, (total, length - 1, number, before, behind, (edge, tail)))
        return found

    def likeliest(self, node: Node) -> Order | None:
        """The order by which a game is most likely to get to `node`; None where none leads."""
        return next(iter(self.orders(node, 1, "reach")), None)

    def order_along(self, ucis: Sequence[str], seen: int = 0) -> Order | None:
        """The order that `Order.ucis` writes so; None where the repertoire has none."""
        from_position = bool(ucis) and " " in ucis[0]
        key = position_key(chess.Board(f"{ucis[0]} 0 1")) if from_position else _STARTING_KEY
        source = next((n for n in self.sources if self.arrays.nodes[n].key == key), None)
        if source is None:
            return None
        node = root = self.arrays.nodes[source]
        edges: list[Edge] = []
        likelihood = float(self._root_shares[source])
        for uci in ucis[from_position:]:
            edge = next((edge for edge in node.edges if edge.move.uci() == uci), None)
            if edge is None:
                return None
            likelihood *= float(self.shares[self.edge_number(edge)])
            edges.append(edge)
            node = edge.child
        return Order(root, tuple(edges), likelihood, seen)

    def edge_number(self, edge: Edge) -> int:
        """The number of a move in `arrays`."""
        first = int(self.arrays.edge_start[self.arrays.number(edge.parent)])
        return first + edge.parent.edges.index(edge)

    def depth(self, node: Node) -> int | None:
        """Half-moves of the shortest order to `node`; None where none leads."""
        plies = self._by_length[1][self.arrays.number(node)]
        return int(plies) if math.isfinite(plies) else None

    def parting(self, node: Node) -> Node | None:
        """The last position before `node` that all orders have in common.

        None where they begin at different starting positions, and at a starting position.
        Looks at all orders, however many there are.
        """
        number = self._dominators[self.arrays.number(node)]
        return None if number < 0 else self.arrays.nodes[number]

    def _order(
        self, source: int, likelihood: float, tail: _Tail | None, seen: SeenOrders | None
    ) -> Order:
        edges: list[Edge] = []
        while tail is not None:
            number, tail = tail
            edges.append(self.arrays.edges[number])
            likelihood *= float(self.shares[number])
        order = Order(self.arrays.nodes[source], tuple(edges), likelihood)
        times = seen.get(order.ucis, 0) if seen is not None else 0
        return Order(order.root, order.edges, likelihood, times) if times else order

    @cached_property
    def _dominators(self) -> list[int]:
        before = [[self._parents[edge] for edge in edges] for edges in self._entering]
        return dominators(self._successors, before, self.sources)

    @cached_property
    def _by_length(self) -> tuple[list[float], list[float]]:
        costs = [1.0] * len(self._parents)
        return costs, self._least_costs(costs, dict.fromkeys(self.sources, 0.0))

    @cached_property
    def _by_reach(self) -> tuple[list[float], list[float]]:
        costs: list[float] = (-np.log(np.maximum(self.shares, _LEAST_SHARE))).tolist()
        starts = {source: -math.log(self._root_shares[source]) for source in self.sources}
        return costs, self._least_costs(costs, starts)

    def _least_costs(self, costs: list[float], starts: dict[int, float]) -> list[float]:
        """What the cheapest way to each node costs (E. W. Dijkstra, 1959)."""
        least = [math.inf] * len(self._successors)
        waiting: list[tuple[float, int]] = []
        for source, cost in starts.items():
            least[source] = cost
            heappush(waiting, (cost, source))
        begin, children = self.arrays.edge_start.tolist(), self.arrays.child.tolist()
        while waiting:
            cost, node = heappop(waiting)
            if cost > least[node]:
                continue
            for edge in range(begin[node], begin[node + 1]):
                onward = cost + costs[edge]
                if onward < least[children[edge]]:
                    least[children[edge]] = onward
                    heappush(waiting, (onward, children[edge]))
        return least


#: The end of an order: its first edge and what follows.
_Tail: TypeAlias = "tuple[int, _Tail | None]"


def _positions(tail: _Tail | None, parents: list[int]) -> set[int]:
    found: set[int] = set()
    while tail is not None:
        edge, tail = tail
        found.add(parents[edge])
    return found
