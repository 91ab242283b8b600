"""The margin beside the board: what became of the answer, the note, and why it is asked."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QSizePolicy, QToolButton, QVBoxLayout, QWidget

from trainer.repertoire.notes import NoteKind, sorted_notes
from trainer.ui.drill.look_alike import LookAlikePanel
from trainer.ui.labels import scrolled_column, text_label

_LED = (NoteKind.PLAN, NoteKind.TRICK)


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
        #: Below the reasons, each under its own word.
        self.plan = text_label("", "note")
        self.trick = text_label("", "note")
        self._captions = {kind: text_label(kind, "muted") for kind in _LED}
        #: After a miss: what was told apart from the position asked.
        self.look_alikes = LookAlikePanel()
        #: What an engine has against the move that was played, once it is asked.
        self.why_not = QToolButton()
        self.why_not.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.against = text_label("", "note")
        self.against.setObjectName("against")
        self.why = text_label("", "muted")
        self.why.setObjectName("why")
        for label in (self.note, self.plan, self.trick, self.detail, self.against):
            label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
            label.setFocusPolicy(Qt.FocusPolicy.NoFocus)

        scroll = scrolled_column(
            (
                *(self.verdict, self.detail, self.note),
                *(self._captions[NoteKind.PLAN], self.plan),
                *(self._captions[NoteKind.TRICK], self.trick),
                self.look_alikes,
                *(self.why_not, self.against),
            )
        )
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(scroll, 1)
        outer.addWidget(self.why)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Expanding)

    @property
    def has_note(self) -> bool:
        """Whether there is a note to read."""
        if not self.look_alikes.isHidden():
            return True
        return any(label.text() for label in (self.note, self.plan, self.trick))

    def show_text(
        self, verdict: str = "", detail: str = "", note: Sequence[str] = (), why: str | None = None
    ) -> None:
        """Replace what the panel says; `why` stays as it is when it is None."""
        self.look_alikes.clear()
        self.clear_against()
        self.verdict.setText(verdict)
        self.verdict.setVisible(bool(verdict))
        self.detail.setText(detail)
        self.detail.setVisible(bool(detail))
        notes = sorted_notes(note)
        labels = {NoteKind.REASON: self.note, NoteKind.PLAN: self.plan, NoteKind.TRICK: self.trick}
        for kind, label in labels.items():
            label.setText("\n\n".join(notes[kind]))
            label.setVisible(bool(notes[kind]))
        for kind, caption in self._captions.items():
            caption.setVisible(bool(notes[kind]))
        if why is not None:
            self.why.setText(why)
            self.why.setVisible(bool(why))

    def offer_why_not(self, text: str) -> None:
        """Offer to ask what speaks against the move that was played."""
        self.why_not.setText(text)
        self.why_not.show()

    def show_against(self, text: str) -> None:
        """Show what speaks against it."""
        self.against.setText(text)
        self.against.setVisible(bool(text))

    def clear_against(self) -> None:
        """Neither offer nor say anything against a move."""
        self.why_not.hide()
        self.show_against("")
