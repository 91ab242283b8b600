"""The order in which a session's questions come, with what was missed coming back."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final

from trainer.memory.plan import Plan, Question
from trainer.repertoire.graph import Edge, Node

#: Before a missed move comes back, this many other questions are asked where there are so many:
#: right away it would only be repeated from the screen.
QUESTIONS_BETWEEN: Final = 3


@dataclass(frozen=True, eq=False)
class Ask:
    """A question to be asked, with the way to it.

    `after` is the main move of the question before on the same run, None at a run's first
    question. `familiar` tells that its stranger was met already, or that it may have none.
    """

    question: Question
    after: Edge | None
    is_repeat: bool = False
    familiar: bool = False

    @property
    def path(self) -> tuple[Edge, ...]:
        """The moves to the question, from the question before on where it goes on from there.

        Else from the run's start, or from a position of the run to which moves are taken back.
        """
        approach = self.question.approach
        if self.after is None or (approach and approach[0].parent is not self.after.child):
            return approach
        return (self.after, *approach)


class AskQueue:
    """What is still to be asked."""

    def __init__(self, plan: Plan) -> None:
        self._asks = deque(_asks(plan))
        self._repeats: deque[tuple[int, Ask]] = deque()
        self._closed = 0

    @property
    def closed(self) -> int:
        """How many questions were closed so far."""
        return self._closed

    def __len__(self) -> int:
        return len(self._asks) + len(self._repeats)

    def waiting(self) -> list[Ask]:
        """All that is still to be asked."""
        return [*self._asks, *(ask for _, ask in self._repeats)]

    def take(self) -> Ask | None:
        """The next question; what was missed comes between runs, or at the end."""
        if self._asks and self._asks[0].after is not None:
            return self._asks.popleft()
        if self._repeats and (not self._asks or self._repeats[0][0] <= self._closed):
            return self._repeats.popleft()[1]
        return self._asks.popleft() if self._asks else None

    def put_back(self, ask: Ask) -> None:
        """The question comes next, after its stranger."""
        self._asks.appendleft(replace(ask, familiar=True))

    def close(self, ask: Ask, *, comes_back: bool) -> None:
        """The question was answered or skipped."""
        self._closed += 1
        if comes_back:
            due = self._closed + QUESTIONS_BETWEEN
            self._repeats.append((due, replace(ask, is_repeat=True, familiar=True)))


@dataclass(frozen=True)
class Way:
    """How the board gets to a question: moves taken back first, then moves of the program.

    `taken_back` counts half-moves. Cold is a question that goes on from nothing that was shown.
    """

    steps: tuple[Edge, ...]
    taken_back: int = 0
    cold: bool = False


def way(ask: Ask, trail: Sequence[Node]) -> Way:
    """How to get to a question from what stands on the board.

    `trail` are the positions of the line that was shown, the last one on the board; empty where
    nothing known stands there. The program goes on along the line, or takes moves back and plays
    another reply. What comes back after a miss and is not next on the line does so at once.
    """
    shown = trail[-1] if trail else None
    path = ask.path
    for number, edge in enumerate(path):
        if edge.parent is shown:
            return Way(path[number:])
    if ask.question.node is shown:
        return Way(())
    if ask.is_repeat:
        return Way((), cold=True)
    approach = ask.question.approach
    if ask.after is not None and approach and approach[0].parent in trail:
        last = max(place for place, node in enumerate(trail) if node is approach[0].parent)
        return Way(approach, taken_back=len(trail) - 1 - last)
    return Way(approach, cold=True)


def _asks(plan: Plan) -> Iterable[Ask]:
    for run in plan.runs:
        after = None
        for question in run.questions:
            yield Ask(question, after)
            after = question.edge
