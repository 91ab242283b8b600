"""The signs of the plan: what stands at a position, drawn in ink at any size."""

from __future__ import annotations

import math
from typing import Final

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath, QPen, QPixmap

from trainer.ui.map.scene import CONFLICT, CROSSING, DECISION, END, HOLE, ROOT
from trainer.ui.theme import Theme

#: The largest extent of a sign from its centre, in radii of a station.
EXTENT: Final = 2.4
_RING: Final = 1.65


def draw_sign(
    painter: QPainter, x: float, y: float, radius: float, flags: int, step: int, theme: Theme
) -> None:
    """The sign of one position at (x, y); `radius` is that of a station.

    `flags` are those of `trainer.ui.map.scene`, `step` the step of recall, -1 if never asked.
    """
    ink = QColor(theme.ink)
    thin = max(1.0, radius * 0.24)
    painter.setPen(QPen(ink, thin))
    painter.setBrush(QColor(theme.paper))
    if flags & ROOT:
        _bar(painter, x - radius * 1.9, y, radius * 1.5, radius * 0.7, ink)
    if flags & HOLE:
        _open_end(painter, x, y, radius, thin, theme)
        return
    if flags & CONFLICT:
        _fork(painter, x, y, radius, ink)
    if flags & CROSSING:
        painter.setPen(QPen(ink, thin))
        painter.setBrush(QColor(theme.paper))
        outer = _RING if flags & DECISION else 1.15
        painter.drawEllipse(QPointF(x, y), radius * outer, radius * outer)
        if not flags & DECISION:
            painter.drawEllipse(QPointF(x, y), radius * 0.5, radius * 0.5)
    if flags & DECISION:
        _station(painter, x, y, radius, thin, step, theme)
    elif not flags & CROSSING:
        if flags & END:
            _bar(painter, x, y, radius * 1.05, max(1.6, radius * 0.42), ink)
        else:
            _bar(painter, x, y, radius * 0.75, thin, ink)


def _station(
    painter: QPainter, x: float, y: float, radius: float, thin: float, step: int, theme: Theme
) -> None:
    """A circle, filled from below as far as the move is remembered."""
    circle = QRectF(x - radius, y - radius, 2 * radius, 2 * radius)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(QColor(theme.paper))
    painter.drawEllipse(circle)
    if step >= 0:
        share = (step + 1) / len(theme.recall)
        half = math.degrees(math.acos(max(-1.0, 1.0 - 2.0 * share)))
        path = QPainterPath()
        path.arcMoveTo(circle, 270 - half)
        path.arcTo(circle, 270 - half, 2 * half)
        path.closeSubpath()
        painter.setBrush(QColor(theme.recall[step]))
        painter.drawPath(path)
    painter.setPen(QPen(QColor(theme.ink), thin))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawEllipse(circle)


def _bar(painter: QPainter, x: float, y: float, half: float, width: float, ink: QColor) -> None:
    painter.setPen(QPen(ink, width, Qt.PenStyle.SolidLine, Qt.PenCapStyle.FlatCap))
    painter.drawLine(QPointF(x, y - half), QPointF(x, y + half))


def _open_end(
    painter: QPainter, x: float, y: float, radius: float, thin: float, theme: Theme
) -> None:
    """An open ring, and behind it two strokes: the line goes on, nothing is prepared."""
    circle = QRectF(x - radius, y - radius, 2 * radius, 2 * radius)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(QColor(theme.paper))
    painter.drawEllipse(circle)
    painter.setPen(
        QPen(QColor(theme.ink), thin * 1.3, Qt.PenStyle.SolidLine, Qt.PenCapStyle.FlatCap)
    )
    painter.drawArc(circle, 50 * 16, 260 * 16)
    for shift in (1.1, 1.75):
        painter.drawLine(
            QPointF(x + radius * (shift - 0.3), y + radius * 0.9),
            QPointF(x + radius * (shift + 0.3), y - radius * 0.9),
        )


def _fork(painter: QPainter, x: float, y: float, radius: float, ink: QColor) -> None:
    """Four strokes that stick out of the station like a cross."""
    painter.setPen(QPen(ink, max(1.4, radius * 0.42)))
    reach = radius * 1.6
    painter.drawLine(QPointF(x - reach, y - reach), QPointF(x + reach, y + reach))
    painter.drawLine(QPointF(x - reach, y + reach), QPointF(x + reach, y - reach))


class Signs:
    """Signs as pictures, drawn once for each kind, size and screen."""

    def __init__(self, theme: Theme) -> None:
        self._theme = theme
        self._size: tuple[float, float] | None = None
        self._pictures: dict[tuple[int, int], QPixmap] = {}
        self.half = 0

    def set_size(self, radius: float, ratio: float) -> None:
        """Choose the radius of a station in logical pixels, `ratio` device pixels to one."""
        if self._size != (radius, ratio):
            self._size = (radius, ratio)
            self._pictures.clear()
            self.half = math.ceil(radius * EXTENT) + 1

    def picture(self, flags: int, step: int) -> QPixmap:
        """The sign with its centre in the middle of a square of twice `half`."""
        picture = self._pictures.get((flags, step))
        if picture is None:
            assert self._size is not None
            radius, ratio = self._size
            side = 2 * self.half
            picture = QPixmap(round(side * ratio), round(side * ratio))
            picture.fill(Qt.GlobalColor.transparent)
            picture.setDevicePixelRatio(ratio)
            painter = QPainter(picture)
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            draw_sign(painter, self.half, self.half, radius, flags, step, self._theme)
            painter.end()
            self._pictures[flags, step] = picture
        return picture
