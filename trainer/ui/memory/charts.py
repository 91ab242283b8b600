"""Two pictures: predicted against actual recall, and the minutes of the coming days."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QBrush, QColor, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from trainer.ui.memory.words import most, percent
from trainer.ui.theme import Theme

if TYPE_CHECKING:
    from trainer.memory.calibration import Bin


class _Chart(QWidget):
    """A picture on its own ground, as wide as there is room."""

    lines = 9

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("role", "row")
        self._theme = theme
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def sizeHint(self) -> QSize:
        return QSize(420, round(self.fontMetrics().height() * self.lines))

    def minimumSizeHint(self) -> QSize:
        return QSize(220, self.sizeHint().height())

    def set_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._theme = theme
        self.update()

    def _painter(self) -> QPainter:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        return painter


class CalibrationChart(_Chart):
    """A pair for each bin: what was expected as a stroke, what came as a hatched bar."""

    lines = 11

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(theme, parent)
        self._bins: tuple[Bin, ...] = ()

    def set_bins(self, bins: Sequence[Bin]) -> None:
        """Show these bins."""
        self._bins = tuple(bins)
        self.setVisible(bool(bins))
        self.setAccessibleName("Recall expected and found")
        self.setAccessibleDescription(
            "; ".join(
                f"expected {percent(one.predicted)}, right {percent(one.actual)} of {one.count}"
                for one in self._bins
            )
        )
        self.update()

    def paintEvent(self, _event: QPaintEvent) -> None:
        if not self._bins:
            return
        painter = self._painter()
        line = self.fontMetrics().height()
        left = self.fontMetrics().horizontalAdvance("100 % ")
        base, top = self.height() - 2.4 * line, 1.2 * line
        ink, muted = QColor(self._theme.ink), QColor(self._theme.muted)
        for share in (0.0, 0.5, 1.0):
            y = base - (base - top) * share
            painter.setPen(QPen(QColor(self._theme.line), 1))
            painter.drawLine(QPointF(left, y), QPointF(self.width(), y))
            painter.setPen(muted)
            label = QRectF(0, y - line / 2, left - 4, line)
            painter.drawText(label, Qt.AlignmentFlag.AlignRight, percent(share))
        width = min((self.width() - left) / len(self._bins), 8.0 * line)
        for number, one in enumerate(self._bins):
            x = left + number * width
            height = (base - top) * one.actual
            painter.setPen(QPen(ink, 1.2))
            painter.setBrush(QBrush(ink, Qt.BrushStyle.BDiagPattern))
            painter.drawRect(QRectF(x + width * 0.25, base - height, width * 0.5, height))
            expected = base - (base - top) * one.predicted
            painter.setPen(QPen(QColor(self._theme.accent), 3))
            painter.drawLine(
                QPointF(x + width * 0.1, expected), QPointF(x + width * 0.9, expected)
            )
            painter.setPen(muted)
            slot = QRectF(x, base + line * 0.15, width, line)
            painter.drawText(slot, Qt.AlignmentFlag.AlignHCenter, percent(one.predicted))
            slot.moveTop(base + line * 1.2)
            painter.drawText(slot, Qt.AlignmentFlag.AlignHCenter, f"n {one.count:,}")


class MinutesChart(_Chart):
    """A hatched bar for the minutes of each coming day, the first one today."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(theme, parent)
        self._minutes: tuple[float, ...] = ()

    def set_minutes(self, minutes: Sequence[float]) -> None:
        """Show these minutes."""
        self._minutes = tuple(minutes)
        self.setVisible(any(minutes))
        self.setAccessibleName("Minutes of the coming days")
        self.setAccessibleDescription(", ".join(f"{one:.0f}" for one in self._minutes))
        self.update()

    def paintEvent(self, _event: QPaintEvent) -> None:
        if not self._minutes:
            return
        painter = self._painter()
        line = self.fontMetrics().height()
        top_value = most(max(self._minutes))
        left = self.fontMetrics().horizontalAdvance(f"{top_value} min ")
        base, top = self.height() - 1.4 * line, 0.7 * line
        ink, muted = QColor(self._theme.ink), QColor(self._theme.muted)
        for value in (0, top_value / 2, top_value):
            y = base - (base - top) * value / top_value
            painter.setPen(QPen(QColor(self._theme.line), 1))
            painter.drawLine(QPointF(left, y), QPointF(self.width(), y))
            painter.setPen(muted)
            label = QRectF(0, y - line / 2, left - 4, line)
            painter.drawText(label, Qt.AlignmentFlag.AlignRight, f"{value:g} min")
        width = (self.width() - left) / len(self._minutes)
        for number, value in enumerate(self._minutes):
            height = (base - top) * value / top_value
            colour = QColor(self._theme.accent) if number == 0 else ink
            painter.setPen(QPen(colour, 1.2))
            painter.setBrush(QBrush(colour, Qt.BrushStyle.BDiagPattern))
            x = left + number * width
            painter.drawRect(QRectF(x + width * 0.2, base - height, width * 0.6, height))
            if number % 5 == 0:
                painter.setPen(muted)
                told = "today" if number == 0 else f"+{number}"
                slot = QRectF(x, base + line * 0.2, 5 * width, line)
                painter.drawText(slot, Qt.AlignmentFlag.AlignLeft, told)
