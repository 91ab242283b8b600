"""What the signs of the plan mean, in words."""

from __future__ import annotations

from collections.abc import Iterator

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from trainer.ui.look import Look
from trainer.ui.map.scene import CONFLICT, CROSSING, DECISION, END, HOLE, ROOT, WIDTHS
from trainer.ui.map.symbols import draw_sign

#: Signs by name, in the order of the legend, with their words.
ENTRIES: tuple[tuple[str, str], ...] = (
    ("station", "your move, filled as far as it is remembered"),
    ("unasked", "your move, never asked yet"),
    ("tick", "the opponent's move"),
    ("weight", "the heavier a line, the greater its reach"),
    ("crossing", "crossing: move orders meet"),
    ("hole", "hole: nothing is prepared"),
    ("conflict", "conflict: two main moves"),
    ("root", "a section begins"),
    ("end", "a line ends"),
    ("folded", "folded, with so many positions"),
    ("closing", "back to an earlier position"),
    ("found", "found"),
    ("chosen", "chosen"),
)
KEYS = (
    "→ main move   ← back   ↑ ↓ beside   Home start   F fold   Enter open   "
    "+ − zoom   0 all   / search   F3 next"
)
_FLAGS = {
    "station": DECISION,
    "unasked": DECISION,
    "tick": 0,
    "crossing": DECISION | CROSSING,
    "hole": HOLE,
    "conflict": DECISION | CONFLICT,
    "root": DECISION | ROOT,
    "end": END,
    "chosen": DECISION,
}


class Legend(QWidget):
    """Signs with words, in as many rows as the width needs, and the keys in the last one."""

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._look = look
        policy = QSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)
        words = "; ".join(text for _, text in ENTRIES)
        self.setAccessibleName(f"Legend: {words}. Keys: {' '.join(KEYS.split())}")

    def set_look(self, look: Look) -> None:
        """Draw in another look."""
        self._look = look
        self.updateGeometry()
        self.update()

    def hasHeightForWidth(self) -> bool:
        return True

    def heightForWidth(self, width: int) -> int:
        *_, last = self._boxes(width)
        return round(last[1].bottom() + 4 * self._look.scale)

    def sizeHint(self) -> QSize:
        width = max(self.width(), 300)
        return QSize(width, self.heightForWidth(width))

    def minimumSizeHint(self) -> QSize:
        return QSize(200, self.heightForWidth(max(self.width(), 200)))

    def resizeEvent(self, _event: object) -> None:
        self.updateGeometry()

    def _sign_width(self) -> float:
        return 34.0 * self._look.scale

    def _boxes(self, width: float) -> Iterator[tuple[str, QRectF, str]]:
        """Name, place and words of each entry; the keys last, without a name."""
        metrics, scale = self.fontMetrics(), self._look.scale
        height, gap = metrics.height() * 1.35, 18.0 * scale
        x = y = 0.0
        for name, words in ENTRIES:
            across = self._sign_width() + metrics.horizontalAdvance(words)
            if x and x + across > width:
                x, y = 0.0, y + height
            yield name, QRectF(x, y, across, height), words
            x += across + gap
        y += height
        line = ""
        for part in KEYS.split("   "):
            longer = f"{line}   {part}" if line else part
            if line and metrics.horizontalAdvance(longer) > width:
                yield "", QRectF(0, y, width, height), line
                y += height
                longer = part
            line = longer
        yield "", QRectF(0, y, width, height), line

    def paintEvent(self, _event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        theme = self._look.theme
        for name, box, words in self._boxes(self.width()):
            if name:
                self._sign(painter, name, box)
            painter.setPen(QColor(theme.ink if name else theme.muted))
            left = box.left() + (self._sign_width() if name else 0.0)
            place = QRectF(left, box.top(), self.width() - left, box.height())
            painter.drawText(place, Qt.AlignmentFlag.AlignVCenter, words)
        painter.end()

    def _sign(self, painter: QPainter, name: str, box: QRectF) -> None:
        theme, scale = self._look.theme, self._look.scale
        x, y, radius = box.left() + 14 * scale, box.center().y(), 5.0 * scale
        ends = QPointF(x - 13 * scale, y), QPointF(x + 13 * scale, y)
        ink = QColor(theme.ink)
        if name == "weight":
            for number, width in enumerate((WIDTHS[0], WIDTHS[2], WIDTHS[5])):
                level = y + (number - 1) * 5.5 * scale
                painter.setPen(QPen(ink, width * 0.8 * scale))
                painter.drawLine(QPointF(ends[0].x(), level), QPointF(ends[1].x(), level))
            return
        pen = QPen(ink, 1.4 * scale)
        if name == "closing":
            pen.setDashPattern([4.0, 3.0])
        painter.setPen(pen)
        if name in ("end", "hole"):
            ends = ends[0], QPointF(x, y)
        if name == "found":
            size = 5.0 * scale
            painter.setBrush(ink)
            painter.drawPolygon(
                QPolygonF(
                    [
                        QPointF(x, y + size * 0.7),
                        QPointF(x - size, y - size * 0.7),
                        QPointF(x + size, y - size * 0.7),
                    ]
                )
            )
            return
        painter.drawLine(*ends)
        if name == "folded":
            square = QRectF(x - 8 * scale, y - 6 * scale, 17 * scale, 12 * scale)
            painter.setBrush(QColor(theme.surface))
            painter.drawRect(square)
            painter.drawLine(QPointF(x - 3 * scale, y), QPointF(x + 4 * scale, y))
            painter.drawLine(
                QPointF(x + 0.5 * scale, y - 3.5 * scale),
                QPointF(x + 0.5 * scale, y + 3.5 * scale),
            )
        elif name in _FLAGS:
            step = {"unasked": -1}.get(name, 3)
            draw_sign(painter, x, y, radius, _FLAGS[name], step, theme)
        if name == "chosen":
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(QColor(theme.accent), 2.2 * scale))
            painter.drawEllipse(QPointF(x, y), radius * 1.6, radius * 1.6)
