"""Small boards that only show: pictures for lists of positions."""

from __future__ import annotations

import chess
from PySide6.QtCore import QRect, Qt
from PySide6.QtGui import QPainter, QPixmap, QRegion

from trainer.diagram import BoardStyle
from trainer.ui.board.geometry import BoardGeometry
from trainer.ui.board.painter import BoardPainter, Scene
from trainer.ui.lasting import lasting
from trainer.ui.theme import Theme


def diagram_pixmap(
    board: chess.Board, side: int, ratio: float, theme: Theme, *, flipped: bool
) -> QPixmap:
    """A position as a square picture of `side` logical pixels, `ratio` device pixels to one.

    Small squares are filled flat: hatching closes up at that size.
    """
    pixmap = QPixmap(round(side * ratio), round(side * ratio))
    pixmap.fill(Qt.GlobalColor.transparent)
    geometry = BoardGeometry.fit(side, side, ratio, flipped=flipped, coordinates=False)
    painter = QPainter(pixmap)
    lasting(BoardPainter).paint(
        painter,
        QRegion(QRect(0, 0, side, side)),
        geometry,
        Scene(board),
        style=BoardStyle.PLAIN,
        theme=theme,
        coordinates=False,
    )
    painter.end()
    pixmap.setDevicePixelRatio(ratio)
    return pixmap
