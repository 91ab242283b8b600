"""The margin beside the board: what became of the answer, the note, and why it is asked."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QSizePolicy, QVBoxLayout, QWidget

from trainer.ui.labels import scrolled_column, text_label


class NotePanel(QWidget):
    """A column of text, scrolled when a note is long."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.verdict = text_label("", "heading")
        self.verdict.setObjectName("verdict")
        self.detail = text_label("")
        self.detail.setObjectName("detail")
        self.note = text_label("", "note")
        self.note.setObjectName("note")
        self.why = text_label("", "muted")
        self.why.setObjectName("why")
        for label in (self.note, self.detail):
            label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
            label.setFocusPolicy(Qt.FocusPolicy.NoFocus)

        scroll = scrolled_column((self.verdict, self.detail, self.note))
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(scroll, 1)
        outer.addWidget(self.why)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Expanding)

    def show_text(
        self, verdict: str = "", detail: str = "", note: Sequence[str] = (), why: str | None = None
    ) -> None:
        """Replace what the panel says; `why` stays as it is when it is None."""
        self.verdict.setText(verdict)
        self.verdict.setVisible(bool(verdict))
        self.detail.setText(detail)
        self.detail.setVisible(bool(detail))
        self.note.setText("\n\n".join(note))
        self.note.setVisible(bool(note))
        if why is not None:
            self.why.setText(why)
            self.why.setVisible(bool(why))
