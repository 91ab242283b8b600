"""Looks for everything off the thread of the window, step by step, and lets others go first."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import Any

from PySide6.QtCore import QObject, Signal

from trainer.memory.course import Course
from trainer.ui.orders import findings
from trainer.ui.orders.findings import Basics, FoundShortcuts, GamesOf, Kept
from trainer.ui.tasks import TaskControl, TaskRunner

_Step = tuple[str, Callable[[TaskControl], Any], Callable[[Any], None]]

#: In place of a result: the repertoire has changed, so nothing more is found in what was.
_OUTDATED = object()


class Seeker(QObject):
    """Works through its steps while it may.

    What the player asks for (`ask`) comes first: the step under way is given up and begun again
    afterwards. Where an edit has changed the repertoire it comes to rest until `begin` is called
    with a course that is built anew.
    """

    basics_found = Signal(object)
    #: A list, as an object: Qt would make a copy of its own of every entry.
    pairs_found = Signal(object)
    #: The `FoundShortcuts` so far, and whether these are all.
    shortcuts_found = Signal(object, bool)
    #: What is looked for, and the share done of it.
    progressed = Signal(str, float)
    #: Nothing is under way any more: all is done, or it was stopped.
    rested = Signal()
    failed = Signal(str)
    #: Whether a search is under way that makes very many objects, all of them wanted.
    looking = Signal(bool)

    def __init__(
        self,
        runner: TaskRunner,
        parent: QObject | None = None,
        *,
        games_of: GamesOf | None = None,
    ) -> None:
        super().__init__(parent)
        self._runner = runner
        self._games_of = games_of
        self._steps: list[_Step] = []
        self._searching: TaskControl | None = None
        self._asking: TaskControl | None = None
        self._may = True
        self._looking = False
        self._basics: Basics | None = None
        self._shortcuts: list[Any] = []

    def begin(self, course: Course, before: Kept | None = None) -> None:
        """Forget everything and look through another repertoire.

        `before` is what was found in the same one before an edit.
        """
        self.clear()
        games_of = self._games_of
        self._steps = [
            (
                "Looking for crossings",
                lambda _control: (
                    _OUTDATED
                    if findings.is_outdated(course)
                    else findings.find_basics(course, games_of, before)
                ),
                self._based,
            )
        ]
        self._advance()

    def make_way(self, act: Callable[[], None]) -> None:
        """Let `act` ask for an edit, which waits for all that is under way: give that up."""
        self._halt()
        act()
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
            self._rest()

    def sightings(self, basics: Basics, course: Course) -> Basics:
        """`basics` with how often orders were seen counted anew; for a worker."""
        seen, answers = findings.find_sightings(basics.graph, course, self._games_of)
        return replace(basics, sightings=seen, answers=answers)

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
            if result is _OUTDATED:
                self._come_to_rest()
                return
            done(result)
            self._advance()

        self._asking = self._runner.start(
            self._unless_outdated(lambda _control: work()),
            done=answered,
            failed=self._not_answered,
        )

    # -- inside --------------------------------------------------------------------------------

    def _advance(self) -> None:
        if not self._may or self._searching is not None or self._asking is not None:
            return
        if not self._steps:
            self._rest()
            return
        what, work, take = self._steps[0]
        self._look(looking=True)
        self.progressed.emit(what, 0.0)

        def done(result: Any) -> None:
            self._searching = None
            if result is _OUTDATED:
                self._come_to_rest()
                return
            self._steps.pop(0)
            take(result)
            self._advance()

        self._searching = self._runner.start(
            self._unless_outdated(work),
            done=done,
            failed=self._not_found,
            progressed=partial(self.progressed.emit, what),
        )

    def _unless_outdated(self, work: Callable[[TaskControl], Any]) -> Callable[..., Any]:
        """No edit is made while `work` runs, so it is enough to look before."""
        basics = self._basics

        def guarded(control: TaskControl) -> Any:
            return work(control) if basics is None or basics.is_current else _OUTDATED

        return guarded

    def _come_to_rest(self) -> None:
        self._steps = []
        self._rest()

    def _rest(self) -> None:
        self._look(looking=False)
        self.rested.emit()

    def _look(self, *, looking: bool) -> None:
        if looking != self._looking:
            self._looking = looking
            self.looking.emit(looking)

    def _halt(self) -> None:
        if self._searching is not None:
            self._searching.cancel()
            self._searching = None

    def _based(self, basics: Basics) -> None:
        self._basics = basics
        pieces = basics.pieces
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
                    partial(self._search_piece, basics, piece, number, len(pieces)),
                    partial(self._add_shortcuts, last=number == len(pieces) - 1),
                )
            )
        self.basics_found.emit(basics)
        if not pieces:
            self.shortcuts_found.emit(FoundShortcuts.of(()), True)

    def _search_piece(
        self, basics: Basics, piece: list[Any], number: int, pieces: int, control: TaskControl
    ) -> FoundShortcuts:
        def report(share: float) -> None:
            control.report((number + share) / pieces)

        before = self._shortcuts
        found = findings.find_piece(basics, piece, report, control.cancelled)
        return FoundShortcuts.of([*before, *found])

    def _add_shortcuts(self, found: FoundShortcuts, last: bool) -> None:
        self._shortcuts = found.entries
        self.shortcuts_found.emit(found, last)

    def _not_found(self, sentence: str) -> None:
        self._searching = None
        self._steps = []
        self._look(looking=False)
        self.failed.emit(sentence)

    def _not_answered(self, sentence: str) -> None:
        self._asking = None
        self.failed.emit(sentence)
        self._advance()
