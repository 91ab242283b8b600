"""Adding moves from a text: PGN, or moves as books print them."""

from __future__ import annotations

from PySide6.QtWidgets import QDialog, QDialogButtonBox, QPlainTextEdit, QVBoxLayout, QWidget

from trainer.memory.sentences import count
from trainer.repertoire.workshop.results import Pasted
from trainer.ui.labels import text_label

_NAMED = 4


class PasteDialog(QDialog):
    """Shows the text of the clipboard, to be looked at and changed before it is added."""

    def __init__(self, text: str, here: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Paste moves")
        self.text = QPlainTextEdit(text)
        self.text.setAccessibleName("PGN or moves")
        self.text.setPlaceholderText("3 g3 Bg7 4 Bg2, or PGN with variations and comments")
        self.text.setTabChangesFocus(True)
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Cancel)
        self.add = buttons.addButton("&Add the moves", QDialogButtonBox.ButtonRole.AcceptRole)
        self.add.setDefault(True)
        buttons.accepted.connect(self.accept)
        buttons.rejected.connect(self.reject)
        column = QVBoxLayout(self)
        column.addWidget(text_label(f"Added {here}", "heading"))
        column.addWidget(
            text_label(
                "Moves from here on, or whole games from move 1. Variations, comments and signs "
                "are taken in. It is one step, which can be undone.",
                "muted",
            )
        )
        column.addWidget(self.text, 1)
        column.addWidget(buttons)
        height = self.fontMetrics().height()
        self.resize(34 * height, 22 * height)
        self.text.textChanged.connect(self._look)
        self._look()
        (self.add if text.strip() else self.text).setFocus()

    def _look(self) -> None:
        self.add.setEnabled(bool(self.text.toPlainText().strip()))


def pasted_sentence(pasted: Pasted) -> str:
    """What came of it: new moves, known ones, and each place that could not be read."""
    parts = [f"{count(len(pasted.added), 'new move')}, {pasted.known:,} known already."]
    if pasted.joined:
        edge, meeting = pasted.joined[0]
        parts.append(f"{edge.san} joins what is known: {meeting.sentence()}")
        if len(pasted.joined) > 1:
            more = len(pasted.joined) - 1
            parts.append(f"{more:,} more {'joins' if more == 1 else 'join'} known positions.")
    lines = [" ".join(parts)]
    lines += [f"Line {one.line}: {one.reason}." for one in pasted.skipped[:_NAMED]]
    if len(pasted.skipped) > _NAMED:
        lines.append(f"And {len(pasted.skipped) - _NAMED:,} more places could not be read.")
    return "\n".join(line.replace("..", ".") for line in lines)
