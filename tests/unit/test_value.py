"""What knowing a move is worth: against brute-force enumeration of games, and differences."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.memory_graphs import random_graph, repertoire_of
from trainer.memory.value import DecisionGraph
from trainer.repertoire.arrays import Floats, RepertoireArrays
from trainer.repertoire.reach import depth_in_hand, edge_shares, root_shares


def games(
    arrays: RepertoireArrays, shares: Floats, starts: Floats
) -> list[tuple[float, list[int]]]:
    """Every game that stays in the repertoire to a line's end: probability, decisions met.

    The player plays main moves. A game may also leave at replies that are not prepared.
    """
    forward = set(arrays.level_edges.tolist())
    found = []

    def walk(node: int, chance: float, met: list[int]) -> None:
        if arrays.decision[node]:
            edge = int(arrays.main_edge[node])
            met = [*met, node]
            if edge in forward:
                walk(int(arrays.child[edge]), chance, met)
            else:
                found.append((chance, met))
            return
        replies = [edge for edge in arrays.edges_of(node) if edge in forward]
        left = 1.0
        for edge in replies:
            left -= shares[edge]
            walk(int(arrays.child[edge]), chance * shares[edge], met)
        found.append((chance * left, met))

    for root in np.flatnonzero(starts).tolist():
        walk(root, float(starts[root]), [])
    return found


def brute_force(arrays: RepertoireArrays, shares: Floats, starts: Floats, recall: Floats) -> float:
    """The expected number of moves in a row: each of a game's moves counts if all before do."""
    total = 0.0
    for chance, met in games(arrays, shares, starts):
        alive = 1.0
        for node in met:
            alive *= recall[node]
            total += chance * alive
    return total


@settings(max_examples=60, deadline=None)
@given(
    seed=st.integers(0, 10**6),
    count=st.integers(2, 60),
    cycles=st.sampled_from([0.0, 0.1]),
    side=st.booleans(),
    prepared=st.sampled_from([0.7, 1.0]),
)
def test_depth_and_its_derivative(
    seed: int, count: int, cycles: float, side: bool, prepared: float
) -> None:
    repertoire = random_graph(seed, count, cycles=cycles, roots=1 + seed % 2, side=side)
    arrays = RepertoireArrays.compile(repertoire)
    shares = edge_shares(arrays, None, 0.0)
    shares[~arrays.decision[arrays.parent]] *= prepared
    starts = root_shares(arrays)
    graph = DecisionGraph.of(arrays, shares, starts)
    recall = np.random.default_rng(seed).uniform(0.1, 1.0, len(arrays.nodes))
    column = recall[graph.nodes][:, None]
    depth = graph.depth(column)[0] if len(graph) else 0.0
    assert depth == pytest.approx(brute_force(arrays, shares, starts, recall))
    if prepared == 1.0:
        assert depth == pytest.approx(depth_in_hand(arrays, recall))
    worth = graph.worth(column)[:, 0]
    step = 1e-6
    for place, node in enumerate(graph.nodes.tolist()):
        more = recall.copy()
        more[node] += step
        rise = brute_force(arrays, shares, starts, more)
        less = recall.copy()
        less[node] -= step
        rise -= brute_force(arrays, shares, starts, less)
        assert worth[place] == pytest.approx(rise / (2 * step), abs=1e-6)


def test_many_players_at_once_are_each_on_their_own() -> None:
    arrays = RepertoireArrays.compile(random_graph(3, 80))
    graph = DecisionGraph.of(arrays, edge_shares(arrays, None, 0.0), root_shares(arrays))
    recall = np.random.default_rng(1).uniform(0.0, 1.0, (len(graph), 5))
    for player in range(5):
        alone = recall[:, [player]]
        assert graph.worth(recall)[:, [player]] == pytest.approx(graph.worth(alone))
        assert graph.depth(recall)[player] == pytest.approx(graph.depth(alone)[0])


def test_by_hand() -> None:
    # e4, then 1…e5 or 1…c5, each half the time: V = R·(1 + ½·R₁·(1 + R₂) + ½·R₃).
    arrays = RepertoireArrays.compile(repertoire_of(["e4 e5 Nf3 Nc6 Bb5", "e4 c5 c3"]))
    graph = DecisionGraph.of(arrays, edge_shares(arrays), root_shares(arrays))
    recall = np.array([[0.9], [0.8], [0.7], [0.6]])
    assert graph.depth(recall)[0] == pytest.approx(0.9 * (1 + 0.5 * 0.8 * 1.7 + 0.5 * 0.6))
    assert graph.behind(recall)[:, 0] == pytest.approx([1 + 0.4 * 1.7 + 0.3, 1.7, 1, 1])
    assert graph.arrival(recall)[:, 0] == pytest.approx([1, 0.45, 0.36, 0.45])


def test_a_repertoire_of_nothing_is_worth_nothing() -> None:
    arrays = RepertoireArrays.compile(repertoire_of([]))
    graph = DecisionGraph.of(arrays, edge_shares(arrays), root_shares(arrays))
    assert len(graph) == 0
    assert graph.depth(np.ones((0, 2))) == pytest.approx([0, 0])
