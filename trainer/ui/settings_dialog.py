"""The settings, in one small dialog."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QDialog,
    QDialogButtonBox,
    QDoubleSpinBox,
    QFormLayout,
    QScrollArea,
    QSpinBox,
    QVBoxLayout,
    QWidget,
)

from trainer.storage.settings import Settings

_SCALES = (1.0, 1.25, 1.5, 1.75, 2.0, 2.5, 3.0)


def _choice(options: list[tuple[str, object]], chosen: object) -> QComboBox:
    box = QComboBox()
    for text, value in options:
        box.addItem(text, value)
    values = [value for _text, value in options]
    box.setCurrentIndex(values.index(chosen) if chosen in values else 0)
    return box


class SettingsDialog(QDialog):
    """Edits a copy of the settings; `settings()` gives what was chosen."""

    def __init__(self, settings: Settings, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Settings")
        self._settings = settings

        self.minutes = QSpinBox()
        self.minutes.setRange(1, 240)
        self.minutes.setValue(settings.minutes)
        self.minutes.setSuffix(" min")
        self.retention = QSpinBox()
        self.retention.setRange(70, 99)
        self.retention.setValue(round(settings.desired_retention * 100))
        self.retention.setSuffix(" %")
        self.retention.setToolTip(
            "A position is worth asking once its recall is below this; sooner if much hangs on it."
        )
        self.pace = QDoubleSpinBox()
        self.pace.setRange(0.0, 60.0)
        self.pace.setSingleStep(0.5)
        self.pace.setDecimals(1)
        self.pace.setSuffix(" s")
        self.pace.setSpecialValueText("wait for a key")
        self.pace.setValue(settings.pace_seconds)
        self.board_style = _choice(
            [("Printed: hatched dark squares", "hatched"), ("Plain: two tones", "plain")],
            settings.board_style,
        )
        self.notation = _choice(
            [("Letters: Nf3", "letters"), ("Figurines: ♘f3", "figurines")], settings.notation
        )
        # A scale that was set by hand in the file is one more to choose from.
        scales = sorted({*_SCALES, settings.scale})
        self.scale = _choice([(f"{scale:.0%}", scale) for scale in scales], settings.scale)
        self.appearance = _choice(
            [("As the system", "system"), ("Light", "light"), ("Dark", "dark")],
            settings.appearance,
        )
        self.strangers = _choice(
            [("From the second week on", None), ("On", True), ("Off", False)], settings.strangers
        )
        self.strangers.setToolTip(
            "A stranger is a reply from outside the repertoire, slipped in to be noticed."
        )
        self.stranger_rate = QSpinBox()
        self.stranger_rate.setRange(1, 50)
        self.stranger_rate.setValue(round(settings.stranger_rate * 100))
        self.stranger_rate.setSuffix(" in 100 replies")
        self.base = QSpinBox()
        self.base.setRange(0, 1000)
        self.base.setValue(round(settings.base_counts_as))
        self.base.setSuffix(" of my games")
        self.base.setToolTip(
            "How likely a reply is follows your own games and the reference base; this is how "
            "many of your games the base counts for in each position."
        )
        self.coordinates = QCheckBox("Coordinates beside the board")
        self.coordinates.setChecked(settings.coordinates)
        self.targets = QCheckBox("Show where a chosen piece can go")
        self.targets.setChecked(settings.show_targets)
        self.motion = QCheckBox("Reduced motion: moves without animation")
        self.motion.setChecked(settings.reduced_motion)

        self._untouched = {
            box: box.value() for box in (self.retention, self.pace, self.stranger_rate, self.base)
        }
        numbers = (self.minutes, self.retention, self.pace, self.stranger_rate, self.base)
        for number in numbers:
            number.setAlignment(Qt.AlignmentFlag.AlignHCenter)
        buttons = QDialogButtonBox(
            QDialogButtonBox.StandardButton.Ok | QDialogButtonBox.StandardButton.Cancel
        )
        buttons.accepted.connect(self.accept)
        buttons.rejected.connect(self.reject)
        outer = QVBoxLayout(self)
        outer.addWidget(self._form(), 1)
        outer.addWidget(buttons)

    def _form(self) -> QWidget:
        page = QWidget()
        form = QFormLayout(page)
        form.addRow("&Minutes a day", self.minutes)
        form.addRow("Desired &retention", self.retention)
        form.addRow("&Pace after an answer", self.pace)
        form.addRow("&Board look", self.board_style)
        form.addRow("&Notation", self.notation)
        form.addRow("Sca&le", self.scale)
        form.addRow("&Appearance", self.appearance)
        form.addRow("&Strangers", self.strangers)
        form.addRow("How &often", self.stranger_rate)
        form.addRow("Re&ference base counts as", self.base)
        for box in (self.coordinates, self.targets, self.motion):
            form.addRow(box)
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QScrollArea.Shape.NoFrame)
        scroll.setWidget(page)
        scroll.setMinimumWidth(page.sizeHint().width() + 24)
        scroll.setMinimumHeight(min(page.sizeHint().height() + 8, 520))
        return scroll

    def _number(self, box: QSpinBox | QDoubleSpinBox, before: float, parts: int = 1) -> float:
        """What `box` holds, in `parts` of one; `before` where nobody touched it.

        A value that was set by hand in the file may be shown rounded, and stays as it was.
        """
        return before if box.value() == self._untouched[box] else box.value() / parts

    def settings(self) -> Settings:
        """The settings as they stand in the dialog."""
        before = self._settings
        return replace(
            before,
            minutes=self.minutes.value(),
            desired_retention=self._number(self.retention, before.desired_retention, 100),
            pace_seconds=self._number(self.pace, before.pace_seconds),
            board_style=self.board_style.currentData(),
            notation=self.notation.currentData(),
            scale=self.scale.currentData(),
            appearance=self.appearance.currentData(),
            strangers=self.strangers.currentData(),
            stranger_rate=self._number(self.stranger_rate, before.stranger_rate, 100),
            base_counts_as=self._number(self.base, before.base_counts_as),
            coordinates=self.coordinates.isChecked(),
            show_targets=self.targets.isChecked(),
            reduced_motion=self.motion.isChecked(),
        )
