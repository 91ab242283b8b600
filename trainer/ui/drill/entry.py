"""The line where moves are typed, and the keys that work beside it."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QLineEdit, QWidget

from trainer.ui.board.widget import BoardWidget

#: Letters that begin no move, so that they can be commands while the line is empty.
COMMAND_KEYS = {
    "?": "hint",
    "l": "left",
    "s": "skip",
    "m": "flag",
    "u": "undo",
    "p": "pause",
    "t": "targets",
    "v": "flip",
    "y": "why",
}

_ARROWS = (Qt.Key.Key_Left, Qt.Key.Key_Right, Qt.Key.Key_Up, Qt.Key.Key_Down)


class MoveEntry(QLineEdit):
    """A line edit that turns command letters into commands as long as nothing is typed."""

    command = Signal(str)
    proceed = Signal()
    entered = Signal(str)
    arrow = Signal(QKeyEvent)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setPlaceholderText("Type a move: Nf3, g1f3 …")
        self.setAccessibleName("Move")
        self.setMaxLength(24)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if not self.handle(event):
            super().keyPressEvent(event)

    def handle(self, event: QKeyEvent) -> bool:
        """Take a key that is a command or ends the typing; say whether it was taken."""
        key = event.key()
        if key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self._end_typing()
            return True
        if self.text() or event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            return False
        if key == Qt.Key.Key_Space:
            self.proceed.emit()
            return True
        if key in _ARROWS:
            self.arrow.emit(event)
            return True
        name = COMMAND_KEYS.get(event.text().lower())
        if name is not None:
            self.command.emit(name)
            return True
        return False

    def _end_typing(self) -> None:
        text = self.text().strip()
        if text:
            self.entered.emit(text)
        else:
            self.proceed.emit()


class KeyForwarder(QObject):
    """Sends letters pressed on the board to the move line, unless they choose a promotion."""

    def __init__(self, entry: MoveEntry, board: BoardWidget) -> None:
        super().__init__(entry)
        self._entry = entry
        self._board = board

    def eventFilter(self, _watched: QObject, event: QEvent) -> bool:
        if event.type() != QEvent.Type.KeyPress or self._board.choosing_promotion:
            return False
        assert isinstance(event, QKeyEvent)
        text = event.text()
        if not text or not text.isprintable() or text == " ":
            return False
        if event.modifiers() & (
            Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier
        ):
            return False
        self._entry.setFocus()
        if not self._entry.handle(event):
            self._entry.insert(text)
        return True
