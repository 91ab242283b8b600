"""How the window comes to the page Memory and to exercises, built when first asked for."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal
from PySide6.QtGui import QKeySequence
from PySide6.QtWidgets import QMenu, QWidget

from trainer.ui.look import Look
from trainer.ui.tasks import TaskRunner

if TYPE_CHECKING:
    from trainer.memory.course import Course
    from trainer.ui.memory.desk import MemoryDesk


class MemoryAccess(QObject):
    """Opens the page and begins exercises, for a window that says what may be done now."""

    #: The page is to be shown alone.
    page_wanted = Signal(QWidget)
    left = Signal()
    #: What opens the session of an exercise, and whether the board stays behind.
    exercise = Signal(object, bool)
    changed = Signal(object)
    decision_chosen = Signal(object)

    def __init__(
        self,
        parent: QWidget,
        runner: TaskRunner,
        look: Callable[[], Look],
        course: Callable[[], Course | None],
    ) -> None:
        """`course` gives the open course, None where nothing may be asked of it now."""
        super().__init__(parent)
        self._window = parent
        self._runner = runner
        self._look = look
        self._course = course
        self.desk: MemoryDesk | None = None

    def fill_menu(self, menu: QMenu) -> None:
        """The commands of the menu Drill."""
        exercise = menu.addAction("E&xercise …")
        exercise.setShortcut(QKeySequence("Ctrl+Shift+E"))
        exercise.triggered.connect(lambda _on=False: self.choose_exercise())
        memory = menu.addAction("&Memory")
        memory.setShortcut(QKeySequence("Ctrl+M"))
        memory.triggered.connect(lambda _on=False: self.show_page())

    def show_page(self) -> None:
        """Show what the program knows of the player's memory."""
        course = self._course()
        if course is not None:
            desk = self._built()
            self.page_wanted.emit(desk.page)
            desk.page.setFocus()
            desk.show(course)

    def choose_exercise(self) -> None:
        """Ask for an exercise; it begins once it was chosen."""
        course = self._course()
        if course is not None:
            desk = self._built()
            desk.know(course)
            desk.choose_exercise()

    def _built(self) -> MemoryDesk:
        if self.desk is None:
            from trainer.ui.memory.desk import MemoryDesk

            self.desk = MemoryDesk(self._window, self._runner, self._look())
            self.desk.left.connect(self.left)
            self.desk.exercise.connect(self.exercise)
            self.desk.changed.connect(self.changed)
            self.desk.decision_chosen.connect(self.decision_chosen)
        self.desk.set_look(self._look())
        return self.desk
