"""Orders to step through: their plan, a board, and the orders in words."""

from __future__ import annotations

import chess
from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QBoxLayout,
    QHBoxLayout,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from trainer.storage.settings import Settings
from trainer.ui.labels import text_label
from trainer.ui.look import Look
from trainer.ui.orders.detail import Detail
from trainer.ui.orders.order_list import OrderList
from trainer.ui.orders.panel import BoardPanel
from trainer.ui.orders.still_board import StillBoard
from trainer.ui.orders.strip import OrderStrip

_BOARD = 250
_CLOSE = 6
_KEYS = {
    Qt.Key.Key_Left: -1,
    Qt.Key.Key_Right: 1,
    Qt.Key.Key_Home: -1000,
    Qt.Key.Key_End: 1000,
}


class LinesPanel(BoardPanel):
    """Left and Right go along the chosen order, on the plan, the board and in the words alike."""

    #: The board shows another position: a `chess.Board`.
    stepped = Signal(object)

    def __init__(self, settings: Settings, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._detail: Detail | None = None
        self._look = look
        self.line, self.ply = 0, 0
        self.strip = OrderStrip(look)
        self.board = StillBoard(look)
        self.orders = OrderList(look)
        self.back = self._button("‹", "Back one move", -1)
        self.on = self._button("›", "On one move", 1)
        self._where = text_label("", "muted")
        self._title = text_label("", "heading")
        #: Where a page may put what belongs beside the board.
        self.aside = QVBoxLayout()
        self.aside.setSpacing(_CLOSE)
        self._build()
        self.orders.chosen.connect(self.choose)
        self.strip.chosen.connect(self.go)
        self.set_look(settings, look)

    def _button(self, text: str, name: str, step: int) -> QToolButton:
        button = QToolButton()
        button.setText(text)
        button.setAccessibleName(name)
        button.setToolTip(name)
        button.clicked.connect(lambda _checked=False: self.step(step))
        return button

    def _build(self) -> None:
        steps = QHBoxLayout()
        steps.addWidget(self.back)
        steps.addWidget(self.on)
        steps.addWidget(self._where, 1)
        left = QVBoxLayout()
        left.setSpacing(_CLOSE)
        left.addWidget(self.board)
        left.addLayout(steps)
        left.addStretch(1)
        right = QVBoxLayout()
        right.setSpacing(_CLOSE)
        right.addWidget(self._title)
        right.addWidget(self.orders)
        right.addLayout(self.aside)
        right.addStretch(1)
        self._sides = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self._sides.setSpacing(16)
        self._sides.addLayout(left)
        self._sides.addLayout(right, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.strip)
        column.addLayout(self._sides)

    def set_look(self, settings: Settings, look: Look) -> None:
        """Draw in another look."""
        self._look = look
        self.board.set_look(settings, look)
        for part in (self.strip, self.orders):
            part.set_look(look)
        self._fit()

    def show_detail(self, detail: Detail) -> None:
        """Show the lines of an entry."""
        self._detail = detail
        self.strip.show_plan(detail.plan)
        self.orders.set_lines(detail.lines)
        self.orders.setVisible(detail.show_list)
        self._title.setText(detail.lines_title)
        self._title.setVisible(bool(detail.lines_title))
        line = detail.lines[detail.chosen]
        self.go(detail.chosen, len(line.moves) if detail.ply is None else detail.ply)
        self._fit()

    def choose(self, line: int) -> None:
        """Take another order, from the same distance to its end."""
        if self._detail is None or line == self.line:
            return
        lines = self._detail.lines
        behind = len(lines[self.line].moves) - self.ply
        self.go(line, max(0, len(lines[line].moves) - behind))

    def step(self, by: int) -> None:
        """Go along the order."""
        self.go(self.line, self.ply + by)

    def go(self, line: int, ply: int) -> None:
        """Show the position after so many moves of an order."""
        detail = self._detail
        if detail is None:
            return
        shown = detail.lines[line]
        ply = max(0, min(ply, len(shown.moves)))
        self.line, self.ply = line, ply
        board = shown.board(ply)
        last = shown.moves[ply - 1] if ply else None
        self.board.set_position(board, last, animate=True)
        self.board.set_arrows(self._arrows(detail, line, ply))
        self.orders.show_step(line, ply)
        self.strip.show_step(line, ply)
        self.back.setEnabled(ply > 0)
        self.on.setEnabled(ply < len(shown.moves))
        self._where.setText(shown.numbered[ply - 1] if ply else "Before the first move")
        self.stepped.emit(board)

    def _arrows(self, detail: Detail, line: int, ply: int) -> tuple[tuple[int, int], ...]:
        begins = detail.ply if detail.ply is not None else len(detail.lines[line].moves)
        return detail.arrows if line == detail.chosen and ply == begins else ()

    @property
    def where(self) -> str:
        """The move that led to the position on the board."""
        return self._where.text()

    def position(self) -> chess.Board:
        """What the board shows."""
        return self.board.board

    def keyPressEvent(self, event: QKeyEvent) -> None:
        step = _KEYS.get(Qt.Key(event.key()))
        if step is None or event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier:
            super().keyPressEvent(event)
        else:
            self.step(step)

    def _fit(self) -> None:
        """Board beside the words, or above them where there is no room."""
        scale = self._look.scale
        width = self.width()
        narrow = width < (_BOARD + 170) * scale
        side = round(_BOARD * scale)
        if not narrow:
            side = max(side, min(round(width / 2.6), round(1.5 * side)))
        side = max(80, min(side, width))
        self.board.setFixedSize(side, side)
        self._sides.setDirection(
            QBoxLayout.Direction.TopToBottom if narrow else QBoxLayout.Direction.LeftToRight
        )
