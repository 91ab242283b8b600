"""The weeks ahead: minutes a day, the cost of what is added, and when a line-up is ready."""

from __future__ import annotations

import numpy as np
import pytest

from tests.memory_graphs import add_lines, prepared_repertoire, random_graph, repertoire_of
from trainer.memory.index_store import shipped_index
from trainer.memory.model import MemoryState, MemoryStates
from trainer.memory.outlook import (
    READY,
    cost_of_adding,
    depth_on,
    line_up,
    minutes_ahead,
    readiness,
)
from trainer.memory.simulation.report import game_graph
from trainer.memory.value import DecisionGraph
from trainer.repertoire.arrays import RepertoireArrays
from trainer.repertoire.graph import Repertoire
from trainer.repertoire.reach import edge_shares, root_shares

TODAY = 700_000


def learnt(repertoire: Repertoire, share: int = 1, stability: float = 5.0) -> MemoryStates:
    states = MemoryStates()
    for number, node in enumerate(repertoire.decisions()):
        if number % share == 0:
            state = MemoryState(stability, 5.0, TODAY - 3)
            states.put(node.key, node.edges[0].move.uci(), state)
    return states


def test_minutes_ahead_of_one_certain_memory_by_hand() -> None:
    repertoire = repertoire_of(["e4"])
    arrays = RepertoireArrays.compile(repertoire)
    table = learnt(repertoire, stability=5.0).table(arrays)
    found = minutes_ahead(game_graph(arrays), table, TODAY, 0.9, days=3)
    # Recall is 0.9 on the fifth day after the review, so below it from the sixth on: not yet.
    assert found.minutes == (0.0, 0.0, 0.0)
    due = minutes_ahead(game_graph(arrays), table, TODAY, 0.97, days=1)
    # Due today: 4 s where right, 10 s where not, and half a move of the program.
    assert 4.4 / 60 <= due.minutes[0] <= 10.4 / 60


def test_nothing_learnt_takes_no_time_and_what_is_added_does() -> None:
    repertoire = random_graph(2, 60)
    arrays = RepertoireArrays.compile(repertoire)
    graph = game_graph(arrays)
    table = MemoryStates().table(arrays)
    assert sum(minutes_ahead(graph, table, TODAY, 0.9).minutes) == 0
    added = [arrays.number(node) for node in repertoire.decisions()]
    cost = cost_of_adding(graph, table, TODAY, 0.9, added)
    assert cost == minutes_ahead(graph, table, TODAY, 0.9, added=added).mean > 0
    assert cost_of_adding(graph, table, TODAY, 0.9, added[:5]) < cost
    # What is learnt already costs nothing more.
    table = learnt(repertoire).table(arrays)
    assert cost_of_adding(graph, table, TODAY, 0.9, added) == 0


def test_a_higher_retention_takes_more_minutes() -> None:
    repertoire = random_graph(3, 200)
    arrays = RepertoireArrays.compile(repertoire)
    graph, table = game_graph(arrays), learnt(repertoire).table(arrays)
    minutes = [minutes_ahead(graph, table, TODAY, bound).mean for bound in (0.8, 0.9, 0.97)]
    assert minutes == sorted(minutes)
    assert minutes[0] < minutes[-1]
    again = minutes_ahead(graph, table, TODAY, 0.9)
    assert again == minutes_ahead(graph, table, TODAY, 0.9)


def test_depth_grows_with_the_minutes_and_readiness_finds_how_many() -> None:
    repertoire, _ = prepared_repertoire(4, 60)
    arrays = RepertoireArrays.compile(repertoire)
    graph, index = game_graph(arrays), shipped_index()
    table = learnt(repertoire, share=3).table(arrays)

    def depth(minutes: float) -> float:
        return depth_on(graph, table, index, TODAY, minutes=minutes, days=10)

    assert depth(0) < depth(1) < depth(6) <= 1
    found = readiness(graph, table, index, TODAY, days=10, chosen=2)
    assert found.minutes is not None
    assert depth(found.minutes) >= READY > depth(found.minutes - 1)
    assert found.depth == depth(2)


def test_a_large_repertoire_is_not_ready_tomorrow() -> None:
    repertoire = random_graph(5, 4_000)
    arrays = RepertoireArrays.compile(repertoire)
    graph = game_graph(arrays)
    table = MemoryStates().table(arrays)
    found = readiness(graph, table, shipped_index(), TODAY, days=1, chosen=5)
    assert found.minutes is None


def test_a_line_up_is_only_its_sections_and_what_leads_to_them() -> None:
    repertoire = repertoire_of(["e4 e5 Nf3", "e4 c5 c3"])
    (first,) = repertoire.sections
    add_lines(repertoire, ["e4 e6 d4 d5 Nc3"])
    second = repertoire.sections[1]
    for edge in repertoire.edges():
        black = edge.parent.turn is False
        place = second if edge.san in ("e6", "d4", "d5", "Nc3") else first
        place.stands[edge] = None
        assert black or edge.san != "e6"
    arrays = RepertoireArrays.compile(repertoire)
    shares = edge_shares(arrays, None, 0.0)

    def depth(sections: list[object]) -> float:
        limited = line_up(arrays, shares, sections)  # type: ignore[arg-type]
        graph = DecisionGraph.of(arrays, limited, root_shares(arrays))
        return float(graph.depth(np.ones((len(graph), 1)))[0])

    assert depth([first]) == pytest.approx(2)
    assert depth([second]) == pytest.approx(3)
    assert depth([first, second]) == pytest.approx(1 + 1 / 3 + 1 / 3 + 2 / 3)
