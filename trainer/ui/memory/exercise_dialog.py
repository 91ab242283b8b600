"""What an exercise is about, how long it takes, and how it is asked."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QDialog,
    QDialogButtonBox,
    QFormLayout,
    QLabel,
    QSpinBox,
    QWidget,
)

from trainer.notation.numbers import count

if TYPE_CHECKING:
    from trainer.repertoire.graph import Node
    from trainer.ui.memory.facts import Choice

#: How many half-moves are announced where the board stays behind.
MOVES_BEFORE = 4


class ExerciseDialog(QDialog):
    """Chooses an exercise; `nodes`, `minutes`, `mixed` and `blind` tell which."""

    def __init__(
        self, choices: Mapping[str, Sequence[Choice]], minutes: int, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle("Exercise")
        self._choices = choices
        self.kind = QComboBox()
        self.kind.addItems(list(choices))
        self.which = QComboBox()
        self.which.setSizeAdjustPolicy(
            QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon
        )
        self.which.setMinimumContentsLength(20)
        self.minutes = QSpinBox()
        self.minutes.setRange(1, 240)
        self.minutes.setValue(minutes)
        self.minutes.setSuffix(" min")
        self.mixed = QCheckBox("&Mix the lines")
        self.mixed.setToolTip("So that no question gives the next one away")
        self.mixed.setChecked(True)
        self.blind = QCheckBox("With&out the board: it stays two moves behind")
        self.blind.setToolTip("The moves since are announced, and you type what is prepared")
        self._count = QLabel()
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Cancel)
        self.start_button = buttons.addButton("&Start", QDialogButtonBox.ButtonRole.AcceptRole)
        self.start_button.setDefault(True)
        form = QFormLayout(self)
        form.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapLongRows)
        form.addRow("&About", self.kind)
        form.addRow("W&hich", self.which)
        form.addRow("", self._count)
        form.addRow("&Time", self.minutes)
        form.addRow(self.mixed)
        form.addRow(self.blind)
        form.addRow(buttons)
        buttons.accepted.connect(self.accept)
        buttons.rejected.connect(self.reject)
        self.kind.currentTextChanged.connect(lambda _text: self._show_which())
        self.which.currentIndexChanged.connect(lambda _number: self._show_count())
        self._show_which()

    def nodes(self) -> Sequence[Node]:
        """The decisions chosen."""
        options = self._choices.get(self.kind.currentText(), ())
        number = self.which.currentIndex()
        return options[number].nodes() if 0 <= number < len(options) else ()

    def _show_which(self) -> None:
        options = self._choices.get(self.kind.currentText(), ())
        self.which.blockSignals(True)
        self.which.clear()
        self.which.addItems([option.name for option in options])
        self.which.blockSignals(False)
        self.which.setEnabled(len(options) > 1)
        self._show_count()

    def _show_count(self) -> None:
        number = len(self.nodes())
        self._count.setText(count(number, "position"))
        self.start_button.setEnabled(number > 0)
