"""The small diagram that stands beside the pointer."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen, QPixmap
from PySide6.QtWidgets import QWidget

from trainer.ui.look import Look
from trainer.ui.mini_board import diagram_pixmap

if TYPE_CHECKING:
    from trainer.ui.map.plan import Plan

_SIDE, _EDGE = 168, 8


class HoverCard(QWidget):
    """A slip of paper with a diagram and the move that led to it; it takes no clicks."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self._look: Look | None = None
        self._picture = QPixmap()
        self._words = ""
        self.hide()

    def show_position(self, plan: Plan, number: int, look: Look, pointer: QPointF) -> None:
        """Show a position beside the pointer, inside the parent."""
        self._look = look
        side = round(_SIDE * look.scale)
        side = min(side, self.parentWidget().height() // 2, self.parentWidget().width() // 2)
        self._picture = diagram_pixmap(
            plan.node(number).board(),
            side,
            self.devicePixelRatioF(),
            look.theme,
            flipped=look.flipped,
        )
        entry = int(plan.entry[number])
        if entry >= 0:
            self._words = plan.move_text(entry, look.notation, always_number=True)
        else:
            self._words = plan.titles.get(number, "Start")
        edge = round(_EDGE * look.scale)
        size = QSize(side + 2 * edge, side + 2 * edge + self.fontMetrics().height())
        room, gap = self.parentWidget().size(), round(16 * look.scale)
        x, y = round(pointer.x()) + gap, round(pointer.y()) + gap
        if x + size.width() > room.width():
            x = round(pointer.x()) - gap - size.width()
        if y + size.height() > room.height():
            y = room.height() - size.height()
        self.setGeometry(max(0, x), max(0, y), size.width(), size.height())
        self.show()
        self.raise_()
        self.update()

    def paintEvent(self, _event: QPaintEvent) -> None:
        if self._look is None:
            return
        theme, edge = self._look.theme, round(_EDGE * self._look.scale)
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(theme.surface))
        painter.setPen(QPen(QColor(theme.ink), 1))
        painter.drawRect(self.rect().adjusted(0, 0, -1, -1))
        painter.drawPixmap(edge, edge, self._picture)
        box = self.rect().adjusted(edge, 0, -edge, -edge // 2)
        words = self.fontMetrics().elidedText(
            self._words, Qt.TextElideMode.ElideRight, box.width()
        )
        painter.drawText(box, Qt.AlignmentFlag.AlignBottom | Qt.AlignmentFlag.AlignLeft, words)
        painter.end()
