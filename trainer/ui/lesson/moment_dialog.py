"""What a coach says of the moments of a game: right moves, hints, wrong tries, words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QComboBox,
    QDialog,
    QDialogButtonBox,
    QFormLayout,
    QHBoxLayout,
    QLineEdit,
    QPlainTextEdit,
    QVBoxLayout,
    QWidget,
)

from trainer.errors import StemlineError
from trainer.storage.settings import Settings
from trainer.ui.labels import text_label
from trainer.ui.look import Look
from trainer.ui.orders.still_board import StillBoard

if TYPE_CHECKING:
    from trainer.lesson.moments import Moment

_BOARD = 260


class MomentDialog(QDialog):
    """One moment after the other; each is kept as it is left, where it can be read."""

    #: A `MomentEdit`.
    kept = Signal(object)

    def __init__(
        self,
        moments: Mapping[int, Moment],
        settings: Settings,
        look: Look,
        parent: QWidget | None = None,
    ) -> None:
        """`moments` are by the half-moves that they stand before."""
        super().__init__(parent)
        self.setWindowTitle("Moments")
        self._moments = dict(moments)
        self._plies = list(moments)
        self._row = -1
        self.which = QComboBox()
        self.right = QLineEdit()
        self.hints = QPlainTextEdit()
        self.wrong = QPlainTextEdit()
        self.solution = QPlainTextEdit()
        self.said = text_label("", "muted")
        self.board = StillBoard(look)
        self.buttons = QDialogButtonBox(
            QDialogButtonBox.StandardButton.Ok | QDialogButtonBox.StandardButton.Cancel
        )
        self._build(settings, look)
        self.which.activated.connect(self._go)
        self.buttons.accepted.connect(self._done)
        self.buttons.rejected.connect(self.reject)
        self._show(0)

    def _build(self, settings: Settings, look: Look) -> None:
        for widget, name in (
            (self.which, "The moment"),
            (self.right, "Right moves, the main one first"),
            (self.hints, "Hints, one in a line"),
            (self.wrong, "Wrong tries, one in a line"),
            (self.solution, "Words with the answer"),
        ):
            widget.setAccessibleName(name)
            widget.setMinimumWidth(60)
        for field in (self.hints, self.wrong, self.solution):
            field.setTabChangesFocus(True)
            field.setMinimumHeight(round(44 * look.scale))
        self.right.setPlaceholderText("Nf3, Nd2")
        self.wrong.setPlaceholderText("Qxb2: Na4 traps the queen.")
        self.board.set_look(settings, look)
        side = round(_BOARD * min(look.scale, 1.3))
        self.board.setFixedSize(side, side)
        self.which.addItems([one.prompt for one in self._moments.values()])
        self.which.setSizeAdjustPolicy(
            QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon
        )
        form = QFormLayout()
        form.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapAllRows)
        form.addRow("&Right moves, the main one first", self.right)
        form.addRow("&Hints, one in a line", self.hints)
        form.addRow("&Wrong tries, one in a line, with why", self.wrong)
        form.addRow("W&ords with the answer", self.solution)
        middle = QHBoxLayout()
        middle.addWidget(self.board, 0, Qt.AlignmentFlag.AlignTop)
        middle.addLayout(form, 1)
        column = QVBoxLayout(self)
        column.addWidget(self.which)
        column.addLayout(middle, 1)
        column.addWidget(self.said)
        column.addWidget(self.buttons)

    def _show(self, row: int) -> None:
        self._row = row
        moment = self._moments[self._plies[row]]
        board = moment.board
        self.which.setCurrentIndex(row)
        self.board.set_flipped(not board.turn)
        self.board.set_position(board)
        self.right.setText(", ".join(map(board.san, moment.accepted)))
        self.hints.setPlainText("\n".join(moment.hints))
        self.wrong.setPlainText("\n".join(f"{board.san(m)}: {why}" for m, why in moment.wrong))
        self.solution.setPlainText(moment.solution)

    def _go(self, row: int) -> None:
        if row == self._row:
            return
        if self._keep():
            self._show(row)
        else:
            self.which.setCurrentIndex(self._row)

    def _done(self) -> None:
        if self._keep():
            self.accept()

    def _keep(self) -> bool:
        """Keep the moment on the screen if it was changed; whether all of it can be read."""
        from trainer.lesson.game_notes import edit_from_words

        ply = self._plies[self._row]
        moment = self._moments[ply]
        try:
            edit = edit_from_words(
                moment.board,
                ply,
                right=self.right.text(),
                hints=self.hints.toPlainText(),
                wrong=self.wrong.toPlainText(),
                solution=self.solution.toPlainText(),
            )
        except StemlineError as error:
            self.said.setText(str(error))
            return False
        self.said.setText("")
        changed = edit.of(moment)
        if (changed.accepted, changed.hints, changed.wrong, changed.solution) != (
            moment.accepted,
            moment.hints,
            moment.wrong,
            moment.solution,
        ):
            self._moments[ply] = changed
            self.kept.emit(edit)
        return True
