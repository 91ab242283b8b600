"""Arrays, reach, depth in hand and move orders, against brute force and by hand."""

from __future__ import annotations

import random

import chess
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.memory_graphs import add_lines, node_after, random_graph, repertoire_of
from trainer.repertoire.arrays import RepertoireArrays
from trainer.repertoire.graph import Edge, Node, Repertoire, Section
from trainer.repertoire.orders import order_of
from trainer.repertoire.reach import (
    ALTERNATIVE_SHARE,
    depth_in_hand,
    depth_values,
    edge_shares,
    reach,
    root_shares,
)


def kept_edges(arrays: RepertoireArrays) -> set[Edge]:
    """The edges that no cycle was cut at."""
    return {arrays.edges[number] for number in arrays.level_edges}


def shares_by_hand(
    repertoire: Repertoire, node: Node, replies: dict[Edge, float] | None
) -> list[float]:
    if not repertoire.is_decision(node):
        equal = 1 / max(1, len(node.edges))
        return [equal if replies is None else replies[edge] for edge in node.edges]
    if len(node.edges) == 1:
        return [1.0]
    others = ALTERNATIVE_SHARE / (len(node.edges) - 1)
    return [1 - ALTERNATIVE_SHARE] + [others] * (len(node.edges) - 1)


def brute_force_reach(
    repertoire: Repertoire,
    kept: set[Edge],
    starts: list[Node],
    replies: dict[Edge, float] | None,
) -> dict[int, float]:
    """Every line from every start, one by one, with its probability."""
    result = dict.fromkeys(repertoire.nodes, 0.0)
    pending = [(start, 1 / len(starts)) for start in starts]
    while pending:
        node, chance = pending.pop()
        result[node.key] += chance
        shares = shares_by_hand(repertoire, node, replies)
        for edge, share in zip(node.edges, shares, strict=True):
            if edge in kept:
                pending.append((edge.child, chance * share))
    return result


def brute_force_depth(
    repertoire: Repertoire,
    kept: set[Edge],
    start: Node,
    recall: dict[int, float],
    replies: dict[Edge, float] | None,
) -> float:
    """The mean over all lines of the number of prepared moves in a row recalled right."""
    total = 0.0
    pending = [(start, 1.0)]
    while pending:
        node, chance = pending.pop()
        if repertoire.is_decision(node):
            known = chance * recall[node.key]
            total += known
            if node.edges[0] in kept:
                pending.append((node.edges[0].child, known))
        else:
            shares = shares_by_hand(repertoire, node, replies)
            for edge, share in zip(node.edges, shares, strict=True):
                if edge in kept:
                    pending.append((edge.child, chance * share))
    return total


def random_replies(repertoire: Repertoire, rng: random.Random) -> dict[Edge, float]:
    """How likely each move is in its position, with something left for moves not prepared."""
    found = {}
    for node in repertoire.nodes.values():
        parts = [rng.uniform(0.1, 5) for _ in node.edges]
        rest = rng.choice([0.0, rng.uniform(0.1, 5)])
        found.update(
            {e: part / (sum(parts) + rest) for e, part in zip(node.edges, parts, strict=True)}
        )
    return found


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10**6), cycles=st.sampled_from([0.0, 0.15]), measured=st.booleans())
def test_reach_and_depth_equal_enumeration_of_all_lines(
    seed: int, cycles: float, measured: bool
) -> None:
    repertoire = random_graph(seed, 30, cycles=cycles)
    arrays = RepertoireArrays.compile(repertoire)
    rng = random.Random(seed)
    replies = random_replies(repertoire, rng) if measured else None
    shares = None if replies is None else np.array([replies[edge] for edge in arrays.edges])
    kept = kept_edges(arrays)
    expected = brute_force_reach(repertoire, kept, repertoire.roots, replies)
    found = reach(arrays, shares)
    assert found == pytest.approx([expected[node.key] for node in arrays.nodes])

    recall = {key: rng.random() for key in repertoire.nodes}
    depth = depth_in_hand(arrays, np.array([recall[node.key] for node in arrays.nodes]), shares)
    (root,) = repertoire.roots
    assert depth == pytest.approx(brute_force_depth(repertoire, kept, root, recall, replies))


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_levels_rise_along_every_kept_edge_and_cuts_close_cycles(seed: int) -> None:
    repertoire = random_graph(seed, 60, cycles=0.2)
    arrays = RepertoireArrays.compile(repertoire)
    kept = np.zeros(len(arrays.edges), np.bool_)
    kept[arrays.level_edges] = True
    rises = arrays.level[arrays.parent] < arrays.level[arrays.child]
    assert rises[kept].all()
    assert not rises[~kept].any()
    assert sum(len(edges) for edges in arrays.levels()) == kept.sum()
    # Everything stays reachable: the walk itself goes along kept edges.
    found = reach(arrays)
    assert (found > 0).all()


def test_no_edge_is_cut_without_a_cycle() -> None:
    arrays = RepertoireArrays.compile(random_graph(3, 500))
    assert len(arrays.level_edges) == len(arrays.edges)


def test_arrays_of_an_empty_repertoire() -> None:
    arrays = RepertoireArrays.compile(Repertoire())
    assert depth_in_hand(arrays, np.zeros(0)) == 0.0
    assert len(reach(arrays)) == 0


def test_a_very_long_line_and_a_long_cycle_need_no_recursion() -> None:
    repertoire = random_graph(5, 30_000, width=1, joins=0.0)
    last = list(repertoire.nodes.values())[-1]
    (root,) = repertoire.roots
    arrays = RepertoireArrays.compile(repertoire)
    assert reach(arrays)[-1] == 1.0
    order = order_of(repertoire, last)
    assert order is not None
    assert len(order) == len(repertoire.nodes) - 1
    back = last if last.turn != root.turn else order[-1].parent
    repertoire.add_edge(back, chess.Move.null(), root, "back")
    arrays = RepertoireArrays.compile(repertoire)
    assert reach(arrays).max() == 1.0
    assert len(arrays.edges) - len(arrays.level_edges) == 1


def test_reach_by_hand() -> None:
    repertoire = repertoire_of(
        ["e4 e5 Nf3 Nc6", "e4 e5 Nc3", "e4 c5 Nf3", "e4 e6 d4", "e4 c6 d4"], chess.WHITE
    )
    arrays = RepertoireArrays.compile(repertoire)
    found = reach(arrays)

    def at(line: str) -> float:
        return float(found[arrays.number(node_after(repertoire, line))])

    assert at("") == 1.0
    assert at("e4 e5") == pytest.approx(1 / 4)
    # The accepted alternative takes a tenth of the decision.
    assert at("e4 e5 Nf3") == pytest.approx(0.9 / 4)
    assert at("e4 e5 Nc3") == pytest.approx(0.1 / 4)
    assert at("e4 c5 Nf3") == pytest.approx(1 / 4)
    # Half of all games go on with e5, a quarter with c5, and in the rest nothing is prepared.
    shares = edge_shares(arrays)
    shares[list(arrays.edges_of(arrays.number(node_after(repertoire, "e4"))))] = 0.5, 0.25, 0, 0
    found = reach(arrays, shares)
    assert at("e4 e5 Nf3") == pytest.approx(0.9 / 2)
    assert at("e4 c5 Nf3") == pytest.approx(0.25)
    assert at("e4 c6") == 0.0


def test_a_crossing_has_the_reach_of_its_orders_together() -> None:
    repertoire = repertoire_of(["d4 d5 c4 e6 Nc3", "d4 e6 c4 d5 Nc3", "d4 Nf6 c4"])
    arrays = RepertoireArrays.compile(repertoire)
    crossing = node_after(repertoire, "d4 d5 c4 e6")
    assert len(crossing.entries) == 2
    assert reach(arrays)[arrays.number(crossing)] == pytest.approx(2 / 3)


def test_depth_in_hand_by_hand() -> None:
    repertoire = repertoire_of(["e4 e5 Nf3", "e4 c5 Nf3 d6 d4"])
    arrays = RepertoireArrays.compile(repertoire)
    recall = np.full(len(arrays.nodes), 0.5)
    # 1 e4 is recalled one time in two; then one prepared move, or one and another behind it.
    assert depth_in_hand(arrays, recall) == pytest.approx(
        0.5 * (1 + 0.5 * 0.5 + 0.5 * (0.5 * (1 + 0.5)))
    )
    assert depth_in_hand(arrays, np.ones(len(arrays.nodes))) == pytest.approx(1 + 1.5)
    values = depth_values(arrays, recall)
    assert values[arrays.number(node_after(repertoire, "e4 c5 Nf3 d6"))] == 0.5


def test_roots_behind_another_root_start_with_nothing() -> None:
    repertoire = repertoire_of(["e4 e5 Nf3"])
    inner = chess.Board()
    inner.push_san("e4")
    inner.push_san("e5")
    add_lines(repertoire, ["Nf3 Nc6"], inner.fen())
    elsewhere = "4k3/8/8/8/8/8/4P3/4K3 w - - 0 1"
    add_lines(repertoire, ["e4"], elsewhere)
    arrays = RepertoireArrays.compile(repertoire)
    assert root_shares(arrays)[arrays.roots] == pytest.approx([0.5, 0.0, 0.5])
    assert reach(arrays)[arrays.number(node_after(repertoire, "e4 e5 Nf3 Nc6"))] == 0.5


def test_roots_share_by_the_sections_that_begin_there() -> None:
    repertoire = Repertoire()
    boards = [chess.Board(), chess.Board("8/8/4k3/8/4P3/4K3/8/8 w - - 0 1")]
    nodes = [repertoire.add_position(board) for board in boards]
    repertoire.sections = [Section(nodes[0]), Section(nodes[1]), Section(nodes[0])]
    shares = root_shares(RepertoireArrays.compile(repertoire))
    assert shares.tolist() == pytest.approx([2 / 3, 1 / 3])


def test_of_two_roots_on_one_cycle_the_first_stands() -> None:
    repertoire = repertoire_of(["Nf3 Nf6 Ng1 Ng8"])
    board = chess.Board()
    board.push_san("Nf3")
    board.push_san("Nf6")
    add_lines(repertoire, ["Ng1"], board.fen())
    arrays = RepertoireArrays.compile(repertoire)
    assert root_shares(arrays)[arrays.roots] == pytest.approx([1.0, 0.0])
    assert reach(arrays).tolist() == [1.0, 1.0, 1.0, 1.0]


def sans(order: tuple[Edge, ...] | None) -> list[str] | None:
    return None if order is None else [edge.san for edge in order]


def test_move_orders() -> None:
    repertoire = repertoire_of(["d4 d5 c4 e6 Nc3", "d4 e6 c4 d5 Nc3", "c4 e6 d4 d5"])
    crossing = node_after(repertoire, "d4 d5 c4 e6")
    assert sans(order_of(repertoire, crossing)) == ["d4", "d5", "c4", "e6"]
    assert order_of(repertoire, node_after(repertoire, "")) == ()
    alone = repertoire.add_position(chess.Board("4k3/8/8/8/8/8/4P3/4K3 w - - 0 1"))
    assert order_of(repertoire, alone) is None


def test_a_repetition_is_no_move_order() -> None:
    repertoire = repertoire_of(["e4 Nf6 Nf3 Ng8 Ng1"])
    again = node_after(repertoire, "e4")
    assert len(again.entries) == 2
    assert sans(order_of(repertoire, again)) == ["e4"]
