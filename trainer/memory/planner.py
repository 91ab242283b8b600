"""The planner: what is asked today, and by which move order.

- A position is worth asking when its move was never asked, or when recall of it fell below the
  desired retention; not if it was answered today already. Above that bound a minute is better
  spent on something else, or saved.
- Its score is reach × (1 − recall): what is lost in the next game by not knowing it. New ones
  are scored alike, so a new one takes the place of an old one only when it is worth more.
- A new one comes only after the decisions before it on some move order.
- Positions are asked in short runs along a line. A run begins at most two of the player's moves
  before its first question: one as a rule, so that he sees where the game came from; two where
  orders cross on the way, so that he sees by which. It goes on, forwards and backwards, while
  the neighbouring decision is worth asking too: going on costs one move of the program instead
  of a new lead-in, so a neighbour is taken at a score that much lower.
- A crossing is asked by each of its move orders in turn, least recently used first.

Only the positions that can come into the plan are touched one by one; the rest is arithmetic on
whole arrays.
"""

from __future__ import annotations

import heapq
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from itertools import pairwise
from typing import Final, TypeAlias

import numpy as np
import numpy.typing as npt

from trainer.memory.model import UNSEEN_RECALL, MemoryStates, MemoryTable
from trainer.memory.plan import Plan, Question, Reason, Run, Timing, Why
from trainer.repertoire.arrays import Bools, Floats, RepertoireArrays
from trainer.repertoire.graph import Edge, Node

#: Recall below which a position is worth asking, unless the player sets it otherwise. It is
#: high because the minutes are the real limit, and the score puts first what counts: six
#: simulated learners with 5 minutes a day on the demo repertoire had, after 60 days, 0.73 of the
#: depth that perfect memory gives at 0.9, 0.82 at 0.95 and 0.85 at 0.97.
DESIRED_RETENTION: Final = 0.97

#: When a position was last asked by each entering move: key → (key before, UCI) → time.
LastEntries: TypeAlias = Mapping[int, Mapping[tuple[int, str], datetime]]

Integers: TypeAlias = npt.NDArray[np.intp]

_NEVER: Final = datetime.min.replace(tzinfo=UTC)
#: What jumping to another line costs, in moves played by the program.
_JUMP_MOVES: Final = 3


def plan_session(
    arrays: RepertoireArrays,
    states: MemoryStates,
    reach: Floats,
    *,
    minutes: float,
    now: datetime,
    desired_retention: float = DESIRED_RETENTION,
    last_entries: LastEntries | None = None,
    timing: Timing | None = None,
    table: MemoryTable | None = None,
) -> Plan:
    """Today's questions for a session of `minutes`.

    `reach` (n) is the reach of every position, `now` knows its time zone, and
    0 < `desired_retention` < 1. `table` is that of `states`, where the caller has it already.
    The last question may end after the minutes are over. The same input gives the same plan.
    """
    timing = timing or Timing()
    table = table or states.table(arrays)
    day = states.today(now)
    survey = _survey(arrays, table, reach, day, desired_retention)
    seconds = minutes * 60
    cutoff = _cutoff(survey, seconds, timing)
    builder = _Builder(
        arrays,
        survey,
        timing=timing,
        last_entries=last_entries or {},
        day=day,
        cutoff=cutoff,
        wanted=_wanted(seconds, timing),
    )
    spent = 0.0
    runs: list[Run] = []
    while spent < seconds:
        run = builder.next_run(seconds - spent)
        if run is None:
            break
        runs.append(run)
        spent += run.seconds
    return Plan(
        runs=tuple(runs),
        minutes=minutes,
        fading=int(survey.fading.sum()),
        new=int(survey.new.sum()),
        fading_minutes=_minutes(survey.recall[survey.fading], timing),
        new_minutes=_minutes(survey.recall[survey.new], timing),
    )


def plan_positions(
    arrays: RepertoireArrays,
    states: MemoryStates,
    reach: Floats,
    nodes: Sequence[Node],
    *,
    now: datetime,
    last_entries: LastEntries | None = None,
    timing: Timing | None = None,
) -> Plan:
    """A plan that asks just these decisions, in their order, each in a run of its own.

    They are asked whatever their recall, also where they were answered today. A lead-in shows the
    move of none of them. Nodes that are no decision are left out.
    """
    timing = timing or Timing()
    table = states.table(arrays)
    day = states.today(now)
    survey = _survey(arrays, table, reach, day, 1.0)
    # No other question of the day is at stake, so a lead-in may show any other move.
    builder = _Builder(
        arrays,
        survey,
        timing=timing,
        last_entries=last_entries or {},
        day=day,
        cutoff=float("inf"),
        wanted=1,
    )
    chosen = {node for node in nodes if arrays.decision[arrays.number(node)]}
    runs = []
    for node in nodes:
        if node not in chosen:
            continue
        number = arrays.number(node)
        approach = builder.lead_in(number)
        while any(edge.parent in chosen for edge in approach):
            approach = approach[1:]
        question = builder.question(number, approach)
        if not question.is_new:
            why = replace(question.why, reason=Reason.CHOSEN)
            question = replace(question, why=why, again_today=bool(table.day[number] == day))
        start = approach[0].parent if approach else node
        runs.append(Run(start, (question,)))
    seconds = sum(run.seconds for run in runs)
    return Plan(tuple(runs), seconds / 60, 0, 0, 0.0, 0.0)


@dataclass(frozen=True, eq=False)
class _Survey:
    """What is worth asking, over all positions (n each)."""

    recall: Floats
    reach: Floats
    score: Floats
    seen: Bools
    fading: Bools
    new: Bools
    #: Where some move order leads through decisions that were all asked before.
    open: Bools


def _survey(
    arrays: RepertoireArrays, table: MemoryTable, reach: Floats, day: int, retention: float
) -> _Survey:
    seen = table.seen
    recall = table.recall(day, UNSEEN_RECALL)
    fading = seen & (recall < retention) & (table.day != day)
    new = arrays.decision & ~seen
    score = reach * (1 - recall)
    is_open = np.zeros(len(seen), np.bool_)
    is_open[arrays.roots] = True
    passable = ~arrays.decision | seen
    for edges in arrays.levels():
        parents = arrays.parent[edges]
        is_open[arrays.child[edges[is_open[parents] & passable[parents]]]] = True
    return _Survey(recall, reach, score, seen, fading, new, is_open)


def _costs(recall: Floats, timing: Timing) -> Floats:
    asked: Floats = recall * timing.right + (1 - recall) * timing.missed
    return asked


def _minutes(recall: Floats, timing: Timing) -> float:
    """What asking moves of this recall takes, about two moves of the program each."""
    return float((_costs(recall, timing) + 2 * timing.move).sum()) / 60


def _wanted(seconds: float, timing: Timing) -> int:
    """More candidates than can be asked, with room for those that a lead-in gives away."""
    return 2 * int(seconds / timing.right) + 500


def _best(score: Floats, wanted: int) -> Integers:
    """The positions of the `wanted` highest scores, highest first, ties in order."""
    if len(score) > wanted:
        # Nothing with the lowest score that gets in may be lost to the order of partitioning.
        floor = np.partition(score, len(score) - wanted)[len(score) - wanted]
        chosen = np.flatnonzero(score >= floor)
    else:
        chosen = np.arange(len(score))
    order: Integers = chosen[np.argsort(-score[chosen], kind="stable")][:wanted]
    return order


def _cutoff(survey: _Survey, seconds: float, timing: Timing) -> float:
    """The score at which the time is likely to run out; 0 where everything fits in."""
    worth = np.flatnonzero(survey.fading | survey.new)
    best = worth[_best(survey.score[worth], _wanted(seconds, timing))]
    spent = np.cumsum(_costs(survey.recall[best], timing) + _JUMP_MOVES * timing.move)
    last = int(np.searchsorted(spent, seconds))
    return float(survey.score[best[last]]) if last < len(best) else 0.0


class _Builder:
    """Makes one run after the other, best score first."""

    def __init__(
        self,
        arrays: RepertoireArrays,
        survey: _Survey,
        *,
        timing: Timing,
        last_entries: LastEntries,
        day: int,
        cutoff: float,
        wanted: int,
    ) -> None:
        self.arrays = arrays
        self.survey = survey
        self.timing = timing
        self.last_entries = last_entries
        self.day = day
        self.cutoff = cutoff
        self.open = survey.open.copy()
        #: Asked in this plan, or given away by a lead-in of it.
        self.used: set[int] = set()
        worth = np.flatnonzero(survey.fading | (survey.new & self.open))
        first = worth[_best(survey.score[worth], wanted)]
        self.heap = [(-float(survey.score[number]), int(number)) for number in first]
        heapq.heapify(self.heap)

    # -- runs --------------------------------------------------------------------------------

    def next_run(self, seconds: float) -> Run | None:
        """The best run that is left, cut where `seconds` are over; None when nothing is left."""
        while self.heap:
            _, target = heapq.heappop(self.heap)
            if target in self.used:
                continue
            chain = self._chain(target)
            run = self._run(chain, target, seconds)
            # What the lead-in shows is not asked any more in this session.
            self.used.update(self.arrays.number(edge.parent) for edge in run.lead_in)
            for question in run.questions:
                self._take(self.arrays.number(question.node))
            return run
        return None

    def _chain(self, target: int) -> list[int]:
        """The decisions worth asking one after the other on a line through `target`."""
        chain = [target]
        taken = {target}
        while (before := self._neighbour_before(chain[0], taken)) is not None:
            chain.insert(0, before)
            taken.add(before)
        while (after := self._neighbour_after(chain[-1], taken)) is not None:
            chain.append(after)
            taken.add(after)
        return self._introducible(chain)

    def _introducible(self, chain: list[int]) -> list[int]:
        """`chain` up to the first new decision that is not led to by known ones.

        Known are those that an order of known decisions reaches, and those behind them here. A
        position may be well known and yet stand behind a move that the player has changed.
        """
        led_to = False
        for place, number in enumerate(chain):
            led_to = led_to or bool(self.open[number])
            if self.survey.new[number] and not led_to:
                return chain[:place]
        return chain

    def _run(self, chain: list[int], target: int, seconds: float) -> Run:
        """A run over `chain`, cut so that at most its last question ends after `seconds`."""
        questions = self._questions(chain)
        if sum(question.seconds for question in questions[:-1]) >= seconds:
            # What was added before the target must not push the target out.
            chain = self._introducible(chain[chain.index(target) :])
            questions = self._questions(chain)
        spent = 0.0
        kept: list[Question] = []
        for question in questions:
            if kept and spent >= seconds:
                break
            kept.append(question)
            spent += question.seconds
        start = kept[0].approach[0].parent if kept[0].approach else kept[0].node
        return Run(start, tuple(kept))

    def _questions(self, chain: list[int]) -> list[Question]:
        questions = [self.question(chain[0], self.lead_in(chain[0]))]
        for before, number in pairwise(chain):
            questions.append(self.question(number, (self._reply_between(before, number),)))
        return questions

    def question(self, number: int, approach: tuple[Edge, ...]) -> Question:
        """The question at a decision, reached by `approach`."""
        recall = float(self.survey.recall[number])
        reason = Reason.NEW if self.survey.new[number] else Reason.FADING
        return Question(
            node=self.arrays.nodes[number],
            edge=self._main(number),
            approach=approach,
            why=Why(reason, recall, float(self.survey.reach[number])),
            seconds=self.timing.question(recall) + len(approach) * self.timing.move,
        )

    # -- neighbours --------------------------------------------------------------------------

    def _goes_on(self, number: int, taken: set[int]) -> bool:
        """Whether a neighbouring decision is worth asking where going on saves a jump."""
        survey = self.survey
        if number in self.used or number in taken:
            return False
        if not (survey.fading[number] or survey.new[number]):
            return False
        cost = self.timing.question(float(survey.recall[number])) + self.timing.move
        jump = (_JUMP_MOVES - 1) * self.timing.move
        return bool(survey.score[number] >= self.cutoff * cost / (cost + jump))

    def _neighbour_before(self, number: int, taken: set[int]) -> int | None:
        entry = self._entry(number)
        if entry is None:
            return None
        found = [
            parent
            for edge in self._entries(self.arrays.number(entry.parent))
            if (parent := self.arrays.number(edge.parent)) is not None
            and self._is_main(edge, parent)
            and (self.open[parent] or not self.survey.new[parent])
            and self._goes_on(parent, taken)
        ]
        return max(found, key=self._rank, default=None)

    def _neighbour_after(self, number: int, taken: set[int]) -> int | None:
        main = self._main(number)
        level = self.arrays.level
        found = []
        for reply in main.child.edges:
            after = self.arrays.number(reply.child)
            # A crossing is gone on to only by the order whose turn it is.
            if (
                self.arrays.decision[after]
                and level[after] > level[number]
                and self._goes_on(after, taken)
                and self._entry(after) is reply
            ):
                found.append(after)
        return max(found, key=self._rank, default=None)

    def _rank(self, number: int) -> tuple[float, int]:
        return float(self.survey.score[number]), -number

    def _reply_between(self, before: int, number: int) -> Edge:
        main = self._main(before)
        entry = self._entry(number)
        if entry is not None and entry.parent is main.child:
            return entry
        return next(edge for edge in main.child.edges if self.arrays.number(edge.child) == number)

    # -- move orders -------------------------------------------------------------------------

    def _entries(self, number: int) -> list[Edge]:
        """The moves that enter a node, without those that close a cycle."""
        level = self.arrays.level
        return [
            edge
            for edge in self.arrays.nodes[number].entries
            if level[self.arrays.number(edge.parent)] < level[number]
        ]

    def _entry(self, number: int) -> Edge | None:
        """The opponent's move by which a decision is entered this time.

        Among orders whose decisions were asked before, the one not used for the longest time.
        """
        node = self.arrays.nodes[number]
        used = self.last_entries.get(node.key, {})
        return min(
            self._entries(number),
            key=lambda edge: (
                not self.open[self.arrays.number(edge.parent)],
                used.get((edge.parent.key, edge.move.uci()), _NEVER) if used else _NEVER,
            ),
            default=None,
        )

    def _way_in(self, number: int) -> Edge | None:
        """The player's move that leads to an opponent's position this time.

        Several decisions may lead there. Which of them is shown changes from day to day.
        """
        entries = self._entries(number)
        known = [edge for edge in entries if self.open[self.arrays.number(edge.parent)]]
        entries = known or entries
        mains = [e for e in entries if self._is_main(e, self.arrays.number(e.parent))]
        entries = mains or entries
        return entries[self.day % len(entries)] if entries else None

    def _main(self, number: int) -> Edge:
        return self.arrays.edges[int(self.arrays.main_edge[number])]

    def _is_main(self, edge: Edge, parent: int) -> bool:
        main = self.arrays.main_edge[parent]
        return bool(main >= 0) and self.arrays.edges[main] is edge

    def lead_in(self, number: int) -> tuple[Edge, ...]:
        """The moves before the first question: the player's last one, or his last two."""
        moves: list[Edge] = []
        crossed = False
        for _ in range(2):
            crossed = crossed or len(self.arrays.nodes[number].entries) > 1
            entry = self._entry(number)
            if entry is None:
                break
            moves.insert(0, entry)
            position = self.arrays.number(entry.parent)
            crossed = crossed or len(self.arrays.nodes[position].entries) > 1
            before = self._way_in(position)
            if before is None:
                break
            number = self.arrays.number(before.parent)
            if self._gives_away(number):
                break
            moves.insert(0, before)
            if not crossed:
                break
        return tuple(moves)

    def _gives_away(self, number: int) -> bool:
        """Whether showing the move of this decision would spoil a question still to come."""
        worth = self.survey.fading[number] or self.survey.new[number]
        return bool(worth and number not in self.used and self.survey.score[number] >= self.cutoff)

    # -- what a question opens ---------------------------------------------------------------

    def _take(self, number: int) -> None:
        """Mark a decision as asked, and put what may now be introduced behind it on the heap."""
        self.used.add(number)
        if not self.survey.new[number]:
            return
        behind = [self._main(number).child]
        while behind:
            opened = self.arrays.number(behind.pop())
            if self.open[opened]:
                continue
            self.open[opened] = True
            if self.survey.new[opened] and opened not in self.used:
                heapq.heappush(self.heap, (-float(self.survey.score[opened]), opened))
            elif not self.arrays.decision[opened] or self.survey.seen[opened]:
                behind.extend(edge.child for edge in self.arrays.nodes[opened].edges)
