"""Where the player writes his own plan for a structure."""

from __future__ import annotations

from PySide6.QtCore import QTimer, Signal
from PySide6.QtGui import QFocusEvent
from PySide6.QtWidgets import QPlainTextEdit, QVBoxLayout, QWidget

from trainer.ui.labels import text_label

_LINES = 4
#: A pause in typing after which the plan is kept.
_PAUSE_MS = 800


class _Paper(QPlainTextEdit):
    left = Signal()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        super().focusOutEvent(event)
        self.left.emit()


class PlanEditor(QWidget):
    """A few lines that are kept by themselves, so that nothing written is lost."""

    #: The text is to be kept; an empty one takes the plan away.
    kept = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._text = ""
        self.paper = _Paper()
        self.paper.setAccessibleName("Your own plan for this structure")
        self.paper.setPlaceholderText("Shown in the drill wherever this structure occurs")
        self.paper.setTabChangesFocus(True)
        self.paper.setMinimumWidth(60)
        self._said = text_label("", "muted")
        self._said.hide()
        heading = text_label("Your own &plan", "heading")
        heading.setBuddy(self.paper)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        for widget in (heading, self.paper, self._said):
            column.addWidget(widget)
        self._pause = QTimer(self)
        self._pause.setSingleShot(True)
        self._pause.setInterval(_PAUSE_MS)
        self._pause.timeout.connect(self.flush)
        self.paper.textChanged.connect(self._pause.start)
        self.paper.left.connect(self.flush)

    def show_plan(self, text: str) -> None:
        """Show what is kept for another structure; what was written before is kept first."""
        self.flush()
        self._text = text
        self.paper.setPlainText(text)
        self._pause.stop()
        self.say("")
        self.paper.setFixedHeight(round((_LINES + 1) * self.paper.fontMetrics().lineSpacing()))

    def flush(self) -> None:
        """Have what was written kept, if it was not."""
        self._pause.stop()
        text = self.paper.toPlainText().strip()
        if text != self._text:
            self._text = text
            self.kept.emit(text)

    def say(self, sentence: str) -> None:
        """What went wrong in keeping it, "" where nothing did."""
        self._said.setText(sentence)
        self._said.setVisible(bool(sentence))
