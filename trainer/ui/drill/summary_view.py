"""The end of a drill: what was asked, what was missed, what changed in depth in hand."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Signal
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from trainer.memory.sentences import asked_sentence, gain_sentence, strangers_sentence
from trainer.memory.today import NotedDecision
from trainer.notation.display import shown_text
from trainer.repertoire.orders import shown_order
from trainer.ui.decision_list import DecisionList
from trainer.ui.labels import text_label
from trainer.ui.look import Look

if TYPE_CHECKING:
    from trainer.memory.drill import Missed, Summary
    from trainer.repertoire.graph import Repertoire


class SummaryView(QScrollArea):
    """Shown when a drill is over or was ended."""

    back = Signal()
    again = Signal()
    decision_chosen = Signal(object)
    #: What speaks against the wrong move of a `NotedDecision` is to be told.
    why_not = Signal(object)
    edit = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setWidgetResizable(True)
        self._asked = text_label("", "note")
        self._depth = text_label("", "note")
        self._strangers = text_label("", "note")
        self._missed_title = text_label("Missed, with the right move", "heading")
        self.missed = DecisionList(most=40)
        self.back_button = QPushButton("&Back to Today")
        self.back_button.setProperty("primary", "true")
        self.again_button = QPushButton("Drill &again")
        self.edit_button = QPushButton("&Edit the repertoire")
        self.edit_button.clicked.connect(lambda _checked=False: self.edit.emit())
        self.back_button.clicked.connect(self._go_back)
        self.again_button.clicked.connect(self._go_again)
        self.missed.chosen.connect(self.decision_chosen)
        self.missed.why_not.connect(self.why_not)
        self.setFocusProxy(self.back_button)
        self._build()

    def _build(self) -> None:
        page = QWidget()
        outer = QVBoxLayout(page)
        outer.setContentsMargins(36, 28, 36, 28)
        outer.setSpacing(14)
        outer.addWidget(text_label("The drill is over", "title"))
        for label in (self._asked, self._depth, self._strangers):
            outer.addWidget(label)
        row = QHBoxLayout()
        row.addWidget(self.back_button)
        row.addWidget(self.again_button)
        row.addWidget(self.edit_button)
        row.addStretch(1)
        outer.addLayout(row)
        outer.addWidget(self._missed_title)
        outer.addWidget(self.missed)
        outer.addStretch(1)
        self.setWidget(page)

    def _go_back(self) -> None:
        self.back.emit()

    def _go_again(self) -> None:
        self.again.emit()

    def show_summary(self, summary: Summary, repertoire: Repertoire, look: Look) -> None:
        """Show one finished session."""
        self._asked.setText(asked_sentence(summary))
        self._depth.setText(gain_sentence(summary))
        strangers = strangers_sentence(summary)
        self._strangers.setText(strangers)
        self._strangers.setVisible(bool(strangers))
        self._missed_title.setVisible(bool(summary.missed))
        noted = [_noted(missed, repertoire, look) for missed in summary.missed]
        self.missed.show_decisions(noted, look)


def _noted(missed: Missed, repertoire: Repertoire, look: Look) -> NotedDecision:
    played = missed.node.board().san(missed.played)
    remark = shown_text(f"you played {played}", look.notation)
    order = shown_order(repertoire, missed.origin, missed.order)
    return NotedDecision(missed.node, missed.edge, order, remark, missed.played)
