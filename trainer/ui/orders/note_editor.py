"""Where the player writes what tells two look-alikes apart."""

from __future__ import annotations

from PySide6.QtCore import QTimer, Signal
from PySide6.QtGui import QFocusEvent
from PySide6.QtWidgets import QPlainTextEdit, QVBoxLayout, QWidget

from trainer.ui.labels import text_label

_LINES = 4
#: A pause in typing after which the note is kept.
_PAUSE_MS = 800


class _Paper(QPlainTextEdit):
    left = Signal()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        super().focusOutEvent(event)
        self.left.emit()


class NoteEditor(QWidget):
    """A few lines that are kept by themselves, so that nothing written is lost."""

    #: The text is to be kept; an empty one takes the note away.
    kept = Signal(str)

    def __init__(self, text: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._text = text
        self.paper = _Paper(text)
        self.paper.setAccessibleName("What tells them apart")
        self.paper.setPlaceholderText("Shown in the drill when one of the two is missed")
        self.paper.setTabChangesFocus(True)
        self.paper.setMinimumWidth(60)
        self.paper.setFixedHeight(round((_LINES + 1) * self.paper.fontMetrics().lineSpacing()))
        self._said = text_label("", "muted")
        heading = text_label("&What tells them apart", "heading")
        heading.setBuddy(self.paper)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        for widget in (heading, self.paper, self._said):
            column.addWidget(widget)
        self._pause = QTimer(self)
        self._pause.setSingleShot(True)
        self._pause.setInterval(_PAUSE_MS)
        self._pause.timeout.connect(self.flush)
        self.paper.textChanged.connect(self._changed)
        self.paper.left.connect(self.flush)

    @property
    def text(self) -> str:
        """What stands there now."""
        return self.paper.toPlainText().strip()

    @property
    def said(self) -> str:
        """What was said of the keeping."""
        return self._said.text()

    def flush(self) -> None:
        """Have what was written kept, if it was not."""
        self._pause.stop()
        if self.text != self._text:
            self._text = self.text
            self.kept.emit(self._text)

    def say(self, sentence: str) -> None:
        """Whether it was kept."""
        self._said.setText(sentence)

    def _changed(self) -> None:
        self.say("")
        self._pause.start()
