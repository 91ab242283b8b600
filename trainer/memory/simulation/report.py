"""`stemline simulate`: all policies on one repertoire, as one object and as text."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from trainer.errors import UsageError
from trainer.memory.plan import Timing
from trainer.memory.review_index import ReviewIndex
from trainer.memory.simulation import policies
from trainer.memory.simulation.learners import Learners
from trainer.memory.simulation.lines import DueLines, LineBook, RandomLines, Sm2Lines
from trainer.memory.simulation.program import ProgramPlanner
from trainer.memory.simulation.run import Outcome, simulate, told_days
from trainer.memory.value import DecisionGraph
from trainer.repertoire.arrays import Floats, RepertoireArrays
from trainer.repertoire.graph import Repertoire
from trainer.repertoire.measured import Measured
from trainer.repertoire.reach import edge_shares, root_shares

#: Names of the policies that ask positions alone, so that `planner` stands out in the report.
PLANNER = "planner"


@dataclass(frozen=True)
class Trial:
    """What is simulated: minutes a day, days, how many players, and the seed of all chance.

    `jump` is how many seconds it takes to see where one is where a question begins cold.
    """

    minutes: float = 5.0
    days: int = 60
    learners: int = 12
    seed: int = 1
    jump: float = 0.0


@dataclass(frozen=True, eq=False)
class TrialReport:
    """The outcome of each policy, the program's own last."""

    repertoire: Path
    trial: Trial
    decisions: int
    depth: float
    outcomes: tuple[Outcome, ...]
    cold_share: float


def game_graph(arrays: RepertoireArrays, reply_shares: Floats | None = None) -> DecisionGraph:
    """The decisions as games meet them: main moves only.

    `reply_shares` (m) is the probability of each reply among all that opponents play; without it
    the known ones are equally likely.
    """
    return DecisionGraph.of(arrays, edge_shares(arrays, reply_shares, 0.0), root_shares(arrays))


def comparison(graph: DecisionGraph, index: ReviewIndex, seed: int) -> Iterator[policies.Policy]:
    """The policies that the program's own is compared with."""
    book = LineBook.of(graph)
    yield RandomLines(book, seed)
    yield Sm2Lines(book)
    yield DueLines(book, seed)
    yield policies.due_alone(graph)
    yield policies.loss(graph, 0.97)
    yield policies.loss(graph)
    yield policies.value_gain(graph)
    yield policies.review_index(graph, index)
    yield policies.review_index(graph, index, policies.HALF_A_REPLY)


def run_trial(
    path: Path,
    repertoire: Repertoire,
    index: ReviewIndex,
    trial: Trial,
    *,
    measured: Measured | None = None,
    progress: Callable[[str], None] | None = None,
) -> TrialReport:
    """Simulate every policy with the same players. Raises `UsageError` without decisions."""
    arrays = RepertoireArrays.compile(repertoire)
    reply_shares = None if measured is None else measured.shares(arrays)
    graph = game_graph(arrays, reply_shares)
    full = float(graph.depth(np.ones((len(graph), 1)))[0]) if len(graph) else 0.0
    if not full:
        raise UsageError(f"{path} has no prepared move, so there is nothing to simulate.")
    learners = Learners.draw(trial.seed, len(graph), trial.learners)
    planner = ProgramPlanner(arrays, graph, reply_shares, index=index, name=PLANNER)
    outcomes = []
    timing = Timing(jump=trial.jump)
    for policy in (*comparison(graph, index, trial.seed), planner):
        if progress is not None:
            progress(policy.name)
        outcomes.append(
            simulate(
                graph, policy, learners, minutes=trial.minutes, days=trial.days, timing=timing
            )
        )
    cold = planner.cold / max(1, planner.questions)
    return TrialReport(path, trial, len(graph), full, tuple(outcomes), cold)


def report_object(report: TrialReport) -> dict[str, object]:
    """What `--json` prints."""
    return {
        "repertoire": str(report.repertoire),
        "decisions": report.decisions,
        "depth": round(report.depth, 3),
        "minutes": report.trial.minutes,
        "days": report.trial.days,
        "learners": report.trial.learners,
        "seed": report.trial.seed,
        "jump": report.trial.jump,
        "policies": [_policy(outcome, report) for outcome in report.outcomes],
    }


def _policy(outcome: Outcome, report: TrialReport) -> dict[str, object]:
    found: dict[str, object] = {
        "name": outcome.name,
        "yield": {
            str(day): {"mean": round(one.mean, 4), "se": round(one.se, 4)}
            for day, one in outcome.yields.items()
        },
        "answers": round(outcome.answers, 1),
        "replay_share": round(outcome.replay_share, 4),
        "plan_ms": round(outcome.plan_ms, 2),
        "minutes": round(outcome.minutes, 2),
    }
    if outcome.name == PLANNER:
        found["cold_share"] = round(report.cold_share, 4)
    return found


def _jumping(trial: Trial) -> str:
    return f", {trial.jump:g} s for each question that begins cold" if trial.jump else ""


def report_text(report: TrialReport) -> str:
    """The same as a table."""
    trial = report.trial
    days = told_days(trial.days)
    lines = [
        f"{report.repertoire}: {report.decisions} decisions; perfect memory gives "
        f"{report.depth:.2f} prepared moves in a row.",
        f"{trial.learners} simulated players, {trial.minutes:g} minutes a day, "
        f"seed {trial.seed}{_jumping(trial)}.",
        "Shares of that depth, on the morning after each day:",
        "",
        f"{'policy':38}" + "".join(f"{f'day {day}':>16}" for day in days) + f"{'answers':>10}",
    ]
    for outcome in report.outcomes:
        cells = "".join(
            f"{f'{outcome.yields[day].mean:.3f} ± {outcome.yields[day].se:.3f}':>16}"
            for day in days
        )
        lines.append(f"{outcome.name:38}{cells}{outcome.answers:>10.0f}")
    return "\n".join(lines)
