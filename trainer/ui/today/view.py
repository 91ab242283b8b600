"""The place called Today."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QBoxLayout,
    QFrame,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QSpinBox,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from trainer.memory.sentences import (
    WELCOME,
    load_sentence,
    outlook_sentence,
    plan_sentence,
    worth_sentence,
)
from trainer.ui.decision_list import DecisionList
from trainer.ui.labels import sheet, text_label
from trainer.ui.look import Look
from trainer.ui.theme import Theme
from trainer.ui.today.depth_ruler import DepthRuler
from trainer.ui.today.load_chart import LoadChart

if TYPE_CHECKING:
    from trainer.memory.today import Today


class TodayView(QScrollArea):
    """Figures, one button, and below it the coming days and what was missed."""

    start = Signal(int)
    minutes_changed = Signal(int)
    decision_chosen = Signal(object)
    put_right = Signal()
    memory_wanted = Signal()
    exercise_wanted = Signal()

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setWidgetResizable(True)
        self._title = text_label("", "title")
        self._notice = text_label("", "muted")
        self._welcome = text_label(WELCOME, "note")
        self._summary = text_label("", "heading")
        self._plan = text_label("")
        self.minutes = QSpinBox()
        self.minutes.setRange(1, 240)
        self.minutes.setSuffix(" min")
        self.minutes.setAlignment(Qt.AlignmentFlag.AlignHCenter)
        self.minutes.setAccessibleName("Minutes of today's drill")
        self.start_button = QPushButton("&Start the drill")
        self.start_button.setProperty("primary", "true")
        self.start_button.setDefault(True)
        self.exercise_button = QPushButton("E&xercise …")
        self.exercise_button.setToolTip("Only a section, a structure, what was missed …")
        self.memory_button = QPushButton("M&emory …")
        self.memory_button.setToolTip("How well the model knows you, and the weeks ahead")
        self.setFocusProxy(self.start_button)
        self.ruler = DepthRuler(theme)
        self._depth = text_label("")
        self.load = LoadChart(theme)
        self._load_words = text_label("", "muted")
        self.missed = DecisionList(empty="Nothing was missed lately.")
        self.flagged = DecisionList()
        self._flagged_block = QWidget()
        self.put_right_button = QToolButton()
        self.put_right_button.setToolTip("Holes, conflicts and what else is to be mended")
        self.put_right_button.hide()
        self.put_right_button.clicked.connect(lambda _checked=False: self.put_right.emit())
        self._columns = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self._build()
        self.minutes.valueChanged.connect(self.minutes_changed)
        self.start_button.clicked.connect(lambda: self.start.emit(self.minutes.value()))
        self.memory_button.clicked.connect(lambda _on=False: self.memory_wanted.emit())
        self.exercise_button.clicked.connect(lambda _on=False: self.exercise_wanted.emit())
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
        more = QHBoxLayout()
        more.addWidget(self.exercise_button)
        more.addWidget(self.memory_button)
        more.addStretch(1)
        outer.addLayout(more)
        depth_title = _heading("Depth in hand")
        load = _block("The coming 14 days", self.load, self._load_words)
        missed = _block("Missed lately", self.missed)
        self._figures = (depth_title, self.ruler, load, missed)
        outer.addWidget(depth_title)
        outer.addWidget(self.ruler)
        outer.addWidget(self._depth)
        self._columns.setSpacing(32)
        self._columns.addWidget(load, 1)
        self._columns.addWidget(missed, 1)
        outer.addLayout(self._columns)
        self._flagged_block = _block("Flagged positions", self.flagged)
        outer.addWidget(self._flagged_block)
        outer.addWidget(self.put_right_button, 0, Qt.AlignmentFlag.AlignLeft)
        outer.addStretch(1)
        self.setWidget(page)

    def resizeEvent(self, event) -> None:
        # The size of the viewport, which PySide takes 10 ms to hand out for the first time.
        narrow = event.size().width() < 46 * self.fontMetrics().horizontalAdvance("n")
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
        for button in (self.start_button, self.memory_button, self.exercise_button):
            button.setEnabled(False)
        self.put_right_button.hide()

    def show_put_right(self, number: int) -> None:
        """A quiet line with how many things are to be put right."""
        self.put_right_button.setText(f"{number:,} thing{'' if number == 1 else 's'} to put right")
        self.put_right_button.setVisible(number > 0)

    def show_failure(self, sentence: str) -> None:
        """When no repertoire could be opened."""
        self._summary.setText(sentence)
        # What stands there may be another repertoire's.
        for figure in (*self._figures, self._flagged_block):
            figure.hide()

    def show_today(self, today: Today, *, title: str, notice: str, look: Look) -> None:
        """Show the figures of an open repertoire."""
        self._title.setText(title)
        for figure in self._figures:
            figure.show()
        self._show(self._notice, notice)
        self._show(self._welcome, WELCOME if today.first_time and today.decisions else "")
        self._show(self._summary, worth_sentence(today))
        self._show(self._plan, plan_sentence(today))
        self.start_button.setEnabled(today.questions > 0)
        for button in (self.memory_button, self.exercise_button):
            button.setEnabled(today.decisions > 0)
        self.ruler.set_depth(today.depth)
        self._show(self._depth, f"{outlook_sentence(today.depth)} (▼ with the drill, ○ without)")
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
