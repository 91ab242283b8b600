"""The box of pieces beside the board."""

from __future__ import annotations

import chess
from PySide6.QtCore import QPoint, QSize, Qt, Signal
from PySide6.QtGui import QIcon, QMouseEvent
from PySide6.QtWidgets import QApplication, QGridLayout, QToolButton, QWidget

from trainer.ui.setup.held import PieceDrawer
from trainer.ui.theme import Theme

#: Kings first: every position needs them.
_KINDS = (chess.KING, chess.QUEEN, chess.ROOK, chess.BISHOP, chess.KNIGHT, chess.PAWN)


class PieceButton(QToolButton):
    """One kind of piece: chosen with a click or Space, or dragged to the board."""

    carried = Signal(object)
    """The piece hangs at this `QPoint` of the screen."""
    dropped = Signal(object)
    """It was let go at this `QPoint` of the screen."""

    def __init__(self, piece: chess.Piece, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.piece = piece
        self.setCheckable(True)
        name = f"{chess.COLOR_NAMES[piece.color]} {chess.piece_name(piece.piece_type)}"
        self.setAccessibleName(name)
        self.setToolTip(f"{name.capitalize()} ({piece.symbol()} on the board)")
        self._start: QPoint | None = None
        self._lifted = False

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.button() == Qt.MouseButton.LeftButton:
            self._start, self._lifted = event.globalPosition().toPoint(), False
        super().mousePressEvent(event)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        where = event.globalPosition().toPoint()
        if self._start is None:
            return
        if (where - self._start).manhattanLength() >= QApplication.startDragDistance():
            self._lifted = True
            self.setDown(False)
        if self._lifted:
            self.carried.emit(where)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        lifted, self._start, self._lifted = self._lifted, None, False
        if lifted:
            self.dropped.emit(event.globalPosition().toPoint())
        else:
            super().mouseReleaseEvent(event)


class PieceBox(QWidget):
    """All twelve pieces, White's and Black's side by side; at most one is in hand."""

    carried = Signal(object, object)
    """A `chess.Piece` hangs at this `QPoint` of the screen."""
    dropped = Signal(object, object)
    """A `chess.Piece` was let go at this `QPoint` of the screen."""

    def __init__(
        self, drawer: PieceDrawer, scale: float, theme: Theme, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setSpacing(4)
        side = round(34 * min(scale, 1.5))
        style = (
            f"QToolButton {{ background: {theme.board_paper}; padding: 3px; }}"
            "QToolButton:focus { padding: 2px; }"
            f"QToolButton:checked {{ background: {theme.piece_paper}; padding: 1px;"
            f" border: 3px solid {theme.board_ink}; }}"
        )
        self.buttons: dict[chess.Piece, PieceButton] = {}
        for row, kind in enumerate(_KINDS):
            for column, color in enumerate((chess.WHITE, chess.BLACK)):
                piece = chess.Piece(kind, color)
                button = self.buttons[piece] = PieceButton(piece)
                button.setIcon(QIcon(drawer.pixmap(piece, side, 2.0)))
                button.setIconSize(QSize(side, side))
                # Black pieces are drawn for paper and would vanish on a dark button.
                button.setStyleSheet(style)
                button.clicked.connect(lambda on, piece=piece: self._choose(piece, on))
                button.carried.connect(lambda where, piece=piece: self.carried.emit(piece, where))
                button.dropped.connect(lambda where, piece=piece: self.dropped.emit(piece, where))
                grid.addWidget(button, row, column)
        grid.setRowStretch(len(_KINDS), 1)

    @property
    def in_hand(self) -> chess.Piece | None:
        """The piece that a click on the board puts there."""
        for piece, button in self.buttons.items():
            if button.isChecked():
                return piece
        return None

    def _choose(self, piece: chess.Piece, on: bool) -> None:
        for other, button in self.buttons.items():
            button.setChecked(on and other == piece)
