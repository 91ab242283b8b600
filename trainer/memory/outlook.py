"""The weeks ahead: minutes a day, what a section would cost, and when a line-up will be ready.

The player's memory is played forward some times over, by what the program believes of it: each
answer falls as the model says, and is counted as it would be. What is told are means over these
trials, so they change by a little from seed to seed, and not at all with the same seed.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from trainer.memory.model import MemoryTable
from trainer.memory.plan import Timing
from trainer.memory.review_index import ReviewIndex
from trainer.memory.simulation.learners import Memories
from trainer.memory.simulation.policies import HALF_A_REPLY, review_index
from trainer.memory.simulation.sitting import Sitting
from trainer.memory.value import DecisionGraph
from trainer.repertoire.arrays import Bools, Floats, RepertoireArrays
from trainer.repertoire.graph import Edge, Node, Section

#: How many days the forecast covers, and how often each future is played through.
FORECAST_DAYS: Final = 30
TRIALS: Final = 8
#: A line-up is ready when depth in hand is this share of what perfect memory gives.
READY: Final = 0.9
#: What is added is introduced over the first so many days.
INTRODUCED_OVER: Final = 10
#: The most minutes a day that are tried.
MOST_MINUTES: Final = 120


@dataclass(frozen=True)
class MinutesAhead:
    """Minutes of each coming day, the first one today."""

    minutes: tuple[float, ...]

    @property
    def mean(self) -> float:
        """Minutes a day."""
        return sum(self.minutes) / max(1, len(self.minutes))


@dataclass(frozen=True)
class Readiness:
    """What a line-up comes to on a day that is `days` ahead.

    `minutes` a day make it ready, None where `MOST_MINUTES` do not. `depth` is what is expected
    on that day at `chosen` minutes a day, as a share of perfect memory.
    """

    days: int
    minutes: int | None
    chosen: int
    depth: float


def minutes_ahead(
    graph: DecisionGraph,
    table: MemoryTable,
    today: int,
    retention: float | Floats,
    *,
    added: Iterable[int] = (),
    days: int = FORECAST_DAYS,
    seed: int = 0,
    timing: Timing | None = None,
) -> MinutesAhead:
    """The minutes that keeping everything learnt at `retention` takes on the coming days.

    `retention` is one number, or one for each position (n). `added` are numbers of positions
    (those not learnt yet count) that are introduced evenly over the first days. What answers
    take is the usual unless `timing` says otherwise.
    """
    rng = np.random.default_rng([seed, 2])
    memories = _memories(graph, table, TRIALS)
    bound = np.broadcast_to(np.asarray(retention), table.stability.shape)[graph.nodes][:, None]
    new = [int(row) for number in added if (row := graph.place[number]) >= 0]
    new = [row for row in new if np.isnan(memories.stability[row, 0])]
    fresh = np.full(len(graph), -1)
    fresh[new] = np.arange(len(new)) * INTRODUCED_OVER // max(1, len(new))
    timing = timing or Timing()
    minutes = []
    for day in range(today, today + days):
        recall = memories.recall(day)
        asked = memories.seen & (recall < bound) & (memories.day < day)
        asked |= (fresh == day - today)[:, None] & ~memories.seen
        right = rng.random(recall.shape) < recall
        cost = np.where(right, timing.right, timing.missed) + timing.getting_there
        minutes.append(float((asked * cost).sum()) / TRIALS / 60)
        rows, columns = np.nonzero(asked)
        memories.review(rows, columns, right[rows, columns], day)
    return MinutesAhead(tuple(minutes))


def cost_of_adding(
    graph: DecisionGraph,
    table: MemoryTable,
    today: int,
    retention: float | Floats,
    added: Sequence[int],
    *,
    seed: int = 0,
    timing: Timing | None = None,
) -> float:
    """Minutes a day that learning these positions adds over the coming days."""
    without = minutes_ahead(graph, table, today, retention, seed=seed, timing=timing)
    with_them = minutes_ahead(
        graph, table, today, retention, added=added, seed=seed, timing=timing
    )
    return max(0.0, with_them.mean - without.mean)


def depth_on(
    graph: DecisionGraph,
    table: MemoryTable,
    index: ReviewIndex,
    today: int,
    *,
    minutes: float,
    days: int,
    seed: int = 0,
    trials: int = TRIALS,
    timing: Timing | None = None,
) -> float:
    """Expected depth in hand in `days` days, at `minutes` a day, as a share of perfect memory.

    Each day before it is drilled, today as well where it was not drilled yet.
    """
    full = float(graph.depth(np.ones((len(graph), 1)))[0])
    if not full:
        return 0.0
    rng = np.random.default_rng([seed, 3])
    memories = _memories(graph, table, trials)
    policy = review_index(graph, index, HALF_A_REPLY)
    for day in range(today, today + days):
        right: Bools = rng.random(memories.stability.shape) < memories.recall(day)
        sitting = Sitting(day, minutes * 60, right, memories, timing or Timing())
        sitting.asked |= memories.day == day
        policy.drill(sitting)
    return float(graph.depth(memories.recall(today + days)).mean()) / full


def readiness(
    graph: DecisionGraph,
    table: MemoryTable,
    index: ReviewIndex,
    today: int,
    *,
    days: int,
    chosen: int,
    seed: int = 0,
    timing: Timing | None = None,
) -> Readiness:
    """How many minutes a day make a line-up ready in `days` days, and what `chosen` come to.

    Found by halving, as more minutes are worth more.
    """

    def depth_with(minutes: int) -> float:
        return depth_on(
            graph, table, index, today, minutes=minutes, days=days, seed=seed, timing=timing
        )

    def reached(minutes: int) -> bool:
        return depth_with(minutes) >= READY

    low, high = 0, MOST_MINUTES
    least: int | None = None
    if reached(high):
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (low, middle) if reached(middle) else (middle, high)
        least = high
    return Readiness(days, least, chosen, depth_with(chosen))


def line_up(arrays: RepertoireArrays, shares: Floats, sections: Sequence[Section]) -> Floats:
    """The shares (m) of a repertoire of only these sections: all moves that lead to them and on.

    Replies of other sections keep no share, and those that are left have it among them.
    """
    kept: set[Edge] = set()
    pending: list[Node] = []
    wanted: set[Node] = set()
    for section in sections:
        kept.update(section.stands)
        pending.append(section.root)
        pending.extend(edge.parent for edge in section.stands)
    while pending:
        node = pending.pop()
        if node in wanted:
            continue
        wanted.add(node)
        kept.update(node.entries)
        pending.extend(edge.parent for edge in node.entries)
    mask = np.fromiter((edge in kept for edge in arrays.edges), np.bool_, len(arrays.edges))
    limited = np.where(mask, shares, 0.0)
    opponents = ~arrays.decision[arrays.parent]
    count = len(arrays.nodes)
    whole = np.bincount(arrays.parent, shares, minlength=count)[arrays.parent]
    left = np.bincount(arrays.parent, limited, minlength=count)[arrays.parent]
    scale = np.where(opponents & (left > 0), whole / np.where(left > 0, left, 1.0), 1.0)
    return limited * scale


def _memories(graph: DecisionGraph, table: MemoryTable, trials: int) -> Memories:
    """The memory of each decision as it is believed to be, once for each trial."""
    shape = (len(graph), trials)
    memories = Memories(np.array(table.model.parameters)[:, None], shape, 0.0)
    for name in ("stability", "difficulty", "day"):
        values = getattr(table, name)[graph.nodes]
        setattr(memories, name, np.repeat(values[:, None], trials, axis=1))
    return memories
