"""Draws a scene: only what is on the screen, and no more of it than can be read."""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass
from typing import Final

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPen, QPolygonF, QStaticText

from trainer.ui.look import Look
from trainer.ui.map.scene import CLOSING, COLUMN, CROSSING, ROW, WIDTHS, Scene
from trainer.ui.map.symbols import Signs, draw_sign
from trainer.ui.map.view import View

#: Pixels a row, at 100 %, from which on lines bend in curves, stations are drawn, and names.
CURVES_FROM: Final = 4.5
STATIONS_FROM: Final = 7.0
NAMES_FROM: Final = 19.0
#: Pixels a row below which lines grow faint, and how many of the pens do.
_DENSE: Final = 3.0
_UNLIKELY: Final = 2
_MOST_TEXTS: Final = 20_000
#: The size of the words below a line, so that they stand clear of those above the next one.
_BELOW: Final = 0.86
#: Where rows are close: the lines of text that a name needs above it, and the pixels of its
#: column, at 100 %, that are left to lines turning there.
_FREE: Final = 1.25
_RAILS: Final = 6.0


@dataclass(frozen=True)
class Marks:
    """What is marked on the plan: the chosen position, and those that a search found."""

    chosen: int | None = None
    found: Collection[int] = ()


class MapPainter:
    """Draws one scene in one look. `font` is that of the names of moves."""

    def __init__(self, scene: Scene, look: Look, font: QFont) -> None:
        self.scene = scene
        self.look = look
        self._font = font
        self._metrics = QFontMetricsF(font)
        self._small = QFont(font)
        if font.pixelSize() > 0:
            self._small.setPixelSize(max(1, round(font.pixelSize() * _BELOW)))
        else:
            self._small.setPointSizeF(font.pointSizeF() * _BELOW)
        self._signs = Signs(look.theme)
        self._texts: dict[tuple[str, bool], tuple[QStaticText, float]] = {}

    @property
    def header_height(self) -> float:
        """Pixels of the strip with the move numbers."""
        return self._metrics.height() * 1.5

    def radius(self, view: View) -> float:
        """The radius of a station in pixels."""
        scale = self.look.scale
        return min(max(0.2 * self._row_pixels(view), 2.2), 9.0) * scale

    def _row_pixels(self, view: View) -> float:
        return view.zoom * ROW / self.look.scale

    def paint(
        self,
        painter: QPainter,
        view: View,
        size: tuple[float, float],
        marks: Marks,
        *,
        exact: bool = False,
    ) -> None:
        """Draw the part of the plan that a rectangle of `size` pixels shows at `view`.

        `exact` draws every sign as shapes instead of pictures, and all of it: for files.
        """
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setFont(self._font)
        width, height = size
        part = QRectF(view.left, view.top, width / view.across, height / view.zoom)
        near = exact or self._row_pixels(view) >= NAMES_FROM
        if near:
            self._columns(painter, view, size)
        self._lines(painter, view, part, exact=exact)
        if near or self._row_pixels(view) >= CURVES_FROM:
            self._names(painter, view, part, exact=exact, everything=near)
        everything = exact or self._row_pixels(view) >= STATIONS_FROM
        inside = self._inside(part, everything=everything)
        self._stations(painter, view, inside, exact=exact)
        self._stubs(painter, view, part, words=exact or self.counts_shown(view))
        self._marks(painter, view, part, marks)
        self._header(painter, view, size)

    # -- lines -------------------------------------------------------------------------------

    def _lines(self, painter: QPainter, view: View, part: QRectF, *, exact: bool) -> None:
        theme, scale = self.look.theme, self.look.scale
        grow = min(max((view.zoom / scale) ** 0.5, 0.5), 1.7) * scale
        painter.save()
        painter.scale(view.across, view.zoom)
        painter.translate(-view.left, -view.top)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        # Where rows are closer than their lines, the unlikely ones step back.
        dense = 1.0 if exact else min(1.0, max(0.2, self._row_pixels(view) / _DENSE))
        pens = []
        for number, width in enumerate((*WIDTHS, WIDTHS[1])):
            ink = _mixed(theme.paper, theme.ink, dense if number < _UNLIKELY else 1.0)
            pen = QPen(ink, max(0.8, width * grow))
            # On the screen a pen is in pixels; a file may be enlarged, its pens with it.
            pen.setCosmetic(not exact)
            pen.setCapStyle(Qt.PenCapStyle.FlatCap)
            pens.append(pen)
        pens[CLOSING].setDashPattern([4.0, 3.0])
        if not exact and self._row_pixels(view) < CURVES_FROM:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
            for number, lines in self.scene.afar.items():
                painter.setPen(pens[number])
                painter.drawLines(lines)
        else:
            self._curves(painter, part, pens)
        painter.restore()

    def _curves(self, painter: QPainter, part: QRectF, pens: list[QPen]) -> None:
        bounds = self.scene.tile_bounds
        seen = (
            (bounds[:, 0] < part.right())
            & (bounds[:, 1] < part.bottom())
            & (bounds[:, 2] > part.left())
            & (bounds[:, 3] > part.top())
        )
        set_to = -1
        for number in np.flatnonzero(seen).tolist():
            for pen, path in self.scene.tiles[number].paths:
                if pen != set_to:
                    painter.setPen(pens[pen])
                    set_to = pen
                painter.drawPath(path)

    # -- names -------------------------------------------------------------------------------

    def _names(
        self, painter: QPainter, view: View, part: QRectF, *, exact: bool, everything: bool
    ) -> None:
        """The names of moves: all of them, or where rows are close those with free room above."""
        scene = self.scene
        height, gap = self._metrics.height(), self.radius(view) * 1.9 + 3
        seen = (
            (scene.label_x > part.left())
            & (scene.label_x < part.right() + COLUMN)
            & (scene.label_y > part.top() - ROW)
            & (scene.label_y < part.bottom() + ROW)
        )
        column = math.inf
        if not everything:
            seen &= scene.label_room * view.zoom >= _FREE * height
            column = COLUMN * view.across - _RAILS * self.look.scale
        inside = np.flatnonzero(seen).tolist()
        painter.setPen(QColor(self.look.theme.ink))
        rise = height + 2 * self.look.scale
        below = []
        for number in inside:
            label = scene.labels[number]
            if label.below:
                below.append(label)
                continue
            text, width = self._text(label.words)
            if width + gap > column:
                continue
            x, y = view.to_screen(label.x, label.y)
            self._write(painter, x - gap - width, y - rise, text, exact=exact)
        if self._row_pixels(view) * self.look.scale < 1.9 * height:
            return
        painter.setPen(QColor(self.look.theme.muted))
        painter.setFont(self._small)
        for label in below:
            text, width = self._text(label.words, small=True)
            x, y = view.to_screen(label.x, label.y)
            self._write(painter, x - gap - width, y + self.look.scale, text, exact=exact)
        painter.setFont(self._font)

    def _write(
        self, painter: QPainter, x: float, y: float, text: QStaticText, *, exact: bool
    ) -> None:
        if exact:  # a file keeps words as words
            ascent = QFontMetricsF(painter.font()).ascent()
            painter.drawText(QPointF(x, y + ascent), text.text())
        else:
            painter.drawStaticText(QPointF(x, y), text)

    def _text(self, words: str, *, small: bool = False) -> tuple[QStaticText, float]:
        known = self._texts.get((words, small))
        if known is None:
            if len(self._texts) > _MOST_TEXTS:
                self._texts.clear()
            text = QStaticText(words)
            text.setTextFormat(Qt.TextFormat.PlainText)
            font = self._small if small else self._font
            text.prepare(font=font)
            width = QFontMetricsF(font).horizontalAdvance(words)
            known = self._texts[words, small] = (text, width)
        return known

    # -- stations ----------------------------------------------------------------------------

    def _inside(self, part: QRectF, *, everything: bool) -> np.ndarray:
        scene = self.scene
        inside = (
            (scene.x > part.left() - COLUMN / 3)
            & (scene.x < part.right() + COLUMN / 3)
            & (scene.y > part.top() - ROW)
            & (scene.y < part.bottom() + ROW)
        )
        if not everything:
            inside &= scene.junction
        return np.flatnonzero(inside)

    def _stations(self, painter: QPainter, view: View, inside: np.ndarray, *, exact: bool) -> None:
        scene, radius = self.scene, self.radius(view)
        xs = (scene.x[inside] - view.left) * view.across
        ys = (scene.y[inside] - view.top) * view.zoom
        flags, steps = scene.flags[inside].tolist(), scene.step[inside].tolist()
        if exact:
            for x, y, flag, step in zip(xs.tolist(), ys.tolist(), flags, steps, strict=True):
                draw_sign(painter, x, y, radius, flag, step, self.look.theme)
            return
        if self._row_pixels(view) < STATIONS_FROM:
            flags = [flag & ~1 if flag & CROSSING else flag for flag in flags]
            steps = [-1] * len(steps)
        signs = self._signs
        signs.set_size(radius, painter.device().devicePixelRatio())
        lefts = (np.rint(xs).astype(np.int64) - signs.half).tolist()
        tops = (np.rint(ys).astype(np.int64) - signs.half).tolist()
        for x, y, flag, step in zip(lefts, tops, flags, steps, strict=True):
            painter.drawPixmap(x, y, signs.picture(flag, step))

    def counts_shown(self, view: View) -> bool:
        """Whether there is room for the counts of what is folded away."""
        return view.zoom * ROW >= 1.15 * self._metrics.height()

    def stub_box(self, view: View, number: int) -> QRectF:
        """Where the count of what is folded away behind a position stands, in pixels."""
        scale = self.look.scale
        x, y = view.to_screen(*self.scene.point(number))
        words = self._stub_words(number)
        width = self._metrics.horizontalAdvance(words) + 8 * scale
        height = self._metrics.height()
        return QRectF(x + self.radius(view) + 7 * scale, y - height / 2, width, height)

    def _stub_words(self, number: int) -> str:
        return f"+{int(self.scene.layout.hidden[number]):,}"

    def _stubs(self, painter: QPainter, view: View, part: QRectF, *, words: bool) -> None:
        """Behind a folded position: a stub of line, and how much hangs on it."""
        theme, scale, radius = self.look.theme, self.look.scale, self.radius(view)
        numbers = self.scene.shown[self._inside(part, everything=True)]
        painter.setBrush(QColor(theme.surface))
        for number in numbers[self.scene.layout.folded[numbers]].tolist():
            x, y = view.to_screen(*self.scene.point(number))
            end = x + radius + 7 * scale
            painter.setPen(QPen(QColor(theme.ink), max(2.0, radius * 0.6)))
            painter.drawLine(QPointF(x + radius, y), QPointF(end, y))
            if words:
                box = self.stub_box(view, number)
                painter.setPen(QPen(QColor(theme.ink), scale))
                painter.drawRect(box)
                painter.drawText(box, Qt.AlignmentFlag.AlignCenter, self._stub_words(number))

    def _marks(self, painter: QPainter, view: View, part: QRectF, marks: Marks) -> None:
        theme, scale, radius = self.look.theme, self.look.scale, self.radius(view)
        visible = self.scene.layout.visible
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(theme.ink))
        size = 5.0 * scale
        seen = set(self.scene.shown[self._inside(part, everything=True)].tolist())
        for number in marks.found:
            if number in seen:
                x, y = view.to_screen(*self.scene.point(number))
                y -= radius * 1.9 + 2 * scale
                points = [QPointF(x, y), QPointF(x - size, y - size * 1.4)]
                painter.drawPolygon(QPolygonF([*points, QPointF(x + size, y - size * 1.4)]))
        chosen = marks.chosen
        if chosen is not None and chosen < len(visible) and visible[chosen]:
            x, y = view.to_screen(*self.scene.point(chosen))
            ring = radius * 1.9 + 2.5 * scale
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(QColor(theme.accent), 3.0 * scale))
            painter.drawEllipse(QPointF(x, y), ring, ring)

    # -- move numbers ------------------------------------------------------------------------

    def _columns(self, painter: QPainter, view: View, size: tuple[float, float]) -> None:
        """A hairline for every column in which White has just moved."""
        painter.setPen(QPen(QColor(self.look.theme.line), 1))
        for x, _ in self._numbers(view, size[0]):
            painter.drawLine(QPointF(x, 0), QPointF(x, size[1]))

    def _header(self, painter: QPainter, view: View, size: tuple[float, float]) -> None:
        theme, height = self.look.theme, self.header_height
        painter.fillRect(QRectF(0, 0, size[0], height), QColor(theme.paper))
        painter.setPen(QPen(QColor(theme.line), 1))
        painter.drawLine(QPointF(0, height), QPointF(size[0], height))
        painter.setPen(QColor(theme.muted))
        last = -1e9
        for x, words in self._numbers(view, size[0]):
            width = self._metrics.horizontalAdvance(words)
            if x - width / 2 > last + self._metrics.averageCharWidth() * 2:
                box = QRectF(x - width, 0, 2 * width, height)
                painter.drawText(box, Qt.AlignmentFlag.AlignCenter, words)
                last = x + width / 2

    def _numbers(self, view: View, width: float) -> list[tuple[float, str]]:
        found = []
        for column, ply in enumerate(self.scene.layout.ply.tolist()):
            x = (column * COLUMN - view.left) * view.across
            if ply % 2 and -20 < x < width + 20:
                found.append((x, str(ply // 2 + 1)))
        return found


def _mixed(paper: str, ink: str, share: float) -> QColor:
    """Ink thinned with paper: a solid colour is drawn several times faster than a sheer one."""
    ground, colour = QColor(paper), QColor(ink)
    return QColor(
        *(
            round(low + (high - low) * share)
            for low, high in zip(ground.getRgb()[:3], colour.getRgb()[:3], strict=True)
        )
    )
