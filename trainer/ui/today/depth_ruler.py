"""Depth in hand, drawn as a line with a tick for every prepared move."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from trainer.ui.theme import Theme

if TYPE_CHECKING:
    from trainer.memory.today import Depth


class DepthRuler(QWidget):
    """A line as long as perfect memory; three marks of different shape stand on it."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._depth: Depth | None = None
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def sizeHint(self) -> QSize:
        return QSize(360, round(self.fontMetrics().height() * 3.6))

    def minimumSizeHint(self) -> QSize:
        return QSize(200, self.sizeHint().height())

    def set_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._theme = theme
        self.update()

    def set_depth(self, depth: Depth | None) -> None:
        """Show these figures (None: an empty line)."""
        self._depth = depth
        if depth is not None:
            text = (
                f"Depth in hand {depth.now:.1f} moves now, {depth.without:.1f} tomorrow without "
                f"a drill, {depth.drilled:.1f} with it, {depth.full:.1f} with perfect memory"
            )
            self.setAccessibleName(text)
            self.setToolTip(text)
        self.update()

    def paintEvent(self, _event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        metrics = self.fontMetrics()
        margin = metrics.horizontalAdvance("00")
        line_y = self.height() - metrics.height() * 1.6
        left, right = float(margin), float(self.width() - margin)
        ink = QColor(self._theme.ink)
        painter.setPen(QPen(QColor(self._theme.muted), 1.5))
        painter.drawLine(QPointF(left, line_y), QPointF(right, line_y))
        if self._depth is None:
            return
        ticks = max(1, math.ceil(self._depth.full))
        step = (right - left) / ticks
        self._draw_ticks(painter, ticks, left, step, line_y)
        painter.setPen(QPen(ink, 4))
        painter.drawLine(QPointF(left, line_y), QPointF(left + step * self._depth.now, line_y))
        size = metrics.height() * 0.36
        self._mark_without(painter, QPointF(left + step * self._depth.without, line_y), size)
        self._mark_drilled(painter, QPointF(left + step * self._depth.drilled, line_y), size)

    def _draw_ticks(
        self, painter: QPainter, ticks: int, left: float, step: float, line_y: float
    ) -> None:
        metrics = self.fontMetrics()
        every = max(1, math.ceil(metrics.horizontalAdvance("000") / max(step, 1.0)))
        for tick in range(ticks + 1):
            x = left + tick * step
            painter.setPen(QPen(QColor(self._theme.muted), 1))
            painter.drawLine(QPointF(x, line_y - 3), QPointF(x, line_y + 3))
            if tick % every == 0:
                box = QRectF(x - 20, line_y + 5, 40, metrics.height())
                painter.drawText(box, Qt.AlignmentFlag.AlignHCenter, str(tick))

    def _mark_without(self, painter: QPainter, at: QPointF, size: float) -> None:
        painter.setPen(QPen(QColor(self._theme.ink), 1.5))
        painter.setBrush(QColor(self._theme.paper))
        painter.drawEllipse(at, size * 0.75, size * 0.75)

    def _mark_drilled(self, painter: QPainter, at: QPointF, size: float) -> None:
        top = at.y() - size * 0.9
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(self._theme.accent))
        painter.drawPolygon(
            QPolygonF(
                [
                    QPointF(at.x(), top),
                    QPointF(at.x() - size * 0.8, top - size * 1.5),
                    QPointF(at.x() + size * 0.8, top - size * 1.5),
                ]
            )
        )
