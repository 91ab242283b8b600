"""Adding moves from a text: PGN, or moves as books print them."""

from __future__ import annotations

from PySide6.QtWidgets import QDialog, QDialogButtonBox, QPlainTextEdit, QVBoxLayout, QWidget

from trainer.ui.labels import text_label


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
