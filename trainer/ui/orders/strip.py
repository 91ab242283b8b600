"""The orders of one entry drawn as a small railway plan, with the chosen one in heavy ink."""

from __future__ import annotations

from itertools import pairwise

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QFont,
    QFontMetricsF,
    QMouseEvent,
    QPainter,
    QPainterPath,
    QPaintEvent,
    QPen,
)
from PySide6.QtWidgets import QSizePolicy, QWidget

from trainer.ui.look import Look
from trainer.ui.orders.plan import OrderPlan, Track
from trainer.ui.theme import system_sans, system_serif

_WIDEST_STEP = 74
_ROW = 38
_RADIUS = 4.5


class OrderStrip(QWidget):
    """Draws an `OrderPlan`. White's moves stand above their line, Black's below it."""

    #: A line and a half-move of it, chosen with the mouse.
    chosen = Signal(int, int)

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._plan: OrderPlan | None = None
        self._line = 0
        self._ply = 0
        self._look = look
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAccessibleName("Plan of the move orders")

    def set_look(self, look: Look) -> None:
        """Draw in another look."""
        self._look = look
        self._fit()

    def show_plan(self, plan: OrderPlan | None) -> None:
        """Show another plan, or nothing."""
        self._plan = plan
        self.setVisible(plan is not None)
        self._fit()

    def show_step(self, line: int, ply: int) -> None:
        """Mark a line, and the position after `ply` of its moves."""
        self._line, self._ply = line, ply
        self._describe()
        self.update()

    # -- where things are ----------------------------------------------------------------------

    def sizeHint(self) -> QSize:
        return QSize(200, self._height())

    def minimumSizeHint(self) -> QSize:
        return QSize(60, self._height())

    def _fit(self) -> None:
        self.setFixedHeight(self._height())
        self._describe()
        self.update()

    def _height(self) -> int:
        rows = 1 if self._plan is None else self._plan.height
        return round((_ROW * rows + 26) * self._look.scale)

    def _font(self) -> QFont:
        font = QFont(system_sans())
        font.setPointSizeF(9.0 * self._look.scale)
        return font

    def _step(self) -> float:
        assert self._plan is not None
        columns = max(1, self._plan.width - 1)
        room = self.width() - 2 * self._margin()
        return min(room / columns, _WIDEST_STEP * self._look.scale)

    def _margin(self) -> float:
        return 22 * self._look.scale

    def _point(self, x: float, y: float) -> QPointF:
        scale = self._look.scale
        return QPointF(self._margin() + x * self._step(), (_ROW * (y + 0.5) + 4) * scale)

    def _path(self, track: Track) -> tuple[QPainterPath, QPointF]:
        """The way of a move, and the middle of its level part."""
        assert self._plan is not None
        points = [self._point(x, y) for x, y in track.points]
        path = QPainterPath(points[0])
        if len(points) == 1:
            return path, points[0]
        parts = self._plan.stations[track.start].exits > 1
        meets = self._plan.stations[track.end].entries > 1
        labels: list[tuple[float, QPointF]] = []
        for start, end in pairwise(points):
            bend = min(0.45 * (end.x() - start.x()), abs(end.y() - start.y()))
            # Where lines part or meet, the level ground belongs to the one that goes straight on.
            leaving = parts and start is points[0]
            coming = meets and end is points[-1]
            first, last = QPointF(start), QPointF(end)
            if start.y() == end.y():
                pass
            elif leaving and coming:
                first = last = (start + end) / 2
            elif leaving:
                first = QPointF(start.x() + bend, end.y())
            else:
                last = QPointF(end.x() - bend, start.y())
            for point in (first, last, end):
                path.lineTo(point)
            labels.append((last.x() - first.x(), (first + last) / 2))
        label = max(labels, key=lambda one: one[0])[1]
        return path, label

    # -- painting ------------------------------------------------------------------------------

    def paintEvent(self, _event: QPaintEvent) -> None:
        if self._plan is None:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        plan, own = self._plan, self._own_tracks()
        numbers = (*(n for n in range(len(plan.tracks)) if n not in own), *own)
        labels = [
            self._paint_track(painter, plan.tracks[number], chosen=number in own)
            for number in numbers
        ]
        for number, label in zip(numbers, labels, strict=True):
            self._paint_label(painter, plan.tracks[number], label, chosen=number in own)
        for number in range(len(plan.stations)):
            self._paint_station(painter, number)
        self._paint_words(painter)
        painter.end()

    def _own_tracks(self) -> tuple[int, ...]:
        assert self._plan is not None
        return self._plan.takes[self._line] if self._line < len(self._plan.takes) else ()

    def _paint_track(self, painter: QPainter, track: Track, *, chosen: bool) -> QPointF:
        """Draw the line of a move; where its word belongs."""
        theme, scale = self._look.theme, self._look.scale
        path, label = self._path(track)
        pen = QPen(QColor(theme.ink if chosen else theme.muted), (3.2 if chosen else 1.2) * scale)
        pen.setCapStyle(Qt.PenCapStyle.RoundCap)
        pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
        painter.strokePath(path, pen)
        return label

    def _paint_label(
        self, painter: QPainter, track: Track, label: QPointF, *, chosen: bool
    ) -> None:
        theme, scale = self._look.theme, self._look.scale
        font = self._font()
        font.setBold(chosen)
        metrics = QFontMetricsF(font)
        width = metrics.horizontalAdvance(track.word)
        # White above and Black below leave each word the room of two moves.
        if width > 1.85 * self._step():
            return
        painter.setFont(font)
        painter.setPen(QColor(theme.ink if chosen else theme.muted))
        gap = 4 * scale
        y = label.y() - gap if track.white else label.y() + gap + metrics.ascent()
        corner = QPointF(label.x() - width / 2, y)
        # A steep line may run behind the word.
        ground = QRectF(corner.x(), y - metrics.capHeight() - 1, width, metrics.capHeight() + 2)
        painter.fillRect(ground, QColor(theme.paper))
        painter.drawText(corner, track.word)

    def _paint_station(self, painter: QPainter, number: int) -> None:
        assert self._plan is not None
        theme, scale = self._look.theme, self._look.scale
        station = self._plan.stations[number]
        centre = self._point(station.x, station.y)
        here = number == self._here()
        junction = station.entries > 1 or station.exits > 1
        radius = (_RADIUS if junction else 0.45 * _RADIUS) * scale
        painter.setPen(QPen(QColor(theme.ink), 1.6 * scale))
        painter.setBrush(QColor(theme.paper if junction else theme.ink))
        painter.drawEllipse(centre, radius, radius)
        if here:
            # Where the board stands: a full square, told apart from the rings by its shape.
            side = 1.9 * _RADIUS * scale
            painter.setBrush(QColor(theme.ink))
            painter.setPen(QPen(QColor(theme.paper), 1.6 * scale))
            painter.drawRect(QRectF(centre.x() - side / 2, centre.y() - side / 2, side, side))

    def _paint_words(self, painter: QPainter) -> None:
        """Where all lines part for the first time, and where all have met for good."""
        assert self._plan is not None
        plan, theme = self._plan, self._look.theme
        font = QFont(system_serif())
        font.setItalic(True)
        font.setPointSizeF(9.5 * self._look.scale)
        painter.setFont(font)
        painter.setPen(QColor(theme.ink))
        metrics = QFontMetricsF(font)
        y = self.height() - metrics.descent() - 1
        right = -1.0
        for word, number in (("part here", plan.parting), ("meet here", plan.meeting)):
            if number is None:
                continue
            width = metrics.horizontalAdvance(word)
            x = self._point(plan.stations[number].x, 0).x() - width / 2
            x = max(0.0, min(x, self.width() - width))
            if x > right:
                painter.drawText(QPointF(x, y), word)
                right = x + width + metrics.horizontalAdvance(" ")

    def _here(self) -> int:
        assert self._plan is not None
        if self._line >= len(self._plan.passes):
            return -1
        ply = self._ply - self._plan.skipped[self._line]
        passes = self._plan.passes[self._line]
        return passes[ply] if 0 <= ply < len(passes) else -1

    # -- mouse and words -----------------------------------------------------------------------

    def mousePressEvent(self, event: QMouseEvent) -> None:
        found = None if self._plan is None else self._nearest(event.position())
        if found is not None:
            self.chosen.emit(*found)

    def _nearest(self, position: QPointF) -> tuple[int, int] | None:
        """The line and half-move of the station at a point, on the chosen line if it passes."""
        assert self._plan is not None
        plan = self._plan

        def away(number: int) -> float:
            station = plan.stations[number]
            return (self._point(station.x, station.y) - position).manhattanLength()

        number = min(range(len(plan.stations)), key=away)
        if away(number) > 16 * self._look.scale:
            return None
        lines = sorted(range(len(plan.passes)), key=lambda line: line != self._line)
        for line in lines:
            if number in plan.passes[line]:
                return line, plan.passes[line].index(number) + plan.skipped[line]
        return None

    def _describe(self) -> None:
        plan = self._plan
        if plan is None:
            self.setAccessibleDescription("")
            return
        junctions = sum(station.entries > 1 for station in plan.stations)
        self.setAccessibleDescription(
            f"{len(plan.passes)} orders drawn; lines meet at {junctions} positions."
        )
