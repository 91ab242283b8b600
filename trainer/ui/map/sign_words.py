"""The signs of the plan with their words, placed in rows and drawn: on the screen and in files."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPen, QPolygonF

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


@dataclass(frozen=True)
class SignWords:
    """Some of the entries, in a font and a look."""

    look: Look
    metrics: QFontMetricsF
    entries: Sequence[tuple[str, str]] = ENTRIES

    @property
    def row(self) -> float:
        """The height of a row in pixels."""
        return self.metrics.height() * 1.35

    @property
    def _sign_width(self) -> float:
        return 34.0 * self.look.scale

    def boxes(self, width: float) -> Iterator[tuple[str, QRectF, str]]:
        """Name, place and words of each entry, in as many rows as the width needs."""
        gap = 18.0 * self.look.scale
        x = y = 0.0
        for name, words in self.entries:
            across = self._sign_width + self.metrics.horizontalAdvance(words)
            if x and x + across > width:
                x, y = 0.0, y + self.row
            yield name, QRectF(x, y, across, self.row), words
            x += across + gap

    def height(self, width: float) -> float:
        """Pixels that all rows need."""
        return max((box.bottom() for _, box, _ in self.boxes(width)), default=0.0)

    def paint(self, painter: QPainter, width: float) -> None:
        """Draw them from the origin on, in the font that is set."""
        ink = QColor(self.look.theme.ink)
        for name, box, words in self.boxes(width):
            self._sign(painter, name, box)
            painter.setPen(ink)
            left = box.left() + self._sign_width
            place = QRectF(left, box.top(), width - left, box.height())
            painter.drawText(place, Qt.AlignmentFlag.AlignVCenter, words)

    def _sign(self, painter: QPainter, name: str, box: QRectF) -> None:
        theme, scale = self.look.theme, self.look.scale
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
