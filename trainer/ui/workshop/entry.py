"""The line where moves are typed on the page of the workshop, and the keys beside it."""

from __future__ import annotations

from PySide6.QtCore import QEvent, Qt, Signal
from PySide6.QtGui import QKeyEvent, QKeySequence
from PySide6.QtWidgets import QLineEdit, QWidget

#: Letters that begin no move, so that they can be commands while the line is empty.
COMMAND_KEYS = {
    "w": "write",
    "p": "plan",
    "t": "trick",
    "s": "sign",
    "m": "main",
    "x": "other",
    "v": "flip",
    "l": "lines",
}
_KEYS = {
    Qt.Key.Key_Left: "back",
    Qt.Key.Key_Right: "on",
    Qt.Key.Key_Home: "start",
    Qt.Key.Key_Up: "lines",
    Qt.Key.Key_Down: "lines",
    Qt.Key.Key_Delete: "delete",
}


class MoveLine(QLineEdit):
    """As long as it is empty, letters and arrows are commands."""

    command = Signal(str)
    entered = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setPlaceholderText("Type a move: Nf3, g1f3 …")
        self.setAccessibleName("Move to add or to go to")
        self.setMaxLength(24)

    def event(self, event: QEvent) -> bool:
        if event.type() == QEvent.Type.ShortcutOverride:
            assert isinstance(event, QKeyEvent)
            # These mean the repertoire, and an empty line has nothing to undo.
            keys = QKeySequence.StandardKey
            pasting = event.matches(keys.Paste)
            undoing = event.matches(keys.Undo) or event.matches(keys.Redo)
            if pasting or (undoing and not self.text()):
                event.ignore()
                return False
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if not self.handle(event):
            super().keyPressEvent(event)

    def handle(self, event: QKeyEvent) -> bool:
        """Take a key that is a command or ends the typing; say whether it was taken."""
        key = event.key()
        text = self.text().strip()
        if key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            if text:
                self.entered.emit(text)
            else:
                self.command.emit("on")
            return True
        if key == Qt.Key.Key_Escape and self.text():
            self.clear()
            return True
        if self.text() or event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            return False
        name = _KEYS.get(Qt.Key(key)) or COMMAND_KEYS.get(event.text().lower())
        if name is None:
            return False
        self.command.emit(name)
        return True
