"""What would come out of the import: counted in the background, told in words."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import (
    QHBoxLayout,
    QPlainTextEdit,
    QProgressBar,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from trainer.ui.importing.wish import Outcome
from trainer.ui.labels import text_label

_STEPS = 1000


class Preview(QWidget):
    """Words, and while it is being counted, how far that is with a button to stop it."""

    stopped = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.words = QPlainTextEdit()
        self.words.setReadOnly(True)
        self.words.setTabChangesFocus(True)
        self.words.setAccessibleName("What comes out")
        self.words.setMinimumHeight(120)
        self.bar = QProgressBar()
        self.bar.setRange(0, _STEPS)
        self.bar.setAccessibleName("How far it is")
        self.stop = QPushButton("Stop")
        self.stop.setAutoDefault(False)
        self.stop.clicked.connect(self.stopped)
        self._counting = QWidget()
        row = QHBoxLayout(self._counting)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(self.bar, 1)
        row.addWidget(self.stop)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(text_label("What comes out", "heading"))
        column.addWidget(self.words, 1)
        column.addWidget(self._counting)
        self.show_sentence("")

    def show_counting(self, share: float = 0.0) -> None:
        """It is being counted; the words of before stay until then."""
        self.bar.setValue(round(share * _STEPS))
        self._counting.show()

    def show_sentence(self, sentence: str) -> None:
        """Nothing came out, and why."""
        self._counting.hide()
        self.words.setPlainText(sentence)

    def show_outcome(self, outcome: Outcome) -> None:
        """The report, then each game that could not be read."""
        self._counting.hide()
        lines = list(outcome.words)
        if outcome.left:
            lines += ["", "Not read in full:", *outcome.left]
        self.words.setPlainText("\n".join(lines))
