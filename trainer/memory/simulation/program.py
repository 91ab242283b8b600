"""The program's own planner and session rules, as a policy among the others."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np

from trainer.memory.model import MemoryStates, MemoryTable
from trainer.memory.plan import Plan
from trainer.memory.planner import DESIRED_RETENTION, LastEntries, plan_session
from trainer.memory.queue import AskQueue
from trainer.memory.review_index import ReviewIndex
from trainer.memory.simulation.sitting import Player, Sitting
from trainer.memory.value import DecisionGraph
from trainer.repertoire.arrays import Floats, RepertoireArrays
from trainer.repertoire.reach import ReplyWeights
from trainer.repertoire.reach import reach as reach_of


@dataclass(eq=False)
class ProgramPlanner:
    """Each day is planned by `plan_session` and asked in the order of the drill's own queue.

    Every move that the program plays on the way costs its time, and so does what comes back
    after a miss, with the moves that lead to it. The drill ends when the plan is done, or when
    the minutes are over; what had to come back then still does.
    """

    arrays: RepertoireArrays
    graph: DecisionGraph
    reply_weights: ReplyWeights | None = None
    index: ReviewIndex | None = None
    retention: float = DESIRED_RETENTION
    name: str = "planner"

    def __post_init__(self) -> None:
        self._states = MemoryStates()
        self._reach = reach_of(self.arrays, self.reply_weights)
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
        timing = sitting.timing
        queue = AskQueue(plan)
        shown = None
        waiting = 0.0
        place = self.graph.place
        while (ask := queue.take()) is not None:
            question = ask.question
            if not ask.is_repeat and player.spent + waiting >= sitting.budget:
                queue.drop_planned()
                continue
            path = ask.path
            on_board = [number for number, edge in enumerate(path) if edge.parent is shown]
            cold = not on_board and question.node is not shown
            moves = path[on_board[0] :] if on_board else path if ask.is_repeat else ()
            if cold and not ask.is_repeat:
                moves = question.approach
            player.move(0 if question.node is shown else len(moves))
            if ask.is_repeat:
                waiting -= timing.repeat(len(path))
                player.repeat()
                right = True
            else:
                self.questions += 1
                self.cold += cold
                right = player.ask(int(place[self.arrays.number(question.node)]))
                if not right:
                    waiting += timing.repeat(len(path))
                if (entry := question.entry) is not None:
                    came = (entry.parent.key, entry.move.uci())
                    last.setdefault(question.node.key, {})[came] = _noon(sitting.day)
            queue.close(ask, comes_back=not right)
            shown = question.edge.child
        player.close()


#: The first day of a simulation, as a day of study.
_EPOCH = datetime(2026, 1, 1, tzinfo=UTC).toordinal()


def _noon(day: int) -> datetime:
    return datetime.fromordinal(_EPOCH + day).replace(hour=12, tzinfo=UTC)
