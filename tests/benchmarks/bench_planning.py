"""Memory and planning over 50,000 positions (arrays over 100,000), and the drill's own work.

The repertoire is made of real boards: random legal lines that branch at the opponent's moves.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable
from datetime import UTC, datetime
from functools import cache

from tests.benchmarks.figures import Figure
from tests.memory_graphs import random_graph, random_repertoire
from trainer.memory.drill import DrillSettings, PromptKind
from trainer.memory.forecast import figures
from trainer.memory.model import MemoryState, MemoryStates
from trainer.memory.planner import plan_session, planning_graph
from trainer.memory.review_index import compute_review_index
from trainer.memory.session import DrillSession, Journal
from trainer.repertoire.arrays import RepertoireArrays
from trainer.repertoire.graph import Repertoire
from trainer.repertoire.reach import depth_in_hand, reach
from trainer.storage.answers import Answer, AnswerKind, Grade

NOW = datetime(2026, 3, 2, 12, tzinfo=UTC)


@cache
def repertoire() -> Repertoire:
    return random_repertoire(1, lines=3_640, plies=18)


@cache
def large() -> Repertoire:
    return random_graph(1, 100_000)


@cache
def states() -> MemoryStates:
    """A memory of seven decisions in ten, of all ages."""
    rng = random.Random(2)
    found = MemoryStates()
    today = found.today(NOW)
    for node in repertoire().decisions():
        if rng.random() < 0.7:
            state = MemoryState(rng.uniform(0.2, 200.0), 5.0, today - rng.randint(1, 60))
            found.put(node.key, node.edges[0].move.uci(), state)
    return found


def milliseconds(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return (time.perf_counter() - start) * 1000


def figure(name: str, value: float, limit: float | None = None) -> Figure:
    if limit is None:
        return Figure(name, value, "ms")
    return Figure(name, value, "ms", goal=f"under {limit:g} ms", met=value < limit)


def measure() -> list[Figure]:
    arrays = RepertoireArrays.compile(repertoire())
    count = f"{len(arrays.nodes):,} positions"
    weight = reach(arrays)
    table = states().table(arrays)
    today = states().today(NOW)
    recall = table.recall(today)
    graph = planning_graph(arrays)
    column = recall[graph.nodes][:, None]

    def plan() -> object:
        return plan_session(arrays, states(), weight, minutes=10, now=NOW)

    def show() -> object:
        planned = plan_session(arrays, states(), weight, minutes=10, now=NOW, table=table)
        return figures(repertoire(), arrays, states(), planned, [], now=NOW, table=table)

    return [
        figure("arrays: compile 100,000 positions", compile_of(large())),
        figure(f"arrays: compile {count}", compile_of(repertoire())),
        figure(f"reach of {count}", milliseconds(lambda: reach(arrays))),
        figure(f"recall of {count}", milliseconds(lambda: table.recall(today)), 20),
        figure(f"depth in hand, {count}", milliseconds(lambda: depth_in_hand(arrays, recall))),
        figure(f"planning 10 minutes, {count}", milliseconds(plan), 200),
        figure(f"figures for Today, {count}", milliseconds(show)),
        *drill(arrays),
        figure("memory from a log of 50,000 answers", milliseconds(replay)),
        figure("review index of new parameters", milliseconds(compute_review_index)),
        figure("value of every move, 1 player", milliseconds(lambda: graph.worth(column))),
    ]


def compile_of(repertoire: Repertoire) -> float:
    return milliseconds(lambda: RepertoireArrays.compile(repertoire))


def drill(arrays: RepertoireArrays) -> list[Figure]:
    """A session with strangers: opening it, and the slowest and usual answer of it."""
    memory = MemoryStates()
    for place in states():
        memory.put(*place, states().get(*place))
    plan = plan_session(arrays, memory, reach(arrays), minutes=20, now=NOW)
    start = time.perf_counter()
    session = DrillSession(
        repertoire(),
        arrays,
        plan,
        memory,
        journal=Journal(1, 1, lambda _answer: 1, lambda _id: None, lambda _key, _note: None),
        clock=lambda: NOW,
        rng=random.Random(3),
        settings=DrillSettings(stranger_rate=0.2),
    )
    opening = (time.perf_counter() - start) * 1000
    times = []
    while (prompt := session.prompt) is not None:
        if prompt.kind is PromptKind.STRANGER:
            times.append(milliseconds(lambda: session.left_known_lines(1.0)))
            continue
        move = prompt.node.edges[0].move
        times.append(milliseconds(lambda move=move: session.answer(move, 2.0)))
    times.sort()
    return [
        figure(f"drill: open a session, {len(arrays.nodes):,} positions", opening),
        figure("drill: an answer, median", times[len(times) // 2], 5),
        figure("drill: an answer, 95th percentile", times[int(len(times) * 0.95)], 5),
        figure("drill: the slowest answer", times[-1]),
    ]


def replay() -> MemoryStates:
    rng = random.Random(4)
    nodes = repertoire().decisions()[:10_000]
    answers = [
        Answer(
            repertoire_id=1,
            key=node.key,
            move=node.edges[0].move.uci(),
            kind=AnswerKind.DRILL,
            at=NOW,
            grade=rng.choice([Grade.CLEAN, Grade.SLOW, Grade.MISSED]),
        )
        for _ in range(5)
        for node in nodes
    ]
    return MemoryStates.from_answers(answers)
