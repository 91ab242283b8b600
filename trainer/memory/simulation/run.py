"""The simulation itself: days of drills under each policy, and what is then known."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np

from trainer.memory.plan import Timing
from trainer.memory.simulation.learners import Learners
from trainer.memory.simulation.policies import Policy
from trainer.memory.simulation.sitting import Sitting
from trainer.memory.value import DecisionGraph
from trainer.repertoire.arrays import Floats

#: After these days the yield is told, as far as the simulation runs, and after its last day.
TOLD_AFTER: Final = (30, 60, 180)


@dataclass(frozen=True)
class Yield:
    """Depth in hand as a share of what perfect memory gives: mean and its standard error."""

    mean: float
    se: float


@dataclass(frozen=True)
class Outcome:
    """What one policy came to.

    `yields` is by day; `samples` holds each player's. `answers` is the mean number of answers of
    a player, `replay_share` the part of them that nothing was gained by, `plan_ms` what choosing
    the questions of a day took for one player, `minutes` what he spent a day.
    """

    name: str
    yields: dict[int, Yield]
    samples: dict[int, tuple[float, ...]]
    answers: float
    replay_share: float
    plan_ms: float
    minutes: float


def told_days(days: int) -> tuple[int, ...]:
    """The days after which the yield is told."""
    return tuple(sorted({day for day in (*TOLD_AFTER, days) if day <= days}))


def simulate(
    graph: DecisionGraph,
    policy: Policy,
    learners: Learners,
    *,
    minutes: float,
    days: int,
    timing: Timing | None = None,
    progress: Callable[[int], None] | None = None,
) -> Outcome:
    """Let the players drill `minutes` on each of `days` days; `graph` is that of real games.

    What answers take is the usual unless `timing` says otherwise. The yield is taken on the
    morning after.
    """
    truth, belief = learners.truth(), learners.belief()
    full = graph.depth(np.ones((len(graph), 1)))[0]
    answers, replays, spent = 0, 0, 0.0
    planning = 0.0
    samples: dict[int, Floats] = {}
    players = learners.shape[1]
    for day in range(1, days + 1):
        right = learners.luck(day) < truth.recall(day)
        sitting = Sitting(day, minutes * 60, right, belief, timing or Timing())
        begun = time.perf_counter()
        policy.drill(sitting)
        planning += time.perf_counter() - begun
        rows, columns = np.nonzero(sitting.asked)
        truth.review(rows, columns, right[rows, columns], day)
        answers += int(sitting.answers.sum())
        replays += int(sitting.replays.sum())
        spent += float(sitting.spent.sum())
        if day in told_days(days):
            samples[day] = graph.depth(truth.recall(day + 1)) / full
        if progress is not None:
            progress(day)
    return Outcome(
        name=policy.name,
        yields={day: _yield(values) for day, values in samples.items()},
        samples={day: tuple(values.tolist()) for day, values in samples.items()},
        answers=answers / players,
        replay_share=replays / max(1, answers),
        plan_ms=planning * 1000 / (players * days),
        minutes=spent / 60 / (players * days),
    )


def _yield(values: Floats) -> Yield:
    count = len(values)
    error = float(values.std(ddof=1)) / count**0.5 if count > 1 else 0.0
    return Yield(float(values.mean()), error)
