"""Two look-alikes side by side, with what differs ringed."""

from __future__ import annotations

from PySide6.QtWidgets import QBoxLayout, QVBoxLayout, QWidget

from trainer.storage.settings import Settings
from trainer.ui.labels import text_label
from trainer.ui.look import Look
from trainer.ui.orders.detail import PairSide
from trainer.ui.orders.panel import BoardPanel
from trainer.ui.orders.still_board import StillBoard

_LARGEST = 330
_SMALLEST = 150
_GAP = 20
_CLOSE = 6


class PairPanel(BoardPanel):
    """Each board with its prepared move as an arrow, and the order that leads there."""

    def __init__(self, settings: Settings, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.boards = (StillBoard(look), StillBoard(look))
        self._words = [(text_label("", "heading"), text_label("")) for _ in self.boards]
        self._look = look
        self._sides = QBoxLayout(QBoxLayout.Direction.LeftToRight, self)
        self._sides.setContentsMargins(0, 0, 0, 0)
        self._sides.setSpacing(_GAP)
        for board, words in zip(self.boards, self._words, strict=True):
            column = QVBoxLayout()
            column.setSpacing(_CLOSE)
            for widget in (board, *words):
                column.addWidget(widget)
            column.addStretch(1)
            self._sides.addLayout(column)
        self._sides.addStretch(1)
        self.set_look(settings, look)

    def set_look(self, settings: Settings, look: Look) -> None:
        """Draw in another look."""
        self._look = look
        for board in self.boards:
            board.set_look(settings, look)
        self._fit()

    def show_pair(self, pair: tuple[PairSide, PairSide]) -> None:
        """Show two positions."""
        for side, board, (title, order) in zip(pair, self.boards, self._words, strict=True):
            board.set_position(side.board)
            board.set_arrows([(side.move.from_square, side.move.to_square)])
            board.set_hint(side.ring)
            title.setText(side.title)
            order.setText(f"after {side.order}")

    def _fit(self) -> None:
        scale = self._look.scale
        beside = (self.width() - 2 * _GAP) // 2
        narrow = beside < _SMALLEST
        side = self.width() if narrow else beside
        side = max(80, min(side, round(_LARGEST * scale)))
        for board, words in zip(self.boards, self._words, strict=True):
            board.setFixedSize(side, side)
            for label in words:
                label.setMaximumWidth(side)
        self._sides.setDirection(
            QBoxLayout.Direction.TopToBottom if narrow else QBoxLayout.Direction.LeftToRight
        )
