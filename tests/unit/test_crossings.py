"""Move orders: counts, lists, partings and what an order allows, held to brute force."""

from __future__ import annotations

from pathlib import Path

import chess
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.memory_graphs import add_lines, node_after, random_graph, repertoire_of
from trainer.repertoire.components import components, dominators
from trainer.repertoire.crossings import (
    crossing_at,
    find_crossings,
    moves_that_part,
    orders_of_crossing,
    parting_of,
)
from trainer.repertoire.graph import Edge, Node, Repertoire, Section
from trainer.repertoire.order_graph import MOST_STEPS, Order, OrderGraph
from trainer.repertoire.reader import read_repertoire

DEMO = Path(__file__).resolve().parents[2] / "repertoires" / "kings-indian-attack.pgn"

SMALL = st.builds(
    random_graph,
    st.integers(0, 2**32),
    st.integers(2, 18),
    cycles=st.sampled_from([0.0, 0.15, 0.4]),
    joins=st.sampled_from([0.3, 0.6]),
    roots=st.integers(1, 3),
    side=st.booleans(),
)


def all_orders(begins: list[Node]) -> dict[Node, list[tuple[Edge, ...]]]:
    """Every way from `begins` that passes no position twice, by listing them one by one."""
    found: dict[Node, list[tuple[Edge, ...]]] = {}

    def go(node: Node, way: tuple[Edge, ...], passed: frozenset[Node]) -> None:
        found.setdefault(node, []).append(way)
        for edge in node.edges:
            if edge.child not in passed:
                go(edge.child, (*way, edge), passed | {edge.child})

    for root in begins:
        go(root, (), frozenset({root}))
    return found


def leads_to(start: Node) -> set[Node]:
    found, waiting = {start}, [start]
    while waiting:
        for edge in waiting.pop().edges:
            if edge.child not in found:
                found.add(edge.child)
                waiting.append(edge.child)
    return found


def begins_of(graph: OrderGraph) -> list[Node]:
    return [graph.arrays.nodes[number] for number in graph.sources]


@given(SMALL)
def test_counts_and_lists_equal_brute_force(repertoire: Repertoire) -> None:
    graph = OrderGraph(repertoire)
    expected = all_orders(begins_of(graph))
    for node in repertoire.nodes.values():
        ways = expected.get(node, [])
        assert graph.is_exact(node)
        assert graph.count(node) == len(ways)
        listed = graph.orders(node, len(ways) + 1)
        assert {order.edges for order in listed} == set(ways)
        assert len(listed) == len(ways)
        lengths = [len(order.edges) for order in listed]
        assert lengths == sorted(lengths)
        assert graph.depth(node) == (lengths[0] if lengths else None)
        assert [order.edges for order in graph.orders(node, 2)] == [
            order.edges for order in listed[:2]
        ]


@given(SMALL)
def test_the_likeliest_orders_come_first(repertoire: Repertoire) -> None:
    graph = OrderGraph(repertoire)
    for node, ways in all_orders(begins_of(graph)).items():
        listed = graph.orders(node, len(ways) + 1, "reach")
        assert {order.edges for order in listed} == set(ways)
        chances = [order.likelihood for order in listed]
        assert chances == pytest.approx(sorted(chances, reverse=True))
        best = graph.likeliest(node)
        assert best is not None
        assert best.likelihood == pytest.approx(max(chances))


@given(st.integers(0, 2**32), st.integers(2, 30))
def test_without_repetitions_likelihoods_sum_to_the_reach(seed: int, count: int) -> None:
    repertoire = random_graph(seed, count, joins=0.5)
    graph = OrderGraph(repertoire)
    for node in repertoire.nodes.values():
        orders = graph.orders(node, graph.count(node) + 1)
        total = sum(order.likelihood for order in orders)
        assert total == pytest.approx(float(graph.reach[graph.arrays.number(node)]))


@given(SMALL)
def test_orders_begin_at_roots_no_other_root_leads_to(repertoire: Repertoire) -> None:
    begins = begins_of(OrderGraph(repertoire))
    assert begins
    for root in repertoire.roots:
        others = [other for other in repertoire.roots if other is not root]
        if not any(root in leads_to(other) for other in others):
            assert root in begins
        assert any(root in leads_to(begin) for begin in begins)


@given(SMALL)
def test_partings_and_ways_equal_brute_force(repertoire: Repertoire) -> None:
    graph = OrderGraph(repertoire)
    begins = begins_of(graph)
    for node, ways in all_orders(begins).items():
        passed = [[edge.parent for edge in way] for way in ways]
        common = [here for here in passed[0] if all(here in other for other in passed)]
        parting = graph.parting(node)
        assert parting is (common[-1] if common else None)
        found = orders_of_crossing(graph, node, len(ways) + 1)
        if parting is None:
            assert found.ways == found.orders
        else:
            tails = {way[there.index(parting) :] for way, there in zip(ways, passed, strict=True)}
            assert {way.edges for way in found.ways} == tails
        assert found.way_count == len(found.ways)


@given(SMALL)
def test_the_moves_that_part_equal_brute_force(repertoire: Repertoire) -> None:
    graph = OrderGraph(repertoire)
    known = all_orders(begins_of(graph))
    for crossing in find_crossings(graph):
        parting = crossing.parting
        wanted: set[Edge] = set()
        for order in known.get(crossing.node, []):
            wanted |= {edge for edge in order if edge.parent is parting}
        found = moves_that_part(crossing)
        in_order = [] if parting is None else [e for e in parting.edges if e in wanted]
        assert list(found) == in_order
        assert parting is None or set(found) == wanted


@given(SMALL)
def test_crossings_are_the_positions_entered_twice(repertoire: Repertoire) -> None:
    entries: dict[Node, set[tuple[Node, chess.Move]]] = {}
    for edge in repertoire.edges():
        entries.setdefault(edge.child, set()).add((edge.parent, edge.move))
    found = find_crossings(OrderGraph(repertoire))
    assert {crossing.node for crossing in found} == {
        node for node, pairs in entries.items() if len(pairs) > 1
    }
    reaches = [crossing.reach for crossing in found]
    assert reaches == sorted(reaches, reverse=True)


@given(st.integers(1, 12), st.sets(st.tuples(st.integers(0, 11), st.integers(0, 11))))
def test_components_and_dominators_equal_brute_force(
    count: int, pairs: set[tuple[int, int]]
) -> None:
    onward = [sorted(b for a, b in pairs if a == node and b < count) for node in range(count)]
    back = [sorted(a for a in range(count) if node in onward[a]) for node in range(count)]

    def reached(start: int, without: int = -1) -> set[int]:
        found, waiting = {start}, [start]
        while waiting:
            for target in onward[waiting.pop()]:
                if target not in found and target != without:
                    found.add(target)
                    waiting.append(target)
        return found

    together = components(onward)
    assert sorted(node for members in together for node in members) == list(range(count))
    at = {node: number for number, members in enumerate(together) for node in members}
    for first in range(count):
        for second in range(count):
            mutual = second in reached(first) and first in reached(second)
            assert (at[first] == at[second]) == mutual
            if second in reached(first):
                assert at[second] <= at[first]
    before = dominators(onward, back, [0])
    for node in reached(0) - {0}:
        needed = {0} | {
            other for other in reached(0) - {node, 0} if node not in reached(0, without=other)
        }
        # The last of them is the one that all the others come before.
        assert before[node] in needed
        assert all(
            other == before[node] or before[node] not in reached(0, without=other) or other == 0
            for other in needed
        )
    assert before[0] == -1
    assert all(before[node] == -1 for node in set(range(count)) - reached(0))


# -- made-up graphs ------------------------------------------------------------------------------


class MadeUp:
    """Positions that are only numbers, with moves between them; side to move by number."""

    def __init__(self) -> None:
        self.repertoire = Repertoire(chess.WHITE)
        self.moves = list(chess.Board().legal_moves)

    def node(self, turn: chess.Color) -> Node:
        number = len(self.repertoire.nodes)
        node = self.repertoire.add_packed(number + 1, bytes(64) + bytes((turn, 64)))
        if not self.repertoire.sections:
            self.repertoire.sections.append(Section(node))
        return node

    def edge(self, parent: Node, child: Node) -> None:
        move = self.moves[len(parent.edges)]
        self.repertoire.add_edge(parent, move, child, move.uci())


def diamonds(count: int) -> tuple[Repertoire, Node]:
    made = MadeUp()
    end = made.node(chess.WHITE)
    for _ in range(count):
        begin, sides = end, [made.node(chess.BLACK), made.node(chess.BLACK)]
        end = made.node(chess.WHITE)
        for side in sides:
            made.edge(begin, side)
            made.edge(side, end)
    return made.repertoire, end


def test_counts_are_exact_where_no_list_could_be() -> None:
    repertoire, end = diamonds(500)
    graph = OrderGraph(repertoire)
    assert graph.count(end) == 2**500
    assert graph.is_exact(end)
    found = orders_of_crossing(graph, end)
    assert len(found.orders) == len({order.edges for order in found.orders}) == 20
    assert {len(order.edges) for order in found.orders} == {1000}
    assert found.way_count == 2
    assert len(graph.orders(end, 1000, "reach")) == 1000


def test_a_tangle_gives_a_lower_bound_and_says_so() -> None:
    made = MadeUp()
    root = made.node(chess.WHITE)
    black = [made.node(chess.BLACK) for _ in range(9)]
    white = [made.node(chess.WHITE) for _ in range(9)]
    behind = made.node(chess.BLACK)
    made.edge(root, black[0])
    for one in black:
        for other in white:
            made.edge(one, other)
            made.edge(other, one)
    made.edge(white[0], behind)
    graph = OrderGraph(made.repertoire)
    assert MOST_STEPS < 8 * 8 * 7 * 7 * 6 * 6
    assert graph.is_exact(root)
    assert not graph.is_exact(white[0])
    assert not graph.is_exact(behind)
    assert graph.count(behind) == graph.count(white[0]) >= 1
    assert len(graph.orders(behind, 30)) == 30


# -- positions of chess --------------------------------------------------------------------------


def sans(orders: tuple[Order, ...]) -> list[str]:
    return [" ".join(order.sans) for order in orders]


def test_where_orders_part_and_meet() -> None:
    repertoire = repertoire_of(["d4 d5 c4 e6 Nc3 Nf6", "d4 e6 c4 d5", "d4 Nf6 c4 e6 Nc3 d5"])
    graph = OrderGraph(repertoire)
    last = node_after(repertoire, "d4 d5 c4 e6 Nc3 Nf6")
    found = orders_of_crossing(graph, last)
    assert set(sans(found.orders)) == {
        "d4 d5 c4 e6 Nc3 Nf6",
        "d4 e6 c4 d5 Nc3 Nf6",
        "d4 Nf6 c4 e6 Nc3 d5",
    }
    assert found.crossing.order_count == found.way_count == 3
    assert found.crossing.parting is node_after(repertoire, "d4")
    by_name = dict(zip(sans(found.orders), found.orders, strict=True))
    first, second = by_name["d4 d5 c4 e6 Nc3 Nf6"], by_name["d4 e6 c4 d5 Nc3 Nf6"]
    assert parting_of(first, second) is node_after(repertoire, "d4 d5 c4 e6 Nc3")
    assert parting_of(first, by_name["d4 Nf6 c4 e6 Nc3 d5"]) is node_after(repertoire, "d4")
    assert found.likeliest is not None
    assert found.likeliest.likelihood == pytest.approx(1 / 3)


def test_what_an_order_allows_the_opponent() -> None:
    # After 1 d4 Nf6 2 c4 e6 3 Nc3 Black may pin the knight; after 1 d4 d5 2 c4 e6 3 Nc3 as well,
    # but only the first order lets him put a knight on e4.
    repertoire = repertoire_of(
        ["d4 Nf6 c4 e6 Nc3 d5 cxd5", "d4 Nf6 c4 e6 Nc3 Bb4", "d4 d5 c4 e6 Nc3 Nf6"]
    )
    graph = OrderGraph(repertoire)
    crossing = node_after(repertoire, "d4 Nf6 c4 e6 Nc3 d5")
    found = orders_of_crossing(graph, crossing)
    by_name = {" ".join(allowed.order.sans): allowed for allowed in found.allowed}
    assert set(by_name) == {"Nf6 c4 e6 Nc3 d5", "d5 c4 e6 Nc3 Nf6"}
    knight, pawn = by_name["Nf6 c4 e6 Nc3 d5"], by_name["d5 c4 e6 Nc3 Nf6"]
    assert [edge.san for edge in knight.known] == ["Bb4"]
    assert pawn.known == ()
    board = {name: {m.uci() for _, m in by_name[name].legal} for name in by_name}
    assert "f6e4" in board["Nf6 c4 e6 Nc3 d5"]
    assert "d5c4" in board["d5 c4 e6 Nc3 Nf6"]
    assert "f8b4" not in board["d5 c4 e6 Nc3 Nf6"]
    for allowed in found.allowed:
        for node, move in allowed.legal:
            assert node in allowed.order.nodes
            assert node.turn == chess.BLACK
            assert node.board().is_legal(move)
            others = [one for one in found.allowed if one is not allowed]
            for other in others:
                on_way = [n for n in other.order.nodes[1:-1] if n.turn == chess.BLACK]
                assert not any(n.board().is_legal(move) for n in on_way)


def test_how_often_orders_were_seen() -> None:
    repertoire = repertoire_of(["d4 d5 c4 e6", "d4 e6 c4 d5"])
    graph = OrderGraph(repertoire)
    crossing = node_after(repertoire, "d4 d5 c4 e6")
    assert orders_of_crossing(graph, crossing).most_seen is None
    seen: dict[tuple[str, ...], int] = {
        ("d2d4", "e7e6", "c2c4", "d7d5"): 3,
        ("d2d4", "d7d5", "c2c4", "e7e6"): 2,
    }
    found = orders_of_crossing(graph, crossing, seen=seen)
    assert found.most_seen is not None
    assert found.most_seen.seen == 3
    assert found.most_seen.sans == ["d4", "e6", "c4", "d5"]
    assert [order.seen for order in found.orders] == [2, 3]
    # It need not be listed; orders to other positions, or unknown ones, do not count.
    others = {("d2d4",): 9, ("d2d4", "d7d5", "c2c4", "e7e5"): 9}
    found = orders_of_crossing(graph, crossing, limit=1, seen={**seen, **others})
    assert len(found.orders) == 1
    assert found.most_seen is not None
    assert found.most_seen.sans == ["d4", "e6", "c4", "d5"]
    assert found.most_seen.likelihood == pytest.approx(0.5)


def test_a_repetition_is_no_second_order() -> None:
    repertoire = repertoire_of(["e4 Nf6 Nf3 Ng8 Ng1"])
    graph = OrderGraph(repertoire)
    again = node_after(repertoire, "e4")
    assert repertoire.crossings() == [again]
    assert graph.count(again) == 1
    assert sans(tuple(graph.orders(again))) == ["e4"]


def test_a_ring_entered_at_two_places_is_walked_both_ways() -> None:
    # 1 Nf3 and 1 Nh3 both lead on to the other after a wandering of the knights.
    ring = ["Nf3 Nf6 Ng1 Ng8 Nh3 Nf6 Ng1", "Nh3 Nf6 Ng1 Ng8 Nf3 Nf6"]
    repertoire = repertoire_of(ring)
    graph = OrderGraph(repertoire)
    expected = all_orders(repertoire.roots)
    for node in repertoire.nodes.values():
        assert graph.count(node) == len(expected[node])


def test_sections_from_a_position() -> None:
    repertoire = repertoire_of(["e4 c5 Nf3 d6"])
    elsewhere = chess.Board()
    for san in ("Nf3", "c5"):
        elsewhere.push_san(san)
    add_lines(repertoire, ["e4 d6"], elsewhere.fen())
    graph = OrderGraph(repertoire)
    met = node_after(repertoire, "e4 c5 Nf3")
    assert {(order.root, *order.sans) for order in graph.orders(met)} == {
        (repertoire.roots[0], "e4", "c5", "Nf3"),
        (repertoire.roots[1], "e4"),
    }
    assert crossing_at(graph, met).parting is None
    assert crossing_at(graph, node_after(repertoire, "e4 c5 Nf3 d6")).parting is met
    # The tail of an order is not another order: a root that another one leads to adds nothing.
    below = chess.Board()
    below.push_san("e4")
    add_lines(repertoire, ["c5"], below.fen())
    assert OrderGraph(repertoire).count(met) == 2


def test_the_demo() -> None:
    graph = OrderGraph(read_repertoire(DEMO).repertoire)
    found = find_crossings(graph)
    assert len(found) == 80
    assert all(crossing.exact and crossing.order_count > 1 for crossing in found)
    for crossing in found:
        for order in graph.orders(crossing.node):
            for edge, node in zip(order.edges, order.nodes[1:], strict=True):
                assert edge.child is node
            assert order.nodes[-1] is crossing.node
