"""The page Memory: how well the model knows the player, the weeks ahead, what is missed again."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import QDate, QEvent, Qt, Signal
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QDateEdit,
    QFrame,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from trainer.ui.decision_list import DecisionList
from trainer.ui.labels import text_label
from trainer.ui.look import Look
from trainer.ui.memory import words
from trainer.ui.memory.charts import CalibrationChart, MinutesChart

if TYPE_CHECKING:
    from trainer.ui.memory.facts import MemoryFacts

ALL_SECTIONS = "The whole repertoire"


class MemoryPage(QScrollArea):
    """Shows what was found; what the player asks for is told by signals."""

    back = Signal()
    fit_wanted = Signal()
    undo_wanted = Signal()
    exercise_wanted = Signal()
    #: A section whose cost is asked for, by its number.
    cost_wanted = Signal(int)
    #: Whether there is a tournament, its day, and which section (−1 for all).
    tournament_set = Signal(bool, object, int)
    decision_chosen = Signal(object)

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.back_button = QPushButton("&Back to Today")
        self.exercise_button = QPushButton("E&xercise …")
        self.fit_button = QPushButton("&Fit the model to my answers")
        self.undo_button = QPushButton("&Undo the fit")
        self.undo_button.hide()
        self.calibration = CalibrationChart(look.theme)
        self.minutes = MinutesChart(look.theme)
        self._known, self._pace = text_label(""), text_label("", "muted")
        self._key = text_label(
            "Bars: how often you were right. Strokes: what was expected.", "muted"
        )
        self.fitted = text_label("")
        self._ahead = text_label("")
        self.section = QComboBox()
        self.section.setAccessibleName("Section whose cost is told")
        self.cost = text_label("")
        self.has_tournament = QCheckBox("A &tournament on")
        self.day = QDateEdit()
        self.day.setCalendarPopup(True)
        self.day.setDisplayFormat("d MMMM yyyy")
        self.day.setAccessibleName("Day of the tournament")
        self.line_up = QComboBox()
        self.line_up.setAccessibleName("What is to be ready")
        self.ready = text_label("")
        self.again = DecisionList(empty="No move was missed twice.")
        self._build()
        self._connect()

    def _build(self) -> None:
        page = QWidget()
        column = QVBoxLayout(page)
        column.setContentsMargins(36, 28, 36, 28)
        column.setSpacing(12)
        column.addWidget(text_label("Memory", "title"))
        column.addLayout(_row(self.back_button, self.exercise_button))
        column.addWidget(text_label("How well the model knows you", "heading"))
        for widget in (self._known, self.calibration, self._key, self._pace):
            column.addWidget(widget)
        column.addLayout(_row(self.fit_button, self.undo_button))
        column.addWidget(self.fitted)
        column.addWidget(text_label("The coming 30 days", "heading"))
        column.addWidget(self._ahead)
        column.addWidget(self.minutes)
        column.addWidget(_buddy("What would it &cost to learn", self.section))
        column.addLayout(_row(self.section))
        column.addWidget(self.cost)
        column.addWidget(text_label("Tournament", "heading"))
        column.addWidget(self.has_tournament)
        column.addLayout(_row(self.day))
        column.addWidget(_buddy("&Ready with", self.line_up))
        column.addLayout(_row(self.line_up))
        column.addWidget(self.ready)
        column.addWidget(text_label("Missed again and again", "heading"))
        column.addWidget(self.again)
        column.addStretch(1)
        self.setWidget(page)

    def _connect(self) -> None:
        for box in (self.section, self.line_up):
            box.setSizeAdjustPolicy(
                QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon
            )
            box.setMinimumContentsLength(20)
        self.back_button.clicked.connect(lambda _on=False: self.back.emit())
        self.exercise_button.clicked.connect(lambda _on=False: self.exercise_wanted.emit())
        self.fit_button.clicked.connect(lambda _on=False: self.fit_wanted.emit())
        self.undo_button.clicked.connect(lambda _on=False: self.undo_wanted.emit())
        self.section.activated.connect(self.cost_wanted)
        self.has_tournament.toggled.connect(lambda _on: self._tell_tournament())
        self.day.editingFinished.connect(self._tell_tournament)
        self.line_up.activated.connect(lambda _number: self._tell_tournament())
        self.again.chosen.connect(self.decision_chosen)
        leave = QShortcut(QKeySequence(Qt.Key.Key_Escape), self)
        leave.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
        leave.activated.connect(self.back)
        self.setFocusProxy(self.back_button)

    def _tell_tournament(self) -> None:
        on = self.has_tournament.isChecked()
        self.day.setEnabled(on)
        self.line_up.setEnabled(on)
        self.tournament_set.emit(on, self.day.date().toPython(), self.line_up.currentIndex() - 1)

    def set_look(self, look: Look) -> None:
        """Draw in another theme."""
        self.calibration.set_theme(look.theme)
        self.minutes.set_theme(look.theme)

    def begin(self, titles: Sequence[str], today: object, tournament: object | None) -> None:
        """Another repertoire: its sections, the earliest day, and the day that was set."""
        for box, first in ((self.section, "choose a section"), (self.line_up, ALL_SECTIONS)):
            box.clear()
            box.addItems([first, *titles])
        for label in (self.cost, self.ready, self.fitted):
            label.setText("")
        for blocked in (self.has_tournament, self.day):
            blocked.blockSignals(True)
        earliest = QDate(today).addDays(1)
        self.day.setMinimumDate(earliest)
        self.has_tournament.setChecked(tournament is not None)
        self.day.setDate(earliest.addDays(29) if tournament is None else QDate(tournament))
        for blocked in (self.has_tournament, self.day):
            blocked.blockSignals(False)
        self.day.setEnabled(tournament is not None)
        self.line_up.setEnabled(tournament is not None)
        self._known.setText("Looking through your answers …")
        self.calibration.set_bins(())
        self.minutes.set_minutes(())
        self._key.hide()
        self._pace.hide()

    def show_facts(self, facts: MemoryFacts, look: Look) -> None:
        """Show what was found."""
        found = facts.calibration
        self._known.setText(words.calibration_sentence(found))
        self.calibration.set_bins(found.bins)
        self._key.setVisible(bool(found.bins))
        pace = words.pace_sentence(found)
        self._pace.setText(f"{pace} {words.timing_sentence(facts.timing)}")
        self._pace.setVisible(bool(pace))
        self.fit_button.setEnabled(found.predicted > 0)
        self._ahead.setText(words.ahead_sentence(facts.ahead, facts.retention))
        self.minutes.set_minutes(facts.ahead.minutes)
        self.again.show_decisions(found.again, look)

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() == QEvent.Type.FontChange:
            self.updateGeometry()


def _row(*widgets: QWidget) -> QHBoxLayout:
    row = QHBoxLayout()
    for widget in widgets:
        row.addWidget(widget)
    row.addStretch(1)
    return row


def _buddy(text: str, widget: QWidget) -> QLabel:
    label = QLabel(text)
    label.setBuddy(widget)
    return label
