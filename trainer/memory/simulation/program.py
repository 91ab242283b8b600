"""The program's own planner and session rules, as a policy among the others."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np

from trainer.memory.model import MemoryStates, MemoryTable
from trainer.memory.plan import Plan
from trainer.memory.planner import DESIRED_RETENTION, LastEntries, plan_session, planning_graph
from trainer.memory.queue import Ask, AskQueue, Way, way
from trainer.memory.review_index import ReviewIndex
from trainer.memory.simulation.sitting import Player, Sitting
from trainer.memory.value import DecisionGraph
from trainer.repertoire.arrays import Floats, RepertoireArrays
from trainer.repertoire.graph import Node
from trainer.repertoire.reach import ReplyShares
from trainer.repertoire.reach import reach as reach_of


@dataclass(eq=False)
class ProgramPlanner:
    """Each day is planned by `plan_session` and asked in the order of the drill's own queue.

    Every move that the program plays on the way costs its time, and so does what comes back
    after a miss. The drill ends when the plan is done, which is made for the minutes.
    """

    arrays: RepertoireArrays
    graph: DecisionGraph
    reply_shares: ReplyShares | None = None
    index: ReviewIndex | None = None
    retention: float = DESIRED_RETENTION
    name: str = "planner"

    def __post_init__(self) -> None:
        self._states = MemoryStates()
        self._reach = reach_of(self.arrays, self.reply_shares)
        self._graph = planning_graph(self.arrays, self.reply_shares)
        self._last: dict[int, dict[int, dict[tuple[int, str], datetime]]] = {}
        #: How many questions began on another line than the one before, and how many there were.
        self.cold = 0
        self.questions = 0

    def drill(self, sitting: Sitting) -> None:
        """Ask all players of the sitting, until their time is over."""
        for column in range(sitting.right.shape[1]):
            last = self._last.setdefault(column, {})
            plan = self._plan(sitting, column, last)
            self._ask(sitting, column, plan, last)

    def _plan(self, sitting: Sitting, column: int, last: LastEntries) -> Plan:
        return plan_session(
            self.arrays,
            self._states,
            self._reach,
            minutes=sitting.budget / 60,
            now=_noon(sitting.day),
            desired_retention=self.retention,
            last_entries=last,
            timing=sitting.timing,
            table=self._table(sitting, column),
            index=self.index,
            graph=self._graph,
        )

    def _table(self, sitting: Sitting, column: int) -> MemoryTable:
        count = len(self.arrays.nodes)

        def spread(values: Floats, missing: float) -> Floats:
            full = np.full(count, missing)
            full[self.graph.nodes] = values[:, column]
            return full

        belief = sitting.belief
        day = np.where(belief.seen, belief.day + _EPOCH, 0.0)
        return MemoryTable(
            self._states.model,
            spread(belief.stability, np.nan),
            spread(belief.difficulty, np.nan),
            spread(day, 0.0),
        )

    def _ask(
        self,
        sitting: Sitting,
        column: int,
        plan: Plan,
        last: dict[int, dict[tuple[int, str], datetime]],
    ) -> None:
        player = Player(sitting, column, repeats_set_aside=False)
        queue = AskQueue(plan)
        trail: list[Node] = []
        place = self.graph.place
        while (ask := queue.take()) is not None:
            question = ask.question
            found = way(ask, trail)
            player.move(len(found.steps))
            if found.cold and not found.steps:
                player.jump()
            trail = trail_after(trail, ask, found)
            if ask.is_repeat:
                player.repeat()
                right = True
            else:
                self.questions += 1
                self.cold += found.cold
                right = player.ask(int(place[self.arrays.number(question.node)]))
                if (entry := question.entry) is not None:
                    came = (entry.parent.key, entry.move.uci())
                    last.setdefault(question.node.key, {})[came] = _noon(sitting.day)
            queue.close(ask, comes_back=not right)
            trail.append(question.edge.child)
        player.close()


def trail_after(trail: list[Node], ask: Ask, found: Way) -> list[Node]:
    """The positions of the line on the board once a question stands there."""
    question = ask.question
    if found.cold:
        first = found.steps[0] if found.steps else question.entry
        trail = [] if first is None else [first.parent]
        if not found.steps:
            return [*trail, question.node]
    elif found.taken_back:
        trail = trail[: -found.taken_back]
    return [*trail, *(edge.child for edge in found.steps)]


#: The first day of a simulation, as a day of study.
_EPOCH = datetime(2026, 1, 1, tzinfo=UTC).toordinal()


def _noon(day: int) -> datetime:
    return datetime.fromordinal(_EPOCH + day).replace(hour=12, tzinfo=UTC)
