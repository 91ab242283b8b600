"""The place called Today."""

from __future__ import annotations

import math
from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QBoxLayout,
    QFrame,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QSpinBox,
    QVBoxLayout,
    QWidget,
)

from trainer.memory.today import DayLoad, Depth, Today
from trainer.ui.decision_list import DecisionList
from trainer.ui.labels import sheet, text_label
from trainer.ui.look import Look
from trainer.ui.theme import Theme
from trainer.ui.today.depth_ruler import DepthRuler
from trainer.ui.today.load_chart import LoadChart
from trainer.ui.words import count

_WELCOME = (
    "Stemline asks you the moves of this repertoire, a few minutes a day, and chooses what is "
    "worth asking by how likely a game gets there and how well you remember it. "
    "Press Start: a move that you do not find is shown to you, and asked again before the drill "
    "ends."
)


def summary_sentence(today: Today) -> str:
    """How many positions are worth asking now, and about how many minutes that is."""
    if not today.decisions:
        return "This repertoire has no prepared move yet."
    if not today.worth_asking:
        return "Nothing is worth asking now: all that matters is remembered."
    minutes = max(1, math.ceil(today.minutes_needed))
    are = "is" if today.worth_asking == 1 else "are"
    return (
        f"{count(today.worth_asking, 'position')} {are} worth asking now, "
        f"about {count(minutes, 'minute')} in all."
    )


def plan_sentence(today: Today) -> str:
    """What the session that would start now holds."""
    if not today.questions:
        return ""
    new = f", {today.new_questions} of them new" if today.new_questions else ""
    return f"The next drill asks {count(today.questions, 'position')}{new}."


def depth_sentence(depth: Depth) -> str:
    """Depth in hand in one sentence."""
    return (
        f"In your next game you can expect {depth.now:.1f} prepared moves in a row from memory. "
        f"Tomorrow it is {depth.drilled:.1f} with today's drill (▼), "
        f"{depth.without:.1f} without it (○); the whole repertoire gives {depth.full:.1f}."
    )


def load_sentence(load: Sequence[DayLoad]) -> str:
    """The load of the coming days in one sentence."""
    minutes = sum(day.minutes for day in load)
    if not any(day.positions for day in load):
        return "Nothing that you have learnt falls due in these days."
    return f"What you have learnt takes about {count(math.ceil(minutes), 'minute')} in all."


class TodayView(QScrollArea):
    """Figures, one button, and below it the coming days and what was missed."""

    start = Signal(int)
    minutes_changed = Signal(int)
    decision_chosen = Signal(object)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setWidgetResizable(True)
        self._title = text_label("", "title")
        self._notice = text_label("", "muted")
        self._welcome = text_label(_WELCOME, "note")
        self._summary = text_label("", "heading")
        self._plan = text_label("")
        self.minutes = QSpinBox()
        self.minutes.setRange(1, 240)
        self.minutes.setSuffix(" min")
        self.minutes.setAccessibleName("Minutes of today's drill")
        self.start_button = QPushButton("&Start the drill")
        self.start_button.setProperty("primary", "true")
        self.start_button.setDefault(True)
        self.ruler = DepthRuler(theme)
        self._depth = text_label("")
        self.load = LoadChart(theme)
        self._load_words = text_label("", "muted")
        self.missed = DecisionList(empty="Nothing was missed lately.")
        self.flagged = DecisionList()
        self._flagged_block = QWidget()
        self._columns = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self._build()
        self.minutes.valueChanged.connect(self.minutes_changed)
        self.start_button.clicked.connect(lambda: self.start.emit(self.minutes.value()))
        for decisions in (self.missed, self.flagged):
            decisions.chosen.connect(self.decision_chosen)
        self.show_reading("")

    def _build(self) -> None:
        page = QWidget()
        outer = QVBoxLayout(page)
        outer.setContentsMargins(36, 28, 36, 28)
        outer.setSpacing(14)
        for label in (self._title, self._notice, self._welcome, self._summary, self._plan):
            outer.addWidget(label)
        row = QHBoxLayout()
        row.addWidget(self.start_button)
        row.addWidget(self.minutes)
        row.addStretch(1)
        outer.addLayout(row)
        outer.addWidget(_heading("Depth in hand"))
        outer.addWidget(self.ruler)
        outer.addWidget(self._depth)
        self._columns.setSpacing(32)
        self._columns.addWidget(_block("The coming 14 days", self.load, self._load_words), 1)
        self._columns.addWidget(_block("Missed lately", self.missed), 1)
        outer.addLayout(self._columns)
        self._flagged_block = _block("Flagged positions", self.flagged)
        outer.addWidget(self._flagged_block)
        outer.addStretch(1)
        self.setWidget(page)

    def resizeEvent(self, event) -> None:
        narrow = self.viewport().width() < 46 * self.fontMetrics().horizontalAdvance("n")
        self._columns.setDirection(
            QBoxLayout.Direction.TopToBottom if narrow else QBoxLayout.Direction.LeftToRight
        )
        super().resizeEvent(event)

    def set_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self.ruler.set_theme(theme)
        self.load.set_theme(theme)

    def set_minutes(self, minutes: int) -> None:
        """Show the chosen minutes without saying that they changed."""
        self.minutes.blockSignals(True)
        self.minutes.setValue(minutes)
        self.minutes.blockSignals(False)

    def show_reading(self, name: str, share: float | None = None) -> None:
        """While a file is being read."""
        self._title.setText(name or "Stemline")
        so_far = f" {share:.0%}" if share is not None else ""
        self._summary.setText(f"Reading the repertoire …{so_far}" if name else "")
        for label in (self._notice, self._plan, self._welcome, self._depth, self._load_words):
            label.hide()
        self.start_button.setEnabled(False)

    def show_failure(self, sentence: str) -> None:
        """When no repertoire could be opened."""
        self._summary.setText(sentence)

    def show_today(self, today: Today, *, title: str, notice: str, look: Look) -> None:
        """Show the figures of an open repertoire."""
        self._title.setText(title)
        self._show(self._notice, notice)
        self._show(self._welcome, _WELCOME if today.first_time and today.decisions else "")
        self._show(self._summary, summary_sentence(today))
        self._show(self._plan, plan_sentence(today))
        self.start_button.setEnabled(today.questions > 0)
        self.ruler.set_depth(today.depth)
        self._show(self._depth, depth_sentence(today.depth))
        self.load.set_days(today.load)
        self._show(self._load_words, load_sentence(today.load))
        self.missed.show_decisions(today.missed, look)
        self.flagged.show_decisions(today.flagged, look)
        self._flagged_block.setVisible(bool(today.flagged))

    @staticmethod
    def _show(label: QLabel, text: str) -> None:
        label.setText(text)
        label.setVisible(bool(text))


def _heading(text: str) -> QLabel:
    return text_label(text, "heading")


def _block(title: str, *widgets: QWidget) -> QWidget:
    frame = sheet()
    column = QVBoxLayout(frame)
    column.addWidget(_heading(title))
    for widget in widgets:
        column.addWidget(widget)
    column.addStretch(1)
    column.setAlignment(Qt.AlignmentFlag.AlignTop)
    return frame
