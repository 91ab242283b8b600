"""The railway plan of a repertoire: columns, order, rows and folding."""

from __future__ import annotations

import random
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.memory_graphs import node_after, random_graph, random_repertoire, repertoire_of
from trainer.repertoire.arrays import RepertoireArrays
from trainer.repertoire.graph import Repertoire
from trainer.repertoire.railway.folding import unlikely
from trainer.repertoire.railway.layers import (
    Columns,
    cut_into_columns,
    forward_edges,
    plies_of,
    root_plies,
    visible_nodes,
)
from trainer.repertoire.railway.layout import MapLayout, layout
from trainer.repertoire.railway.ordering import crossing_count, ordered, reading_order
from trainer.repertoire.reach import edge_shares, reach

graphs = st.builds(
    random_graph,
    st.integers(0, 10_000),
    st.integers(1, 60),
    cycles=st.sampled_from([0.0, 0.1, 0.3]),
    joins=st.sampled_from([0.0, 0.3, 0.6]),
    roots=st.integers(1, 3),
)


def laid_out(
    repertoire: Repertoire, folded: frozenset[int] = frozenset()
) -> tuple[RepertoireArrays, MapLayout]:
    arrays = RepertoireArrays.compile(repertoire)
    return arrays, layout(arrays, reach(arrays), folded, root_plies(repertoire))


def columns_of(repertoire: Repertoire) -> Columns:
    arrays = RepertoireArrays.compile(repertoire)
    weight = reach(arrays)[arrays.parent] * edge_shares(arrays)
    edges = np.flatnonzero(forward_edges(arrays)).astype(np.int32)
    visible = visible_nodes(arrays, ())
    return cut_into_columns(arrays, plies_of(arrays), visible, edges, weight)


def crossings_one_by_one(columns: Columns, place: np.ndarray) -> int:
    segments = list(zip(columns.source.tolist(), columns.target.tolist(), strict=True))
    crossings = 0
    for (a, b), (c, d) in combinations(segments, 2):
        if columns.column[a] == columns.column[c]:
            crossings += bool((place[a] - place[c]) * (place[b] - place[d]) < 0)
    return crossings


def reached_without(repertoire: Repertoire, closed: set[int]) -> set[int]:
    """Keys of the positions that a walk from the roots meets when it ends at `closed` keys."""
    found = {root.key for root in repertoire.roots}
    stack = list(repertoire.roots)
    while stack:
        node = stack.pop()
        if node.key in closed:
            continue
        for edge in node.edges:
            if edge.child.key not in found:
                found.add(edge.child.key)
                stack.append(edge.child)
    return found


@given(graphs)
def test_every_move_leads_to_the_right_unless_it_closes_a_cycle(repertoire: Repertoire) -> None:
    arrays, plan = laid_out(repertoire)
    ahead = plan.x[arrays.child[plan.edges]] > plan.x[arrays.parent[plan.edges]]
    assert (ahead | plan.closing).all()
    assert sorted(plan.edges.tolist()) == list(range(len(arrays.edges)))
    # What is marked as closing is what the arrays cut, so a graph without cycles has none.
    assert set(plan.edges[~plan.closing].tolist()) == set(arrays.level_edges.tolist())


@given(graphs)
def test_no_two_positions_and_no_bend_share_a_place(repertoire: Repertoire) -> None:
    _, plan = laid_out(repertoire)
    shown = np.flatnonzero(plan.visible)
    taken = list(zip(plan.x[shown].tolist(), plan.y[shown].tolist(), strict=True))
    for number in range(len(plan.edges)):
        points = plan.route[plan.route_start[number] : plan.route_start[number + 1]]
        taken += [(int(x), int(y)) for x, y in points[1:-1]]
    assert len(set(taken)) == len(taken)
    assert min(y for _, y in taken) == 0


@given(graphs)
def test_routes_run_from_the_position_before_to_the_one_behind(repertoire: Repertoire) -> None:
    arrays, plan = laid_out(repertoire)
    for number, edge in enumerate(plan.edges.tolist()):
        points = plan.route[plan.route_start[number] : plan.route_start[number + 1]].tolist()
        parent, child = arrays.parent[edge], arrays.child[edge]
        assert points[0] == [plan.x[parent], plan.y[parent]]
        assert points[-1] == [plan.x[child], plan.y[child]]
        if not plan.closing[number]:
            assert [x for x, _ in points] == list(range(plan.x[parent], plan.x[child] + 1))


@given(graphs, st.randoms(use_true_random=False))
def test_crossings_are_counted_as_one_by_one(repertoire: Repertoire, rng: random.Random) -> None:
    columns = columns_of(repertoire)
    reading = reading_order(columns)
    assert crossing_count(columns, reading) == crossings_one_by_one(columns, reading)
    mixed = np.empty_like(reading)
    for column in range(columns.width):
        members = np.flatnonzero(columns.column == column)
        mixed[members] = rng.sample(range(len(members)), len(members))
    assert crossing_count(columns, mixed) == crossings_one_by_one(columns, mixed)


@pytest.mark.parametrize("seed", range(12))
def test_ordering_takes_crossings_away(seed: int) -> None:
    columns = columns_of(random_repertoire(seed, lines=14, plies=10))
    before = crossings_one_by_one(columns, reading_order(columns))
    after = crossings_one_by_one(columns, ordered(columns))
    assert after < before


@given(graphs)
def test_ordering_never_adds_crossings_and_keeps_columns_whole(repertoire: Repertoire) -> None:
    columns = columns_of(repertoire)
    place = ordered(columns)
    assert crossings_one_by_one(columns, place) <= crossings_one_by_one(
        columns, reading_order(columns)
    )
    for column in range(columns.width):
        here = sorted(place[columns.column == column].tolist())
        assert here == list(range(len(here)))


@given(st.integers(0, 10_000), st.integers(2, 80))
def test_a_tree_has_no_crossing(seed: int, count: int) -> None:
    _, plan = laid_out(random_graph(seed, count, joins=0.0, width=4))
    assert plan.crossings == 0


@given(graphs, st.data())
def test_folding_hides_what_only_leads_through_the_folded(
    repertoire: Repertoire, data: st.DataObject
) -> None:
    count = len(repertoire.nodes)
    folded = frozenset(data.draw(st.sets(st.integers(0, count - 1), max_size=4)))
    arrays, plan = laid_out(repertoire, folded)
    keys = {arrays.nodes[number].key for number in folded}
    expected = reached_without(repertoire, keys)
    shown = {arrays.nodes[number].key for number in np.flatnonzero(plan.visible)}
    # A position that no root leads to cannot be walked to here; the generator makes none.
    assert shown == expected
    for number in range(count):
        if number in folded and plan.visible[number]:
            without = keys - {arrays.nodes[number].key}
            unfolded = reached_without(repertoire, without)
            assert plan.hidden[number] == len(unfolded - expected)
        else:
            assert plan.hidden[number] == 0
    assert all(int(parent) not in folded for parent in arrays.parent[plan.edges])


@given(graphs)
def test_the_same_repertoire_gives_the_same_plan(repertoire: Repertoire) -> None:
    _, first = laid_out(repertoire)
    _, again = laid_out(repertoire)
    for name in ("x", "y", "edges", "closing", "route", "route_start", "weight"):
        assert np.array_equal(getattr(first, name), getattr(again, name))


def test_the_likeliest_line_keeps_its_row() -> None:
    repertoire = repertoire_of(
        [
            "d3 d5 Nf3 Nf6 g3 c5",
            "d3 d5 Nf3 Nf6 c3",
            "d3 d5 g3 e5",
            "d3 d5 Nf3 c5 g3",
            "Nf3 c5 c4",
        ]
    )
    arrays, plan = laid_out(repertoire)
    moves = ["d3", "d5", "Nf3", "Nf6", "g3", "c5"]
    main = [node_after(repertoire, " ".join(moves[:made])) for made in range(7)]
    rows = {int(plan.y[arrays.number(node)]) for node in main}
    assert len(rows) == 1


def test_columns_count_half_moves_and_leave_out_what_is_empty() -> None:
    repertoire = repertoire_of(["d3 d5"])
    late = repertoire_of(["Kd2 Kd7"], fen="4k3/8/8/8/8/8/8/4K3 w - - 0 30")
    repertoire.sections += late.sections
    late.sections[0].tags["FEN"] = "4k3/8/8/8/8/8/8/4K3 w - - 0 30"
    repertoire.nodes.update(late.nodes)
    _, plan = laid_out(repertoire)
    assert plan.ply.tolist() == [0, 1, 2, 58, 59, 60]
    assert plan.x.tolist() == [0, 1, 2, 3, 4, 5]


def test_a_crossing_is_one_place_where_the_lines_meet() -> None:
    repertoire = repertoire_of(["d4 Nf6 Nf3 g6 Nc3 d5 Bf4", "d4 Nf6 Nc3 d5 Bf4 g6 Nf3"])
    arrays, plan = laid_out(repertoire)
    met = arrays.number(node_after(repertoire, "d4 Nf6 Nf3 g6 Nc3 d5 Bf4"))
    ends = [
        plan.route[plan.route_start[number + 1] - 1].tolist()
        for number in np.flatnonzero(arrays.child[plan.edges] == met)
    ]
    assert len(ends) == 2
    assert ends[0] == ends[1] == [plan.x[met], plan.y[met]]


def test_nothing_to_show_is_an_empty_plan() -> None:
    _, plan = laid_out(Repertoire())
    assert (plan.width, plan.height, plan.crossings) == (0, 0, 0)


@given(st.integers(0, 10_000), st.integers(2, 80), st.integers(5, 40))
def test_what_is_unlikely_is_folded_at_first(seed: int, count: int, most: int) -> None:
    arrays = RepertoireArrays.compile(random_graph(seed, count, cycles=0.1, roots=2))
    weights = reach(arrays)
    folded = unlikely(arrays, weights, most)
    shown = visible_nodes(arrays, folded)
    if len(arrays.nodes) <= most:
        assert not folded
    last = {number for number in np.flatnonzero(shown).tolist() if not arrays.edges_of(number)}
    assert shown.sum() - len(last) <= most
    assert shown[arrays.roots].all()
    # Each count hides something, and more than the last position of a line.
    plan = layout(arrays, weights, folded)
    assert all(plan.hidden[number] > 0 for number in folded if len(arrays.edges_of(number)))


def test_the_likeliest_lines_are_shown_at_first() -> None:
    repertoire = repertoire_of(
        ["d3 d5 Nf3 Nf6 g3 c5", "Nf3 d5 d4 c5 c3 e6", "c4 e5 Nc3 Nf6 g3 d5"]
    )
    arrays = RepertoireArrays.compile(repertoire)
    folded = unlikely(arrays, reach(arrays), most=9)
    shown = visible_nodes(arrays, folded)
    assert all(
        shown[arrays.number(node_after(repertoire, line))]
        for line in ("d3 d5 Nf3 Nf6 g3 c5", "Nf3", "c4")
    )
    assert not shown[arrays.number(node_after(repertoire, "c4 e5 Nc3 Nf6"))]
