"""The empty board: paper, hatching, double frame and coordinates, as one cached pixmap."""

from __future__ import annotations

import chess
from PySide6.QtCore import QLineF, QRect, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QPainter, QPen, QPixmap

from trainer.diagram import HATCH_LINES, HATCH_TINT, PLAIN_TINT, BoardStyle
from trainer.ui.board.geometry import BoardGeometry
from trainer.ui.theme import Theme, system_sans

_FINEST_STEP = 4
"""Device pixels between hatching lines below which a small square would turn to grey."""
_LINE_TO_STEP = 0.135
"""Width of a hatching line, as a part of the distance to the next (1 px on a 67 px square)."""


class Ground:
    """Paints the empty board once for each geometry, style and theme, and keeps the last."""

    def __init__(self) -> None:
        self._key: tuple[BoardGeometry, BoardStyle, Theme, bool] | None = None
        self._pixmap = QPixmap()

    def pixmap(
        self, geometry: BoardGeometry, style: BoardStyle, theme: Theme, *, coordinates: bool
    ) -> QPixmap:
        """Return the empty board: a pixmap in device pixels that covers `geometry.block`."""
        key = (geometry, style, theme, coordinates)
        if key != self._key:
            self._pixmap = _paint_ground(geometry, style, theme, coordinates=coordinates)
            self._key = key
        return self._pixmap


def _paint_ground(
    geometry: BoardGeometry, style: BoardStyle, theme: Theme, *, coordinates: bool
) -> QPixmap:
    x, y, width, height = geometry.block
    pixmap = QPixmap(width, height)
    pixmap.fill(QColor(theme.paper))
    painter = QPainter(pixmap)
    painter.translate(-x, -y)
    _paint_frame(painter, geometry, theme)
    dark = dark_square(geometry.square, style, theme)
    for square in chess.SquareSet(chess.BB_DARK_SQUARES):
        left, top, _, _ = geometry.rect(square)
        painter.drawPixmap(left, top, dark)
    if coordinates:
        _paint_coordinates(painter, geometry, theme)
    painter.end()
    return pixmap


def _paint_frame(painter: QPainter, geometry: BoardGeometry, theme: Theme) -> None:
    field = QRect(*geometry.field)

    def grown(by: int) -> QRect:
        return field.adjusted(-by, -by, by, by)

    painter.fillRect(grown(geometry.frame), QColor(theme.board_frame))
    painter.fillRect(grown(geometry.inner + geometry.gap), QColor(theme.paper))
    painter.fillRect(grown(geometry.inner), QColor(theme.board_frame))
    painter.fillRect(field, QColor(theme.board_paper))


def dark_square(side: int, style: BoardStyle, theme: Theme) -> QPixmap:
    """Return one dark square, `side` device pixels wide, in hatching or as a flat tint."""
    pixmap = QPixmap(side, side)
    pixmap.fill(QColor(theme.board_paper))
    painter = QPainter(pixmap)
    ink = QColor(theme.board_ink)
    tint = QColor(ink)
    tint.setAlphaF(HATCH_TINT if style is BoardStyle.HATCHED else PLAIN_TINT)
    painter.fillRect(0, 0, side, side, tint)
    if style is BoardStyle.HATCHED:
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        # A whole step makes every line fall on the pixels alike; a broken one would shimmer.
        step = max(_FINEST_STEP, round(side / HATCH_LINES))
        painter.setPen(QPen(ink, max(0.6, step * _LINE_TO_STEP)))
        first = side % step
        painter.drawLines(
            [
                QLineF(total - side - 1, side + 1, side + 1, total - side - 1)
                for total in range(first, 2 * side, step)
            ]
        )
    painter.end()
    return pixmap


def _paint_coordinates(painter: QPainter, geometry: BoardGeometry, theme: Theme) -> None:
    font = QFont(system_sans())
    font.setPixelSize(max(7, round(geometry.margin * 0.58)))
    painter.setFont(font)
    painter.setPen(QColor(theme.muted))
    side, frame, margin = geometry.square, geometry.frame, geometry.margin
    left, top, _, high = geometry.field
    for i in range(8):
        file_name = chess.FILE_NAMES[chess.square_file(geometry.square_in_cell(i, 7))]
        rank_name = chess.RANK_NAMES[chess.square_rank(geometry.square_in_cell(0, i))]
        below = QRectF(left + i * side, top + high + frame, side, margin)
        beside = QRectF(left - frame - margin, top + i * side, margin, side)
        painter.drawText(below, Qt.AlignmentFlag.AlignCenter, file_name)
        painter.drawText(beside, Qt.AlignmentFlag.AlignCenter, rank_name)
