"""A few lines that the player writes and that are kept by themselves."""

from __future__ import annotations

from PySide6.QtCore import QTimer, Signal
from PySide6.QtGui import QFocusEvent
from PySide6.QtWidgets import QPlainTextEdit, QVBoxLayout, QWidget

from trainer.ui.labels import text_label

_LINES = 4
#: A pause in typing after which the text is kept.
_PAUSE_MS = 800


class _Paper(QPlainTextEdit):
    left = Signal()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        super().focusOutEvent(event)
        self.left.emit()


class KeptText(QWidget):
    """Has the text kept at a pause in typing and on leaving, so that nothing written is lost."""

    #: The text is to be kept; an empty one takes away what was there.
    kept = Signal(str)

    def __init__(
        self, heading: str, name: str, placeholder: str, parent: QWidget | None = None
    ) -> None:
        """`heading` stands above, `name` is what a screen reader says of the field."""
        super().__init__(parent)
        self._text = ""
        self.paper = _Paper()
        self.paper.setAccessibleName(name)
        self.paper.setPlaceholderText(placeholder)
        self.paper.setTabChangesFocus(True)
        self.paper.setMinimumWidth(60)
        self._said = text_label("", "muted")
        self._said.hide()
        above = text_label(heading, "heading")
        above.setBuddy(self.paper)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        for widget in (above, self.paper, self._said):
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

    def show_text(self, text: str) -> None:
        """Show what is kept of something else; what was written before is kept first."""
        self.flush()
        self._text = text
        self.paper.setPlainText(text)
        self._pause.stop()
        self.say("")
        self.paper.setFixedHeight(round((_LINES + 1) * self.paper.fontMetrics().lineSpacing()))

    def flush(self) -> None:
        """Have what was written kept, if it was not."""
        self._pause.stop()
        if self.text != self._text:
            self._text = self.text
            self.kept.emit(self._text)

    def say(self, sentence: str) -> None:
        """Whether it was kept, or what went wrong; "" says nothing."""
        self._said.setText(sentence)
        self._said.setVisible(bool(sentence))

    def _changed(self) -> None:
        self.say("")
        self._pause.start()
