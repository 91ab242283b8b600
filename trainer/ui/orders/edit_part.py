"""What the player does to an entry: edits are passed on, notes go to the course."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from trainer.errors import StemlineError
from trainer.ui.orders.edits import TellApart
from trainer.ui.orders.page import DetailPage
from trainer.ui.orders.seeker import Seeker

if TYPE_CHECKING:
    from trainer.memory.course import Course

_KEPT = "Kept."
_FORGOTTEN = "Forgotten when this window is closed."


class EditPart(QObject):
    """Asks for edits by the buttons of the page, and by their numbers."""

    #: `AddShortcut` or `ResolveConflict`, to be carried out by whoever may.
    wanted = Signal(object)
    #: The entry will go or change: the keys belong to the list now.
    leaving = Signal()
    #: A note was kept.
    noted = Signal()
    #: It could not be kept; a sentence.
    failed = Signal(str)

    def __init__(
        self, seeker: Seeker, page: DetailPage, parent: QObject, *, editable: bool
    ) -> None:
        super().__init__(parent)
        self._seeker = seeker
        self._page = page
        self._editable = editable
        self.course: Course | None = None
        page.edit_wanted.connect(self.take)

    def take(self, edit: object) -> None:
        """Pass on an edit, or keep a note."""
        if isinstance(edit, TellApart):
            self._tell_apart(edit)
            return
        self.leaving.emit()
        self._seeker.make_way(lambda: self.wanted.emit(edit))

    def by_number(self, number: int) -> bool:
        """Ask for the edit of this number, from 0, of what is shown; whether there is one."""
        detail = self._page.detail
        if not self._editable or detail is None or number >= len(detail.actions):
            return False
        self.take(detail.actions[number][1])
        return True

    def _tell_apart(self, edit: TellApart) -> None:
        course, note = self.course, self._page.note
        if course is None:
            return
        try:
            course.tell_apart(edit.first, edit.second, edit.text)
        except StemlineError as error:
            if note is not None:
                note.say(str(error))
            self.failed.emit(str(error))
            return
        if note is not None:
            note.say(_KEPT if course.keeps_answers else _FORGOTTEN)
        self.noted.emit()
