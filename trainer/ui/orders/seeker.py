"""Looks for everything off the thread of the window, step by step, and lets others go first."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

from PySide6.QtCore import QObject, Signal

from trainer.memory.course import Course
from trainer.ui.orders import findings
from trainer.ui.orders.findings import Basics
from trainer.ui.tasks import TaskControl, TaskRunner

_Step = tuple[str, Callable[[TaskControl], Any], Callable[[Any], None]]


class Seeker(QObject):
    """Works through its steps while it may.

    What the player asks for (`ask`) comes first: the step under way is given up and begun again
    afterwards.
    """

    basics_found = Signal(object)
    pairs_found = Signal(list)
    #: The shortcuts found so far, and whether these are all.
    shortcuts_found = Signal(list, bool)
    #: What is looked for, and the share done of it.
    progressed = Signal(str, float)
    #: Nothing is under way any more: all is done, or it was stopped.
    rested = Signal()
    failed = Signal(str)

    def __init__(self, runner: TaskRunner, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._runner = runner
        self._steps: list[_Step] = []
        self._searching: TaskControl | None = None
        self._asking: TaskControl | None = None
        self._may = True
        self._basics: Basics | None = None
        self._shortcuts: list[Any] = []

    def begin(self, course: Course) -> None:
        """Forget everything and look through another repertoire."""
        self.clear()
        self._steps = [
            ("Looking for crossings", lambda _control: findings.find_basics(course), self._based)
        ]
        self._advance()

    def clear(self) -> None:
        """Give up everything."""
        self._halt()
        if self._asking is not None:
            self._asking.cancel()
            self._asking = None
        self._steps, self._shortcuts, self._basics = [], [], None

    def allow(self, may: bool) -> None:
        """Stop looking, or go on with the step that was given up."""
        self._may = may
        if may:
            self._advance()
        else:
            self._halt()
            self.rested.emit()

    @property
    def unfinished(self) -> bool:
        """Whether there is more to look for."""
        return bool(self._steps)

    def ask(self, work: Callable[[], Any], done: Callable[[Any], None]) -> None:
        """Have something worked out at once; what was asked before is forgotten."""
        self._halt()
        if self._asking is not None:
            self._asking.cancel()

        def answered(result: Any) -> None:
            self._asking = None
            done(result)
            self._advance()

        self._asking = self._runner.start(
            lambda _control: work(), done=answered, failed=self._not_answered
        )

    # -- inside --------------------------------------------------------------------------------

    def _advance(self) -> None:
        if not self._may or self._searching is not None or self._asking is not None:
            return
        if not self._steps:
            self.rested.emit()
            return
        what, work, take = self._steps[0]
        self.progressed.emit(what, 0.0)

        def done(result: Any) -> None:
            self._searching = None
            self._steps.pop(0)
            take(result)
            self._advance()

        self._searching = self._runner.start(
            work, done=done, failed=self._not_found, progressed=partial(self.progressed.emit, what)
        )

    def _halt(self) -> None:
        if self._searching is not None:
            self._searching.cancel()
            self._searching = None

    def _based(self, basics: Basics) -> None:
        self._basics = basics
        pieces = findings.shortcut_pieces(basics)
        self._steps.append(
            (
                "Looking for near misses",
                lambda control: findings.find_pairs(basics, control.report, control.cancelled),
                self.pairs_found.emit,
            )
        )
        for number, piece in enumerate(pieces):
            self._steps.append(
                (
                    "Looking for shortcuts",
                    partial(_search_piece, basics, piece, number, len(pieces)),
                    partial(self._add_shortcuts, last=number == len(pieces) - 1),
                )
            )
        self.basics_found.emit(basics)
        if not pieces:
            self.shortcuts_found.emit([], True)

    def _add_shortcuts(self, found: list[Any], last: bool) -> None:
        merged = [*self._shortcuts, *found]
        self._shortcuts = sorted(merged, key=lambda one: (one.goes_back, -one.reach))
        self.shortcuts_found.emit(self._shortcuts, last)

    def _not_found(self, sentence: str) -> None:
        self._searching = None
        self._steps = []
        self.failed.emit(sentence)

    def _not_answered(self, sentence: str) -> None:
        self._asking = None
        self.failed.emit(sentence)
        self._advance()


def _search_piece(
    basics: Basics, piece: list[Any], number: int, pieces: int, control: TaskControl
) -> list[Any]:
    def report(share: float) -> None:
        control.report((number + share) / pieces)

    return findings.find_piece(basics, piece, report, control.cancelled)
