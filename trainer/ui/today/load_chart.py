"""The load of the coming days: one hatched bar a day."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QBrush, QColor, QHelpEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QToolTip, QWidget

from trainer.ui.theme import Theme

if TYPE_CHECKING:
    from trainer.memory.today import DayLoad


class LoadChart(QWidget):
    """Bars of equal width; the number stands above each, the day below."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("role", "row")
        self._theme = theme
        self._days: tuple[DayLoad, ...] = ()
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def sizeHint(self) -> QSize:
        return QSize(420, round(self.fontMetrics().height() * 7))

    def minimumSizeHint(self) -> QSize:
        return QSize(200, self.sizeHint().height())

    def set_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._theme = theme
        self.update()

    def set_days(self, days: Sequence[DayLoad]) -> None:
        """Show these days, the first is today."""
        self._days = tuple(days)
        self.setAccessibleName(
            "Load of the coming days: "
            + ", ".join(f"{load.day:%d %b} {load.positions} positions" for load in self._days)
        )
        self.update()

    def event(self, event: QEvent) -> bool:
        if event.type() == QEvent.Type.ToolTip and self._days:
            assert isinstance(event, QHelpEvent)
            number = int(event.pos().x() / max(1.0, self.width() / len(self._days)))
            load = self._days[min(number, len(self._days) - 1)]
            QToolTip.showText(
                event.globalPos(),
                f"{load.day:%A %d %B}: {load.positions} positions, about {load.minutes:.0f} min",
                self,
            )
            return True
        return super().event(event)

    def paintEvent(self, _event: QPaintEvent) -> None:
        if not self._days:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        text_height = self.fontMetrics().height()
        base = self.height() - text_height * 1.3
        room = base - text_height * 1.2
        width = self.width() / len(self._days)
        most = max(1, *(load.positions for load in self._days))
        ink = QColor(self._theme.ink)
        painter.setPen(QPen(QColor(self._theme.muted), 1))
        painter.drawLine(QPointF(0, base), QPointF(self.width(), base))
        for number, load in enumerate(self._days):
            height = room * load.positions / most
            bar = QRectF(number * width + width * 0.2, base - height, width * 0.6, height)
            colour = QColor(self._theme.accent) if number == 0 else ink
            painter.setPen(QPen(colour, 1.2))
            painter.setBrush(QBrush(colour, Qt.BrushStyle.BDiagPattern))
            if load.positions:
                painter.drawRect(bar)
            slot = QRectF(number * width, 0, width, text_height)
            painter.setPen(colour if number == 0 else QColor(self._theme.muted))
            slot.moveTop(base + text_height * 0.2)
            painter.drawText(slot, Qt.AlignmentFlag.AlignHCenter, f"{load.day.day}")
            if load.positions:
                slot.moveTop(bar.top() - text_height * 1.05)
                painter.drawText(slot, Qt.AlignmentFlag.AlignHCenter, str(load.positions))
