"""Where the player says at which position his system begins."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QLineEdit, QPushButton, QVBoxLayout, QWidget

from trainer.ui.labels import text_label


class DoorChooser(QWidget):
    """By a FEN, or by the position last looked at in another list."""

    fen_given = Signal(str)
    last_wanted = Signal()
    suggestion_wanted = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.fen = QLineEdit()
        self.fen.setPlaceholderText("FEN of a position of the repertoire")
        self.fen.setAccessibleName("FEN of the position where the system begins")
        self.fen.setMinimumWidth(60)
        self.show_fen = QPushButton("&Show its doors")
        self.use_last = QPushButton("&Position last chosen")
        self.suggested = QPushButton("Back to the su&ggestion")
        self._sentence = text_label("")
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(text_label("Let the system begin elsewhere", "heading"))
        column.addWidget(self.fen)
        for button in (self.show_fen, self.use_last, self.suggested):
            column.addWidget(button, 0, Qt.AlignmentFlag.AlignLeft)
        column.addWidget(self._sentence)
        self._sentence.hide()
        self.fen.returnPressed.connect(self._give)
        self.show_fen.clicked.connect(lambda _checked=False: self._give())
        self.use_last.clicked.connect(lambda _checked=False: self.last_wanted.emit())
        self.suggested.clicked.connect(lambda _checked=False: self.suggestion_wanted.emit())

    def offer(self, *, last: bool, suggestion: bool) -> None:
        """Whether a position was looked at elsewhere, and whether another one than suggested."""
        self.use_last.setEnabled(last)
        self.suggested.setEnabled(suggestion)

    def say(self, sentence: str) -> None:
        """Say why a position cannot be used; nothing hides it."""
        self._sentence.setText(sentence)
        self._sentence.setVisible(bool(sentence))

    @property
    def sentence(self) -> str:
        """What was said last."""
        return self._sentence.text()

    def _give(self) -> None:
        if self.fen.text().strip():
            self.fen_given.emit(self.fen.text().strip())
