"""How deep games stayed in known lines, month by month."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QHelpEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QToolTip, QWidget

from trainer.games.statistics import joined_months
from trainer.memory.days import month_name
from trainer.notation.numbers import count
from trainer.ui.look import Look
from trainer.ui.theme import system_sans

if TYPE_CHECKING:
    from trainer.games.statistics import MonthDepth

#: With more months than this, several are taken together.
_MOST = 60


class DepthChart(QWidget):
    """A line with a station a month; months without games leave it open."""

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._look = look
        self._months: tuple[MonthDepth, ...] = ()
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(120, 120)
        self.setAccessibleName("Depth in known lines by month")

    def sizeHint(self) -> QSize:
        return QSize(500, round(300 * self._look.scale))

    def set_look(self, look: Look) -> None:
        """Draw in another look."""
        self._look = look
        self.update()

    def set_months(self, months: Sequence[MonthDepth]) -> None:
        """Show these months, in their order."""
        self._months = tuple(joined_months(months, _MOST))
        self.setAccessibleDescription(
            ", ".join(_said(month) for month in self._months) or "No game with a known month"
        )
        self.update()

    # -- where things are ----------------------------------------------------------------------

    def _numbers(self) -> list[int]:
        return [month.year * 12 + month.month - 1 for month in self._months]

    def _frame(self) -> QRectF:
        metrics = QFontMetricsF(self._font())
        left = metrics.horizontalAdvance("moves 00") + 6
        height = metrics.height()
        return QRectF(left, height, self.width() - left - 16, self.height() - 3.4 * height)

    def _top(self) -> int:
        """The number of moves at the upper end: a multiple of four."""
        most = max(month.plies for month in self._months) / 2
        return max(4, -(-int(most + 1) // 4) * 4)

    def _point(self, month: MonthDepth, first: int, span: int) -> QPointF:
        frame = self._frame()
        number = month.year * 12 + month.month - 1
        x = frame.left() + frame.width() * ((number - first) / span if span else 0.5)
        return QPointF(x, frame.bottom() - frame.height() * month.plies / 2 / self._top())

    def _font(self) -> QFont:
        font = QFont(system_sans())
        font.setPointSizeF(9.5 * self._look.scale)
        return font

    # -- painting ------------------------------------------------------------------------------

    def paintEvent(self, _event: QPaintEvent) -> None:
        if not self._months:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setFont(self._font())
        self._paint_scale(painter)
        theme, scale = self._look.theme, self._look.scale
        numbers = self._numbers()
        first, span = numbers[0], numbers[-1] - numbers[0]
        points = [self._point(month, first, span) for month in self._months]
        for before, after, a, b in zip(points, points[1:], numbers, numbers[1:], strict=False):
            gap = b - a > self._months[0].span
            pen = QPen(QColor(theme.muted if gap else theme.ink), (1.2 if gap else 2.6) * scale)
            if gap:
                pen.setStyle(Qt.PenStyle.DashLine)
            painter.setPen(pen)
            painter.drawLine(before, after)
        for point, month in zip(points, self._months, strict=True):
            # More games make a larger station: its area grows with their number.
            radius = min(3.0 + 1.2 * month.games**0.5, 9.0) * scale
            painter.setPen(QPen(QColor(theme.ink), 1.6 * scale))
            painter.setBrush(QColor(theme.paper))
            painter.drawEllipse(point, radius, radius)
        painter.end()

    def _paint_scale(self, painter: QPainter) -> None:
        theme, frame, top = self._look.theme, self._frame(), self._top()
        metrics = painter.fontMetrics()
        for moves in range(0, top + 1, max(1, top // 4)):
            y = frame.bottom() - frame.height() * moves / top
            painter.setPen(QPen(QColor(theme.line), 1))
            painter.drawLine(QPointF(frame.left(), y), QPointF(frame.right(), y))
            painter.setPen(QColor(theme.muted))
            text = f"{moves} moves" if moves == top else str(moves)
            place = QRectF(0, y - metrics.height() / 2, frame.left() - 6, metrics.height())
            painter.drawText(
                place, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, text
            )
        self._paint_months(painter, frame)

    def _paint_months(self, painter: QPainter, frame: QRectF) -> None:
        """Name as many months as have room, the years below them."""
        metrics = painter.fontMetrics()
        numbers = self._numbers()
        first, span = numbers[0], numbers[-1] - numbers[0]
        width = metrics.horizontalAdvance("Mmm ")
        room = max(1, int(frame.width() / width))
        step = next(step for step in (1, 2, 3, 4, 6, 12, 24, 60, 6000) if span / step < room)
        free = -1.0
        for number in range(first, first + span + 1):
            if number % 12 % min(step, 12) or (step > 12 and number // 12 % (step // 12)):
                continue
            x = frame.left() + frame.width() * ((number - first) / span if span else 0.5)
            name = month_name(number % 12 + 1)[:3]
            half = metrics.horizontalAdvance(name) / 2
            if x - half < free:
                continue
            y = frame.bottom() + metrics.height()
            painter.drawText(QPointF(x - half, y), name)
            free = x + half + metrics.horizontalAdvance(" ")
            if number % 12 < step or number == first:
                year = str(number // 12)
                painter.drawText(
                    QPointF(x - metrics.horizontalAdvance(year) / 2, y + metrics.height()), year
                )

    def event(self, event: QEvent) -> bool:
        if event.type() == QEvent.Type.ToolTip and self._months:
            assert isinstance(event, QHelpEvent)
            numbers = self._numbers()
            first, span = numbers[0], numbers[-1] - numbers[0]
            here = event.pos()
            month = min(
                self._months, key=lambda one: abs(self._point(one, first, span).x() - here.x())
            )
            QToolTip.showText(event.globalPos(), _said(month), self)
            return True
        return super().event(event)


def _said(month: MonthDepth) -> str:
    games = count(month.games, "game")
    when = f"{month_name(month.month)} {month.year}"
    if month.span > 1:
        when = f"{month.span} months from {when}"
    return f"{when}: {month.plies / 2:.1f} moves in known lines, {games}"
