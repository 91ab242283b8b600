"""Ink strokes on the board: last move, selection, targets, hints, arrows, keyboard cursor.

Each function paints in device pixels with a painter that is set to them. Strokes lie over a wider
line of paper, so that they stand out from the hatching and from the pieces.
"""

from __future__ import annotations

from collections.abc import Sequence

import chess
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QPainter, QPainterPath, QPen, QPolygonF

from trainer.diagram import arrow_shape, corner_ticks
from trainer.ui.board.geometry import BoardGeometry
from trainer.ui.theme import Theme, system_sans


def _ink_pen(geometry: BoardGeometry, theme: Theme, part: float) -> QPen:
    width = max(1.5 * geometry.ratio, geometry.square * part)
    pen = QPen(QColor(theme.board_ink), width)
    pen.setJoinStyle(Qt.PenJoinStyle.MiterJoin)
    pen.setCapStyle(Qt.PenCapStyle.FlatCap)
    return pen


def _stroke(painter: QPainter, path: QPainterPath, pen: QPen, paper: str) -> None:
    under = QPen(pen)
    under.setColor(QColor(paper))
    under.setWidthF(pen.widthF() * 2.0)
    under.setStyle(Qt.PenStyle.SolidLine)
    painter.strokePath(path, under)
    painter.strokePath(path, pen)


def paint_last_move(
    painter: QPainter, geometry: BoardGeometry, theme: Theme, move: chess.Move
) -> None:
    """Two corner ticks on the square the last move left and on the one it reached."""
    path = QPainterPath()
    for square in (move.from_square, move.to_square):
        x, y, side, _ = geometry.rect(square)
        for first, corner, last in corner_ticks(x, y, side):
            path.moveTo(*first)
            path.lineTo(*corner)
            path.lineTo(*last)
    _stroke(painter, path, _ink_pen(geometry, theme, 0.05), theme.piece_paper)


def _inset(geometry: BoardGeometry, square: chess.Square, part: float) -> QRectF:
    x, y, side, _ = geometry.rect(square)
    inset = side * part
    return QRectF(x + inset, y + inset, side - 2 * inset, side - 2 * inset)


def paint_selected(
    painter: QPainter, geometry: BoardGeometry, theme: Theme, square: chess.Square
) -> None:
    """A full inner frame on paper: the piece on this square has been picked up."""
    painter.fillRect(_inset(geometry, square, 0.0), QColor(theme.piece_paper))
    path = QPainterPath()
    path.addRect(_inset(geometry, square, 0.05))
    _stroke(painter, path, _ink_pen(geometry, theme, 0.05), theme.piece_paper)


def paint_cursor(
    painter: QPainter, geometry: BoardGeometry, theme: Theme, square: chess.Square
) -> None:
    """A dashed inner frame: where the keyboard is."""
    pen = _ink_pen(geometry, theme, 0.055)
    pen.setDashPattern([2.2, 1.4])
    path = QPainterPath()
    path.addRect(_inset(geometry, square, 0.07))
    _stroke(painter, path, pen, theme.piece_paper)


def paint_target(
    painter: QPainter, geometry: BoardGeometry, theme: Theme, square: chess.Square, taken: bool
) -> None:
    """A hollow lozenge: small in the middle of a free square, in a corner of a taken one."""
    x, y, side, _ = geometry.rect(square)
    cx, cy = (x + side * 0.84, y + side * 0.16) if taken else (x + side / 2, y + side / 2)
    half = side * 0.12
    lozenge = QPolygonF(
        [
            QPointF(cx, cy - half),
            QPointF(cx + half, cy),
            QPointF(cx, cy + half),
            QPointF(cx - half, cy),
        ]
    )
    path = QPainterPath()
    path.addPolygon(lozenge)
    path.closeSubpath()
    pen = _ink_pen(geometry, theme, 0.035)
    _stroke(painter, path, pen, theme.piece_paper)
    painter.fillPath(path, QColor(theme.piece_paper))
    painter.strokePath(path, pen)


def paint_hint(
    painter: QPainter, geometry: BoardGeometry, theme: Theme, square: chess.Square, *, goal: bool
) -> None:
    """A ring round the piece that is to move; two rings where it is to go (`goal`)."""
    x, y = geometry.centre(square)
    path = QPainterPath()
    for radius in (0.44, 0.33) if goal else (0.46,):
        path.addEllipse(QPointF(x, y), geometry.square * radius, geometry.square * radius)
    _stroke(painter, path, _ink_pen(geometry, theme, 0.04), theme.piece_paper)


def paint_arrows(
    painter: QPainter,
    geometry: BoardGeometry,
    theme: Theme,
    arrows: Sequence[tuple[chess.Square, chess.Square]],
) -> None:
    """Arrows with a hollow head, numbered in their order when there are several."""
    for number, (start, end) in enumerate(arrows, 1):
        shape = arrow_shape(geometry.centre(start), geometry.centre(end), geometry.square)
        path = QPainterPath(QPointF(*shape.shaft[0]))
        path.lineTo(*shape.shaft[1])
        _stroke(painter, path, _ink_pen(geometry, theme, 0.07), theme.piece_paper)
        head = QPainterPath()
        head.addPolygon(QPolygonF([QPointF(*corner) for corner in shape.head]))
        head.closeSubpath()
        pen = _ink_pen(geometry, theme, 0.05)
        _stroke(painter, head, pen, theme.piece_paper)
        painter.fillPath(head, QColor(theme.piece_paper))
        painter.strokePath(head, pen)
        if len(arrows) > 1:
            _paint_number(painter, geometry, theme, QPointF(*shape.label), number)


def _paint_number(
    painter: QPainter, geometry: BoardGeometry, theme: Theme, centre: QPointF, number: int
) -> None:
    radius = max(7 * geometry.ratio, geometry.square * 0.17)
    disc = QPainterPath()
    disc.addEllipse(centre, radius, radius)
    painter.fillPath(disc, QColor(theme.piece_paper))
    painter.strokePath(disc, _ink_pen(geometry, theme, 0.03))
    font = QFont(system_sans())
    font.setPixelSize(max(7, round(radius * 1.35)))
    font.setBold(True)
    painter.setFont(font)
    painter.setPen(QColor(theme.board_ink))
    box = QRectF(centre.x() - radius, centre.y() - radius, 2 * radius, 2 * radius)
    painter.drawText(box, Qt.AlignmentFlag.AlignCenter, str(number))
