"""The piece that hangs at the mouse while it is carried over the dialog."""

from __future__ import annotations

import chess
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QPixmap
from PySide6.QtWidgets import QLabel, QWidget

from trainer.ui.board.pieces import shared_pieces
from trainer.ui.theme import Theme


class PieceDrawer:
    """Pieces as pixmaps in logical pixels, sharp on every screen."""

    def __init__(self, theme: Theme) -> None:
        self._theme = theme
        self._pixmaps = shared_pieces()

    def pixmap(self, piece: chess.Piece, side: int, ratio: float) -> QPixmap:
        """A piece of `side` logical pixels, `ratio` device pixels to one."""
        found = self._pixmaps.pixmap(piece, round(side * ratio), self._theme.piece_paper)
        pixmap = QPixmap(found)
        pixmap.setDevicePixelRatio(ratio)
        return pixmap


class HeldPiece(QLabel):
    """Shown above everything in its parent; the mouse passes through it."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self.hide()

    def carry(self, pixmap: QPixmap, where: QPoint) -> None:
        """Show a piece with its middle at a point of the screen."""
        self.setPixmap(pixmap)
        self.resize(pixmap.deviceIndependentSize().toSize())
        parent = self.parentWidget()
        centre = parent.mapFromGlobal(where)
        self.move(centre - QPoint(self.width() // 2, self.height() // 2))
        self.show()
        self.raise_()
