"""Reading a repertoire and building the course on it, in the background, one at a time."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QWidget

from trainer.storage.settings import Settings
from trainer.ui.keeper import Keeper
from trainer.ui.tasks import TaskControl, TaskRunner, Work
from trainer.ui.turns import Turns

if TYPE_CHECKING:
    import chess

    from trainer.memory.course import Course
    from trainer.memory.today import Today
    from trainer.repertoire.reader import LoadedRepertoire
    from trainer.ui.workshop.desk import Desk


class CourseLoader(QObject):
    """Takes a file to a course, asking the player what only he knows."""

    #: The name of the file and how much of it was read, 0 to 1.
    progressed = Signal(str, float)
    #: The course and today's figures.
    opened = Signal(object, object)
    #: The file and one sentence.
    failed = Signal(object, str)
    #: It is the other side's: the file and the side, to be read again.
    other_side = Signal(object, bool)
    #: The player does not want to go on beside another window.
    refused = Signal()
    #: The course on the graph as it was edited, today's figures, the revision they are of.
    renewed = Signal(object, object, int)
    not_renewed = Signal(str)

    def __init__(
        self,
        window: QWidget,
        runner: TaskRunner,
        keeper: Keeper,
        parts: Iterator[None],
        desk: Callable[[], Desk],
        settings: Callable[[], Settings],
    ) -> None:
        """`parts` builds, step by step, what the window needs once the library is loaded.

        `desk` gives the workshop, which is one of them.
        """
        super().__init__(window)
        self._window = window
        self._runner = runner
        self._keeper = keeper
        self._parts = parts
        self._building = Turns(self)
        self._desk = desk
        self._settings = settings
        self._reading: TaskControl | None = None
        self._renewing: TaskControl | None = None

    @property
    def renewing(self) -> bool:
        """Whether a course is being built anew after edits."""
        return self._renewing is not None

    def cancel(self) -> None:
        """Give up what is under way; nothing more is heard of it."""
        for task in (self._reading, self._renewing):
            if task is not None:
                task.cancel()
        self._building.cancel()
        self._reading = self._renewing = None

    # -- from a file -------------------------------------------------------------------------

    def read(self, path: Path, side: chess.Color | None) -> None:
        """Begin to read a file; `side` overrides what it says."""
        self.cancel()
        self._start(
            path,
            lambda control: self._keeper.read(path, control, side),
            done=self._read,
            progressed=lambda share: self.progressed.emit(path.name, share),
        )

    def _start(
        self,
        path: Path,
        work: Work,
        *,
        done: Callable[..., None],
        progressed: Callable[[float], None] | None = None,
    ) -> None:
        self._reading = self._runner.start(
            work,
            done=done,
            failed=lambda sentence: self._not_opened(path, sentence),
            progressed=progressed,
        )

    def _read(self, loaded: LoadedRepertoire) -> None:
        """The file is read: settle whose it is, then look up what is remembered of it."""
        assert loaded.path is not None
        if not self._goes_on_when_locked():
            self.refused.emit()
            return
        side = loaded.repertoire.side
        if loaded.side_guessed:
            from trainer.ui.opening import ask_for_side

            side = ask_for_side(self._window, loaded.path.name, side)
        if side != loaded.repertoire.side:
            self.other_side.emit(loaded.path, side)
            return
        self._building.run(self._parts, lambda: self._offer(loaded))

    def _offer(self, loaded: LoadedRepertoire) -> None:
        """Offer back what was not saved last time, and go on with the course."""
        self._desk().offer(
            loaded, self._go_on_reading, self._open_course, forbidden=self._keeper.elsewhere
        )

    def _go_on_reading(self, work: Work, **callbacks: Callable[..., None]) -> TaskControl:
        self._reading = self._runner.start(work, **callbacks)
        return self._reading

    def _goes_on_when_locked(self) -> bool:
        """Offer to read only where another window holds the progress."""
        sentence, self._keeper.locked = self._keeper.locked, ""
        if not sentence:
            return True
        from trainer.ui.opening import offer_reading_only

        return offer_reading_only(self._window, sentence)

    def _open_course(self, loaded: LoadedRepertoire) -> None:
        assert loaded.path is not None
        settings = self._settings()
        self._start(
            loaded.path,
            lambda _control: self._keeper.course(loaded, settings),
            done=self._opened,
        )

    def _opened(self, result: tuple[Course, Today]) -> None:
        self._reading = None
        self.opened.emit(*result)

    def _not_opened(self, path: Path, sentence: str) -> None:
        self._reading = None
        self.failed.emit(path, sentence)

    # -- after edits -------------------------------------------------------------------------

    def renew(self, loaded: LoadedRepertoire, before: Course, revision: int) -> None:
        """Build the course anew on the graph as it is now, without reading the file again."""
        if self._renewing is not None:
            self._renewing.cancel()
        settings = self._settings()
        self._renewing = self._runner.start(
            lambda _control: self._keeper.course(loaded, settings, before),
            done=lambda result: self._renewed(result, revision),
            failed=self._not_renewed,
        )

    def _renewed(self, result: tuple[Course, Today], revision: int) -> None:
        self._renewing = None
        self.renewed.emit(*result, revision)

    def _not_renewed(self, sentence: str) -> None:
        self._renewing = None
        self.not_renewed.emit(sentence)
