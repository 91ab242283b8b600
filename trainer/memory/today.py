"""What the player sees before he starts: today's figures in one value."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from trainer.repertoire.graph import Edge, Node
from trainer.repertoire.orders import MoveOrder

if TYPE_CHECKING:
    import chess


@dataclass(frozen=True)
class DayLoad:
    """One day's load: how many positions fall due on it, and the minutes they take."""

    day: date
    positions: int
    minutes: float


@dataclass(frozen=True)
class Depth:
    """Depth in hand: expected prepared moves in a row, recalled right, in the next game.

    `now` is the present value, `without` tomorrow's with no drill today, `drilled` tomorrow's
    after today's drill, `full` what perfect memory would give.
    """

    now: float
    without: float
    drilled: float
    full: float


@dataclass(frozen=True, eq=False)
class NotedDecision:
    """A decision that is listed for a reason, and one order by which it is reached.

    `edge` is its main prepared move, `remark` the reason in a few words; `played` is the wrong
    move that was made there, where that is why it is listed.
    """

    node: Node
    edge: Edge
    order: MoveOrder
    remark: str
    played: chess.Move | None = None


@dataclass(frozen=True, eq=False)
class Today:
    """All that the place called Today shows.

    `worth_asking` counts positions, `minutes_needed` what asking all of them would take;
    `questions` and `planned_minutes` are those of the session that would start now.
    """

    decisions: int
    learnt: int
    worth_asking: int
    minutes_needed: float
    questions: int
    new_questions: int
    planned_minutes: float
    depth: Depth
    load: tuple[DayLoad, ...]
    missed: tuple[NotedDecision, ...]
    flagged: tuple[NotedDecision, ...]
    #: How many of the questions only use the time that is left.
    spare_questions: int = 0

    @property
    def first_time(self) -> bool:
        """Whether nothing was ever answered in this repertoire."""
        return self.learnt == 0
