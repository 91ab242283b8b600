"""Reach by what was really played: counted in the background, kept, and given to the course."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from PySide6.QtCore import QObject, Signal

from trainer.ui.tasks import TaskControl, TaskRunner

if TYPE_CHECKING:
    from trainer.games.base.store import ReferenceBase
    from trainer.games.replies import Partings
    from trainer.memory.course import Course
    from trainer.storage.reply_counts import MoveCounts, ReplyCounts
    from trainer.ui.base.desk import BaseDesk

#: Positions that the base is asked for at a time, so that other questions come in between.
_PIECE: Final = 100


class Measuring(QObject):
    """Keeps the counts of one course up to date with its games and with the base."""

    #: Reach has changed.
    measured = Signal()
    failed = Signal(str)

    def __init__(
        self,
        runner: TaskRunner,
        base: BaseDesk,
        file_of: Callable[[Path], Path],
        parent: QObject | None = None,
    ) -> None:
        super().__init__(parent)
        self._runner = runner
        self._base = base
        self._file_of = file_of
        self._course: Course | None = None
        self._task: TaskControl | None = None
        self._asked: TaskControl | None = None
        base.changed.connect(self._ask_base)

    def show_course(self, course: Course | None) -> None:
        """Measure for another course, or for none."""
        self._stop()
        self._course = course
        self._ask_base()

    def count_own(self, course: Course, own: MoveCounts, games: int) -> None:
        """The player's games, so many, were counted."""
        kept = course.replies
        if course is self._course and (own, games) != (kept.own, kept.games):
            self._use(course, own=own, games=games)

    # -- the base ------------------------------------------------------------------------------

    def _stop(self) -> None:
        for task in (self._task, self._asked):
            if task is not None:
                task.cancel()
        self._task = self._asked = None

    def _ask_base(self) -> None:
        course = self._course
        if self._asked is not None:
            self._asked.cancel()
            self._asked = None
        if course is None:
            return
        if not self._base.has_base:
            if course.replies.base:
                self._use(course, base={})
            return
        from trainer.games.replies import partings

        # Looked through by the worker that never runs beside an edit of the repertoire.
        self._asked = self._runner.start(
            lambda _control: partings(course.repertoire),
            done=lambda wanted: self._ask_piece(course, wanted, {}, 0),
            failed=self.failed.emit,
        )

    def _ask_piece(
        self, course: Course, wanted: Partings, found: dict[int, dict[str, int]], begin: int
    ) -> None:
        piece = wanted.part(begin, begin + _PIECE)
        if not piece.positions:
            self._asked = None
            if found != course.replies.base:
                self._use(course, base=found)
            return

        def question(base: ReferenceBase) -> object:
            from trainer.games.replies import base_replies

            return base_replies(piece, base)

        def take(counts: object) -> None:
            assert isinstance(counts, dict)
            found.update(counts)
            self._ask_piece(course, wanted, found, begin + _PIECE)

        self._asked = self._base.ask(question, take, self.failed.emit)

    # -- using it ------------------------------------------------------------------------------

    def _use(self, course: Course, **counted: MoveCounts | int) -> None:
        self._task = self._runner.start(
            partial(_use, course, self._file_of(course.path), counted),
            done=lambda _nothing: self.measured.emit(),
            failed=self.failed.emit,
        )


def _use(
    course: Course, path: Path, counted: dict[str, Any], _control: TaskControl
) -> ReplyCounts:
    """Keep new counts and measure reach by them; for a worker thread."""
    from trainer.storage.reply_counts import save_reply_counts

    # Both kinds may be under way, so what stands now is looked up only here.
    replies = replace(course.replies, **counted)
    course.use_replies(replies)
    if course.keeps_answers:
        save_reply_counts(path, replies)
    return replies
