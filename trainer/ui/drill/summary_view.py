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

from trainer.memory.today import NotedDecision
from trainer.notation.display import shown_text
from trainer.ui.decision_list import DecisionList
from trainer.ui.labels import text_label
from trainer.ui.look import Look
from trainer.ui.words import count

if TYPE_CHECKING:
    from trainer.memory.drill import Missed, Summary


def asked_sentence(summary: Summary) -> str:
    """What was asked and how it went."""
    if not summary.asked:
        return "Nothing was asked this time."
    parts = [f"{count(summary.asked, 'position')} asked, {summary.right} right at once"]
    if summary.slow:
        parts.append(f"{summary.slow} of them slowly")
    if summary.hinted:
        parts.append(f"{summary.hinted} with a hint")
    if summary.missed:
        parts.append(f"{len(summary.missed)} missed")
    if summary.skipped:
        parts.append(f"{summary.skipped} skipped")
    minutes = summary.seconds / 60
    time = f"{minutes:.0f} min" if minutes >= 1 else f"{summary.seconds:.0f} s"
    return ", ".join(parts) + f"; {time} of thinking."


def depth_sentence(summary: Summary) -> str:
    """What the drill changed in depth in hand."""
    gained = summary.depth_after - summary.depth_before
    if abs(gained) < 0.05:
        return f"Depth in hand for a game tomorrow: {summary.depth_after:.1f} moves."
    direction = "up" if gained > 0 else "down"
    return (
        f"Depth in hand for a game tomorrow: {summary.depth_after:.1f} moves, {direction} from "
        f"{summary.depth_before:.1f} without this drill."
    )


def strangers_sentence(summary: Summary) -> str:
    """How strangers fared; empty where there were none and no false alarm."""
    met = summary.strangers_noticed + summary.strangers_unnoticed
    parts = []
    if met:
        parts.append(f"{summary.strangers_noticed} of {count(met, 'stranger')} noticed")
    if summary.false_alarms:
        parts.append(count(summary.false_alarms, "false alarm"))
    return ", ".join(parts) + "." if parts else ""


class SummaryView(QScrollArea):
    """Shown when a drill is over or was ended."""

    back = Signal()
    again = Signal()
    decision_chosen = Signal(object)

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
        self.back_button.clicked.connect(self._go_back)
        self.again_button.clicked.connect(self._go_again)
        self.missed.chosen.connect(self.decision_chosen)
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

    def show_summary(self, summary: Summary, look: Look) -> None:
        """Show one finished session."""
        self._asked.setText(asked_sentence(summary))
        self._depth.setText(depth_sentence(summary))
        strangers = strangers_sentence(summary)
        self._strangers.setText(strangers)
        self._strangers.setVisible(bool(strangers))
        self._missed_title.setVisible(bool(summary.missed))
        self.missed.show_decisions([_noted(missed, look) for missed in summary.missed], look)


def _noted(missed: Missed, look: Look) -> NotedDecision:
    played = missed.node.board().san(missed.played)
    remark = shown_text(f"you played {played}", look.notation)
    return NotedDecision(missed.node, missed.edge, missed.order, remark)
