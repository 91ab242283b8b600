"""Entry doors: how the position where a system begins arises, and what leaves it."""

from __future__ import annotations

from pathlib import Path

import chess
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.memory_graphs import add_lines, node_after, random_graph, repertoire_of
from tests.unit.test_crossings import all_orders, leads_to
from trainer.repertoire.doors import LEAST_MOVES, Doors, entry_doors, suggest_system_position
from trainer.repertoire.graph import Repertoire
from trainer.repertoire.openings import OpeningBook
from trainer.repertoire.order_graph import OrderGraph
from trainer.repertoire.reader import read_repertoire

DEMO = Path(__file__).resolve().parents[2] / "repertoires" / "kings-indian-attack.pgn"
NO_NAMES = OpeningBook({})

LINES = [
    "d4 Nf6 Nf3 g6 Nc3 d5 Bf4 Bg7",
    "d4 d5 Nc3 Nf6 Bf4 g6 Nf3",
    "d4 Nf6 Nf3 e6 Bf4",
    "d4 e5 dxe5",
]


@pytest.fixture(scope="module")
def book() -> OpeningBook:
    return OpeningBook.load()


def doors_of(repertoire: Repertoire, line: str, book: OpeningBook) -> Doors:
    return entry_doors(OrderGraph(repertoire), node_after(repertoire, line), book)


def test_the_doors_into_a_position(book: OpeningBook) -> None:
    found = doors_of(repertoire_of(LINES), LINES[0].removesuffix(" Bg7"), book)
    assert found.order_count == len(found.doors) == 2
    assert found.exact
    assert {" ".join(door.order.sans) for door in found.doors} == {
        "d4 Nf6 Nf3 g6 Nc3 d5 Bf4",
        "d4 d5 Nc3 Nf6 Bf4 g6 Nf3",
    }
    # One reply in three is 1…Nf6, and after it one in two goes on to the position.
    assert found.reach == pytest.approx(1 / 3 * 1 / 2 + 1 / 3)
    assert [(move.edge.san, move.leads) for move in found.first_moves] == [
        ("d5", True),
        ("Nf6", True),
        ("e5", False),
    ]
    assert [move.arrives for move in found.first_moves] == pytest.approx([1.0, 0.5, 0.0])
    assert [edge.san for edge in found.exits] == ["e6"]
    called = {door.order.sans[1]: door.called for door in found.doors}
    assert called["Nf6"] is not None
    assert called["d5"] is not None
    assert called["Nf6"].family != called["d5"].family
    for door in found.doors:
        assert list(door.names) == book.names_along(door.order.edges)


def test_black_meets_the_first_move_at_the_root() -> None:
    repertoire = repertoire_of(["d4 Nf6 c4 e6", "c4 Nf6 d4 e6", "e4 c6"], side=chess.BLACK)
    found = doors_of(repertoire, "d4 Nf6 c4", NO_NAMES)
    assert [(move.edge.san, move.leads) for move in found.first_moves] == [
        ("d4", True),
        ("c4", True),
        ("e4", False),
    ]
    assert found.exits == ()


def test_more_doors_than_are_listed() -> None:
    repertoire = read_repertoire(DEMO).repertoire
    graph = OrderGraph(repertoire)
    node = max(repertoire.crossings(), key=graph.count)
    found = entry_doors(graph, node, NO_NAMES, limit=3)
    assert len(found.doors) == 3
    assert found.order_count == graph.count(node) == 148
    chances = [door.order.likelihood for door in found.doors]
    assert chances == sorted(chances, reverse=True)


@given(st.integers(0, 2**32), st.integers(3, 20), st.sampled_from([0.0, 0.3]))
def test_what_leads_there_equals_brute_force(seed: int, count: int, cycles: float) -> None:
    repertoire = random_graph(seed, count, cycles=cycles, joins=0.4)
    graph = OrderGraph(repertoire)
    node = list(repertoire.nodes.values())[seed % len(repertoire.nodes)]
    found = entry_doors(graph, node, NO_NAMES)
    for move in found.first_moves:
        assert move.leads == (node in leads_to(move.edge.child))
        assert 0.0 <= move.arrives <= 1.0 + 1e-9
        if not move.leads:
            assert move.arrives == 0.0
    first = {move.edge for move in found.first_moves}
    expected = {
        edge
        for edge in repertoire.edges()
        if edge.parent.turn != repertoire.side
        and edge.parent is not node
        and node in leads_to(edge.parent)
        and node not in leads_to(edge.child)
    }
    assert set(found.exits) == expected - first
    assert found.order_count == len(all_orders([repertoire.roots[0]]).get(node, []))


@given(st.integers(0, 2**32), st.integers(2, 40))
def test_the_suggestion_is_deep_enough_and_reached_most(seed: int, count: int) -> None:
    repertoire = random_graph(seed, count, joins=0.4)
    graph = OrderGraph(repertoire)
    node = suggest_system_position(graph)
    orders = all_orders(repertoire.roots)
    fewest = {
        decision: min(
            sum(edge.parent.turn == repertoire.side for edge in way) for way in orders[decision]
        )
        for decision in repertoire.decisions()
    }
    if not fewest:
        assert node is None
        return
    assert node is not None
    assert fewest[node] >= min(LEAST_MOVES, max(fewest.values()))
    deep = [one for one in fewest if fewest[one] >= LEAST_MOVES] or [node]
    reach = {one: float(graph.reach[graph.arrays.number(one)]) for one in deep}
    assert reach[node] == pytest.approx(max(reach.values()))


def test_no_decision_no_suggestion() -> None:
    assert suggest_system_position(OrderGraph(Repertoire())) is None


def test_the_suggestion_of_a_shallow_repertoire() -> None:
    repertoire = repertoire_of(["d4 d5 c4", "d4 Nf6 c4"])
    node = suggest_system_position(OrderGraph(repertoire))
    assert node in {node_after(repertoire, "d4 d5"), node_after(repertoire, "d4 Nf6")}


def test_doors_of_a_section_from_a_position() -> None:
    repertoire = repertoire_of(["e4 c5 Nf3 d6"])
    start = chess.Board()
    start.push_san("Nf3")
    add_lines(repertoire, ["c5 e4 d6"], start.fen())
    found = doors_of(repertoire, "e4 c5 Nf3", NO_NAMES)
    assert found.order_count == 2
    assert {move.edge.parent for move in found.first_moves} == {
        node_after(repertoire, "e4"),
        repertoire.roots[1],
    }
