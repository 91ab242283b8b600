"""The window's way to the drill: it is built, begun, brought on the screen and ended here."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QWidget

from trainer.storage.log import BugLog
from trainer.storage.settings import Settings
from trainer.storage.writer import Writer
from trainer.ui.lesson.own_plans import OwnPlans
from trainer.ui.look import Look
from trainer.ui.places import Places
from trainer.ui.tasks import TaskControl, TaskRunner
from trainer.ui.turns import Turns

if TYPE_CHECKING:
    from trainer.memory.course import Course
    from trainer.memory.session import DrillSession, Summary
    from trainer.ui.drill.controller import DrillController
    from trainer.ui.drill.summary_view import SummaryView
    from trainer.ui.drill.view import DrillView


@dataclass(frozen=True, eq=False)
class DrillMeans:
    """What the drill is given by the window; `course` and `look` are those of the moment."""

    window: QWidget
    places: Places
    runner: TaskRunner
    writer: Writer
    plans: OwnPlans
    log: BugLog
    course: Callable[[], Course | None]
    look: Callable[[], Look]


class DrillDesk(QObject):
    """Owns the drill's page, its summary and its controller, once they are built."""

    #: A session could not be begun; with the sentence.
    not_begun = Signal(str)
    #: A session was begun in which nothing is asked.
    nothing_asked = Signal()

    def __init__(self, means: DrillMeans) -> None:
        super().__init__(means.window)
        self._means = means
        self._beginning: TaskControl | None = None
        self._entering = Turns(self)
        self.view: DrillView
        self.summary: SummaryView
        self.controller: DrillController | None = None

    def build(self, settings: Settings) -> Iterator[None]:
        """Build what is shown, step by step, once a worker has imported it."""
        from trainer.ui.board.widget import BoardWidget
        from trainer.ui.drill.controller import DrillController
        from trainer.ui.drill.note_panel import NotePanel
        from trainer.ui.drill.recorder import Recorder
        from trainer.ui.drill.summary_view import SummaryView
        from trainer.ui.drill.view import DrillView

        board, panel = BoardWidget(), NotePanel()
        yield
        self.view = DrillView(board, panel, self._means.window)
        self.view.hide()
        yield
        self.summary = SummaryView(self._means.window)
        self.summary.hide()
        recorder = Recorder(self._means.writer, self._means.log, self)
        controller = DrillController(self.view, settings, recorder)
        controller.set_settings(settings, self._means.look().theme)
        controller.ended.connect(self._end)
        controller.plans = self._means.plans.at
        self.controller = controller

    def set_settings(self, settings: Settings) -> None:
        """Take over changed settings, also in the middle of a drill."""
        if self.controller is not None:
            self.controller.set_settings(settings, self._means.look().theme)

    # -- beginning ---------------------------------------------------------------------------

    @property
    def drilling(self) -> bool:
        """Whether a drill is under way or being planned."""
        running = self.controller is not None and self.controller.running
        return running or self._beginning is not None

    def begin(self, begin: Callable[[], DrillSession], *, blind: bool = False) -> None:
        """Have a worker call `begin`, and ask what it planned."""

        def work(_control: TaskControl) -> DrillSession:
            # The first note would have the window wait for them.
            self._means.plans.prepare()
            return begin()

        self._beginning = self._means.runner.start(
            work,
            done=lambda session: self._run(session, blind=blind),
            failed=self._not_begun,
        )

    def give_up(self) -> None:
        """Begin nothing any more: another repertoire is opened, or the window closed."""
        if self._beginning is not None:
            self._beginning.cancel()
        self._beginning = None
        self._entering.cancel()

    def _not_begun(self, sentence: str) -> None:
        self._beginning = None
        self.not_begun.emit(sentence)

    def _run(self, session: DrillSession, *, blind: bool) -> None:
        if self._means.course() is None or self.controller is None:
            self._beginning = None
        elif session.prompt is None:
            self._beginning = None
            self.nothing_asked.emit()
        else:
            self._entering.run(self._enter(), lambda: self._ask(session, blind=blind))

    def _enter(self) -> Iterator[None]:
        """Put the board on the screen; to lay it out and to draw it takes some frames."""
        board = self.view.board
        board.setUpdatesEnabled(False)
        self._means.places.show_alone(self.view)
        yield
        yield from board.prepare()

    def _ask(self, session: DrillSession, *, blind: bool) -> None:
        self._beginning = None
        course = self._means.course()
        if course is None or self.controller is None:
            return
        self.view.board.setUpdatesEnabled(True)
        self.controller.blind = blind
        self.controller.run(session, course.repertoire, course.look_alikes)

    # -- holding and ending ------------------------------------------------------------------

    def held(self) -> AbstractContextManager[None]:
        """A drill stands still while a box is open over it."""
        return nullcontext() if self.controller is None else self.controller.held()

    def leave(self) -> None:
        """End the drill that is under way, where there is one."""
        if self.controller is not None and self.controller.running:
            self.controller.leave()

    def _end(self, summary: Summary) -> None:
        course = self._means.course()
        if course is None:
            return
        # Every answer is on the disk already; nobody has to wait for this.
        self._means.writer.put(course.ending(summary))
        self.summary.show_summary(summary, course.repertoire, self._means.look())
        self._means.places.show_alone(self.summary)
        self.summary.setFocus()
