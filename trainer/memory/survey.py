"""What is worth asking today, over all positions at once: scores, bounds and figures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, TypeAlias

import numpy as np
import numpy.typing as npt

from trainer.memory import fsrs_arrays as fsrs
from trainer.memory.model import UNSEEN_RECALL, MemoryTable
from trainer.memory.plan import Timing
from trainer.memory.review_index import ReviewIndex
from trainer.memory.value import DecisionGraph
from trainer.repertoire.arrays import Bools, Floats, RepertoireArrays
from trainer.repertoire.reach import ReplyShares, edge_shares, root_shares

#: A move of at least this recall is never asked, not even on the way.
CERTAIN: Final = 0.999
#: How long before a tournament only that day counts: 40 simulated players had 0.005 to 0.009 more
#: of full depth on the day with 2 days, and less with 8 or more.
LAST_DAYS: Final = 2

#: A new move loses nothing by waiting, while one that is known fades. The index takes the price of
#: a second as it is for ever, but it falls as less is left to learn, so that much comes off a new
#: one. Simulated players had 0.003 to 0.007 more of full depth after 30 and 60 days with 5 minutes
#: a day than with the full index, and with 2 the same within the error.
NEW_WAITS: Final = 0.65

Integers: TypeAlias = npt.NDArray[np.intp]


def planning_graph(
    arrays: RepertoireArrays, reply_shares: ReplyShares | None = None
) -> DecisionGraph:
    """The decisions as the planner weighs them: accepted alternatives are worth a little."""
    return DecisionGraph.of(arrays, edge_shares(arrays, reply_shares), root_shares(arrays))


class Worth:
    """What asking each decision is worth a second, as the plan goes on."""

    def __init__(
        self,
        arrays: RepertoireArrays,
        graph: DecisionGraph,
        index: ReviewIndex,
        table: MemoryTable,
        day: int,
        days_left: int | None = None,
    ) -> None:
        """With `days_left` to a tournament, its last days count only what is known on that day."""
        self._graph = graph
        self._place = graph.place
        self._count = len(arrays.nodes)
        self._table = table
        rows = graph.nodes
        #: Which position follows which, by number.
        self.links: tuple[Integers, Integers] = (rows[graph.before], rows[graph.after])
        # Answered today counts as it will tomorrow; or a move just missed would count as certain.
        recall = table.recall(day, UNSEEN_RECALL, least_days=1.0)[rows]
        self._recall: Floats = recall[:, None]
        if days_left is not None and 0 < days_left <= LAST_DAYS:
            self._index = gain_on_the_day(table, rows, day, days_left)
        else:
            found = index.of(table.stability[rows], table.difficulty[rows], day - table.day[rows])
            self._index = np.where(table.seen[rows], found, NEW_WAITS * found)

    def score(self) -> Floats:
        """w · ι of every position (n), 0 where nothing is decided."""
        full = np.zeros(self._count)
        full[self._graph.nodes] = self._graph.worth(self._recall)[:, 0] * self._index
        return full

    def bounds(self, retention: float) -> Floats:
        """The recall below which each position is worth asking (n).

        That is `retention` at positions of average worth or less. Where more hangs on a move, it
        is asked as soon as as much is lost: w · (1 − R) ≥ mean w · (1 − retention).
        """
        full = np.full(self._count, retention)
        if len(self._graph):
            worth = self._graph.worth(self._recall)[:, 0]
            share = np.minimum(1.0, worth.mean() / np.maximum(worth, 1e-12))
            full[self._graph.nodes] = 1 - (1 - retention) * share
        return full

    def behind(self) -> Floats:
        """W of every position (n): the moves in a row that hang on its move."""
        full = np.zeros(self._count)
        full[self._graph.nodes] = self._graph.behind(self._recall)[:, 0]
        return full

    def ask(self, number: int, recall: float) -> None:
        """Count a decision as asked: what it will be tomorrow, as far as can be expected."""
        model = self._table.model
        stability, difficulty = self._table.stability[number], self._table.difficulty[number]
        after = expected_stabilities(model.parameters, stability, difficulty, recall)
        right, wrong = model.recall(np.ones(2), np.array(after))
        self._recall[self._place[number], 0] = recall * right + (1 - recall) * wrong


def gain_on_the_day(table: MemoryTable, rows: Integers, day: int, days_left: int) -> Floats:
    """What a second of asking these positions today adds to recall in `days_left` days."""
    w = np.asarray(table.model.parameters)
    new = np.isnan(table.stability[rows])
    s = np.where(new, 1.0, table.stability[rows])
    d = np.where(new, 5.0, table.difficulty[rows])
    since = day - table.day[rows]
    now = np.where(new, UNSEEN_RECALL, fsrs.recall_of(w, since, s))
    later = np.where(new, UNSEEN_RECALL, fsrs.recall_of(w, since + days_left, s))
    right = np.where(
        new, fsrs.first_stability(w, fsrs.GOOD), fsrs.stability_after_right(w, s, d, now)
    )
    wrong = np.where(
        new, fsrs.first_stability(w, fsrs.AGAIN), fsrs.stability_after_wrong(w, s, d, now)
    )
    left = np.array(float(days_left))
    after = now * fsrs.recall_of(w, left, right) + (1 - now) * fsrs.recall_of(w, left, wrong)
    gain: Floats = np.maximum(after - later, 0.0) / costs_of(now, Timing())
    return gain


def expected_stabilities(
    parameters: Sequence[float], stability: float, difficulty: float, recall: float
) -> tuple[float, float]:
    """The stability after a right and after a wrong answer today; NaN stands for a new move."""
    w = np.asarray(parameters)
    if np.isnan(stability):
        return float(w[fsrs.GOOD - 1]), float(w[fsrs.AGAIN - 1])
    memory = np.array(stability), np.array(difficulty), np.array(recall)
    right = fsrs.stability_after_right(w, *memory)
    return float(right), float(fsrs.stability_after_wrong(w, *memory))


@dataclass(eq=False)
class Survey:
    """What is worth asking, over all positions (n each). `score` changes as the plan goes on."""

    recall: Floats
    #: The recall below which a position is worth asking.
    bound: Floats
    reach: Floats
    score: Floats
    behind: Floats
    seen: Bools
    fading: Bools
    new: Bools
    #: Not certain, and not answered today: what a run may take in on its way.
    passable: Bools
    #: Where some move order leads through decisions that were all asked before.
    open: Bools
    worth: Worth | None
    #: Asked only because there is time left (n), None where there is none.
    spare: Bools | None = None


def survey_of(
    arrays: RepertoireArrays,
    table: MemoryTable,
    reach: Floats,
    day: int,
    retention: float,
    worth: Worth | None,
) -> Survey:
    """Look over all positions; without `worth` nothing is scored and one bound holds for all."""
    seen = table.seen
    recall = table.recall(day, UNSEEN_RECALL)
    bound = np.full(len(seen), retention) if worth is None else worth.bounds(retention)
    fading = seen & (recall < bound) & (table.day != day)
    new = arrays.decision & ~seen
    score = np.zeros(len(seen)) if worth is None else worth.score()
    behind = np.zeros(len(seen)) if worth is None else worth.behind()
    is_open = np.zeros(len(seen), np.bool_)
    is_open[arrays.roots] = True
    passable = ~arrays.decision | seen
    for edges in arrays.levels():
        parents = arrays.parent[edges]
        is_open[arrays.child[edges[is_open[parents] & passable[parents]]]] = True
    on_the_way = new | (seen & (recall < CERTAIN) & (table.day != day))
    return Survey(
        recall, bound, reach, score, behind, seen, fading, new, on_the_way, is_open, worth
    )


def costs_of(recall: Floats, timing: Timing) -> Floats:
    """The expected seconds of asking moves of this recall, without the way to them."""
    asked: Floats = recall * timing.right + (1 - recall) * timing.missed
    return asked


def minutes_of(recall: Floats, timing: Timing) -> float:
    """What asking moves of this recall takes, with getting to them."""
    return float((costs_of(recall, timing) + timing.getting_there).sum()) / 60


def wanted_of(seconds: float, timing: Timing) -> int:
    """More candidates than can be asked, with room for those that a lead-in gives away."""
    return 2 * int(seconds / timing.right) + 500


def best_of(score: Floats, wanted: int) -> Integers:
    """The positions of the `wanted` highest scores, highest first, ties in order."""
    if len(score) > wanted:
        # Nothing with the lowest score that gets in may be lost to the order of partitioning.
        floor = np.partition(score, len(score) - wanted)[len(score) - wanted]
        chosen = np.flatnonzero(score >= floor)
    else:
        chosen = np.arange(len(score))
    order: Integers = chosen[np.argsort(-score[chosen], kind="stable")][:wanted]
    return order
