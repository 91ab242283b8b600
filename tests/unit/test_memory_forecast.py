"""The load ahead, depth in hand with and without a drill, and what was missed lately."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.memory_graphs import node_after, random_graph, repertoire_of
from trainer.memory.days import StudyDays
from trainer.memory.forecast import depth_outlook, figures, load, missed_lately
from trainer.memory.model import UNSEEN_RECALL, MemoryState, MemoryStates
from trainer.memory.plan import Timing
from trainer.memory.planner import plan_session
from trainer.repertoire.arrays import RepertoireArrays
from trainer.repertoire.graph import Node
from trainer.repertoire.reach import reach
from trainer.storage.answers import Answer, AnswerKind, Grade

NOW = datetime(2026, 3, 2, 12, tzinfo=UTC)
TODAY = MemoryStates().today(NOW)


def answer(
    node: Node,
    days_ago: float,
    grade: Grade,
    kind: AnswerKind = AnswerKind.DRILL,
    move: str | None = None,
) -> Answer:
    return Answer(
        repertoire_id=1,
        key=node.key,
        move=move or node.edges[0].move.uci(),
        kind=kind,
        at=NOW - timedelta(days=days_ago),
        grade=grade,
    )


@settings(max_examples=40, deadline=None)
@given(
    memories=st.lists(st.tuples(st.floats(0.1, 60), st.integers(0, 40)), max_size=30),
    retention=st.sampled_from([0.8, 0.9, 0.95, 0.97]),
)
def test_load_equals_counting_day_by_day(
    memories: list[tuple[float, int]], retention: float
) -> None:
    repertoire = random_graph(1, 120)
    arrays = RepertoireArrays.compile(repertoire)
    states = MemoryStates()
    for node, (stability, ago) in zip(repertoire.decisions(), memories, strict=False):
        state = MemoryState(stability, 5.0, TODAY - ago)
        states.put(node.key, node.edges[0].move.uci(), state)
    table = states.table(arrays)
    found = load(table, TODAY, days=states.days, desired_retention=retention)
    below = set()
    for number, day in enumerate(found):
        now = {int(index) for index in np.flatnonzero(table.recall(TODAY + number) < retention)}
        now &= {int(index) for index in np.flatnonzero(table.seen)}
        assert day.positions == len(now - below)
        assert day.day == NOW.date() + timedelta(days=number)
        assert (day.minutes > 0) == (day.positions > 0)
        below |= now
    assert len(found) == 14


def test_depth_outlook_by_hand() -> None:
    repertoire = repertoire_of(["e4 e5 Nf3"])
    arrays = RepertoireArrays.compile(repertoire)
    states = MemoryStates()
    plan = plan_session(arrays, states, reach(arrays), minutes=10, now=NOW)
    depth = depth_outlook(arrays, states.table(arrays), plan, TODAY)
    unseen = UNSEEN_RECALL * (1 + UNSEEN_RECALL)
    assert depth.now == depth.without == pytest.approx(unseen)
    assert depth.full == 2.0
    # A new move: Good gives a stability of 2.3065 days, Again one of 0.212 (published w2, w0).
    recall = [(1 + (0.9 ** (-1 / 0.1542) - 1) / s) ** -0.1542 for s in (2.3065, 0.212)]
    learnt = UNSEEN_RECALL * recall[0] + (1 - UNSEEN_RECALL) * recall[1]
    assert depth.drilled == pytest.approx(learnt * (1 + learnt))


@settings(max_examples=30, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_a_drill_never_looks_worse_than_none(seed: int) -> None:
    repertoire = random_graph(seed, 80)
    arrays = RepertoireArrays.compile(repertoire)
    states = MemoryStates()
    for number, node in enumerate(repertoire.decisions()):
        if number % 3:
            state = MemoryState(0.5 + number % 20, 5.0, TODAY - number % 30)
            states.put(node.key, node.edges[0].move.uci(), state)
    plan = plan_session(arrays, states, reach(arrays), minutes=5, now=NOW)
    depth = depth_outlook(arrays, states.table(arrays), plan, TODAY)
    assert depth.without <= depth.now
    assert depth.without <= depth.drilled <= depth.full


def test_missed_lately() -> None:
    repertoire = repertoire_of(["e4 e5 Nf3 Nc6 Bb5", "e4 e5 Nc3"])
    first, second = node_after(repertoire, ""), node_after(repertoire, "e4 e5")
    third = node_after(repertoire, "e4 e5 Nf3 Nc6")
    log = [
        answer(third, 30, Grade.MISSED),
        answer(first, 9, Grade.MISSED),
        answer(second, 5, Grade.MISSED),
        answer(second, 5, Grade.MISSED, AnswerKind.REPEAT),
        answer(second, 2, Grade.MISSED, move="b1c3"),
        answer(third, 1, Grade.HINTED),
        answer(first, 1, Grade.CLEAN),
        answer(second, 1, Grade.MISSED),
    ]
    found = missed_lately(repertoire, log, NOW)
    assert [item.node for item in found] == [second, first]
    assert found[0].edge.san == "Nf3"
    assert found[0].remark == "missed 2 times, last on 1 March"
    assert found[1].remark == "missed once, last on 21 February"
    assert found[0].order.sans == ("e4", "e5")
    west = StudyDays(timezone(timedelta(hours=-10)))
    (only,) = missed_lately(repertoire, log, NOW, days=west, most=1)
    assert only.node is second
    assert only.remark == "missed 2 times, last on 28 February"


def test_a_move_missed_today_is_not_in_hand() -> None:
    repertoire = repertoire_of(["e4"])
    arrays = RepertoireArrays.compile(repertoire)
    (start,) = repertoire.decisions()
    states = MemoryStates.from_answers([answer(start, 0, Grade.MISSED)])
    plan = plan_session(arrays, states, reach(arrays), minutes=10, now=NOW)
    depth = depth_outlook(arrays, states.table(arrays), plan, TODAY)
    assert plan.questions == ()
    # R(1 day) at the published first stability after Again, 0.212 days.
    expected = (1 + (0.9 ** (-1 / 0.1542) - 1) / 0.212) ** -0.1542
    assert depth.now == depth.without == depth.drilled == pytest.approx(expected)


def test_figures_of_a_first_day() -> None:
    repertoire = repertoire_of(["e4 e5 Nf3 Nc6 Bb5", "e4 c5 Nf3"])
    arrays = RepertoireArrays.compile(repertoire)
    states = MemoryStates()
    plan = plan_session(arrays, states, reach(arrays), minutes=10, now=NOW)
    today = figures(repertoire, arrays, states, plan, [], now=NOW)
    assert today.first_time
    assert (today.decisions, today.learnt, today.worth_asking) == (4, 0, 4)
    assert (today.questions, today.new_questions) == (4, 4)
    assert today.planned_minutes == pytest.approx(plan.expected_seconds / 60)
    assert sum(day.positions for day in today.load) == 0
    assert Timing().question(UNSEEN_RECALL) * 4 / 60 < today.minutes_needed < 1.1
