"""A game as one railway line: in known lines it runs on the main track, else on a siding."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QFont,
    QFontMetricsF,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPainterPath,
    QPaintEvent,
    QPen,
    QResizeEvent,
)
from PySide6.QtWidgets import QFrame, QScrollArea, QSizePolicy, QWidget

from trainer.games.departures import Step
from trainer.ui.look import Look
from trainer.ui.theme import system_sans, system_serif

if TYPE_CHECKING:
    from trainer.games.departures import Walk

_STEP: Final = 21.0
_EDGE: Final = 14.0
_SIDING: Final = 30.0
_RADIUS: Final = 4.5
_KEYS: Final = {
    Qt.Key.Key_Left: -1,
    Qt.Key.Key_Up: -1,
    Qt.Key.Key_Right: 1,
    Qt.Key.Key_Down: 1,
    Qt.Key.Key_PageUp: -10,
    Qt.Key.Key_PageDown: 10,
    Qt.Key.Key_Home: -10_000,
    Qt.Key.Key_End: 10_000,
}


@dataclass(frozen=True)
class Line:
    """What the ribbon draws of a game: the words of its moves, and which of them are known.

    `known` (n + 1) tells of each position; `marks` are the half-moves that left or came back,
    with a word for each.
    """

    words: tuple[str, ...]
    white: tuple[bool, ...]
    known: tuple[bool, ...]
    crossed: frozenset[int]
    marks: dict[int, str]

    def mark(self, ply: int) -> str:
        """The word at a half-move, or nothing."""
        return self.marks.get(ply) or ("other order" if ply in self.crossed else "")

    @classmethod
    def of(cls, walk: Walk, words: tuple[str, ...]) -> Line:
        """The line of a game whose moves are already in words."""
        game = walk.game
        marks = {entry.ply: "back" for entry in walk.reentries}
        for departure in walk.departures:
            mover = "White" if game.mover(departure.ply) else "Black"
            who = "you" if departure.by == "player" and walk.named else mover
            marks[departure.ply] = "line ended" if departure.at_line_end else f"{who} left"
        return cls(
            words=words,
            white=tuple(game.mover(ply) for ply in range(1, game.plies + 1)),
            known=tuple(walk.known_at(ply) for ply in range(game.plies + 1)),
            crossed=frozenset(
                ply for ply, step in enumerate(walk.steps, start=1) if step == Step.CROSSED
            ),
            marks=marks,
        )


# Looked up here: the first time Qt makes a class of them, which takes a millisecond each.
_FLAT, _ROUND = Qt.PenCapStyle.FlatCap, Qt.PenCapStyle.RoundCap
_ANTIALIASING = QPainter.RenderHint.Antialiasing
_ELIDE = Qt.TextElideMode.ElideRight


class RibbonStrip(QWidget):
    """Draws the line from top to bottom; a press on a move goes there."""

    chosen = Signal(int)

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._look = look
        self._line: Line | None = None
        self._ply = 0
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def set_look(self, look: Look) -> None:
        """Draw in another look."""
        self._look = look
        self._fit()

    def show_line(self, line: Line | None) -> None:
        """Show another game, or nothing."""
        self._line = line
        self._ply = 0
        self._fit()

    def show_ply(self, ply: int) -> None:
        """Mark the position after `ply` half-moves."""
        self._ply = ply
        self.update()

    def _font(self, *, bold: bool = False) -> QFont:
        font = QFont(system_sans())
        font.setPointSizeF(10.0 * self._look.scale)
        font.setBold(bold)
        return font

    def _italic(self) -> QFont:
        font = QFont(system_serif())
        font.setItalic(True)
        font.setPointSizeF(10.0 * self._look.scale)
        return font

    def wanted_width(self) -> int:
        """The width at which no word is cut."""
        line, scale = self._line, self._look.scale
        if line is None:
            return 0
        words, marks = QFontMetricsF(self._font(bold=True)), QFontMetricsF(self._italic())
        widest = 0.0
        for ply, word in enumerate(line.words, start=1):
            mark = line.mark(ply)
            more = marks.horizontalAdvance(mark) + 8 * scale if mark else 0.0
            widest = max(widest, words.horizontalAdvance(word) + more)
        return round((_SIDING + 22) * scale + widest)

    def _fit(self) -> None:
        plies = 0 if self._line is None else len(self._line.words)
        self.setFixedHeight(round((2 * _EDGE + plies * _STEP) * self._look.scale))
        self.update()

    def y_of(self, ply: int) -> float:
        """Where the position after `ply` half-moves stands."""
        return (_EDGE + ply * _STEP) * self._look.scale

    def _x(self, known: bool) -> float:
        return (_EDGE if known else _SIDING) * self._look.scale

    def ply_at(self, y: float) -> int:
        """The half-move whose station is nearest."""
        assert self._line is not None
        ply = round((y / self._look.scale - _EDGE) / _STEP)
        return max(0, min(ply, len(self._line.words)))

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if self._line is not None:
            self.chosen.emit(self.ply_at(event.position().y()))

    def sizeHint(self) -> QSize:
        return QSize(round(190 * self._look.scale), self.height())

    # -- painting ----------------------------------------------------------------------------

    def paintEvent(self, event: QPaintEvent) -> None:
        line = self._line
        if line is None:
            return
        painter = QPainter(self)
        painter.setRenderHint(_ANTIALIASING)
        first = max(0, self.ply_at(event.rect().top()) - 1)
        last = min(len(line.words), self.ply_at(event.rect().bottom()) + 1)
        for ply in range(max(1, first), last + 1):
            self._paint_track(painter, line, ply)
        for ply in range(first, last + 1):
            self._paint_station(painter, line, ply)
            self._paint_words(painter, line, ply)
        painter.end()

    def _paint_track(self, painter: QPainter, line: Line, ply: int) -> None:
        theme, scale = self._look.theme, self._look.scale
        known = line.known[ply - 1] and line.known[ply]
        start = QPointF(self._x(line.known[ply - 1]), self.y_of(ply - 1))
        end = QPointF(self._x(line.known[ply]), self.y_of(ply))
        pen = QPen(QColor(theme.ink if known else theme.muted), (4.0 if known else 1.4) * scale)
        pen.setCapStyle(_ROUND if known else _FLAT)
        if not known:
            pen.setDashPattern([3.0, 2.5])
        path = QPainterPath(start)
        if start.x() == end.x():
            path.lineTo(end)
        else:
            bend = (end.y() - start.y()) / 2
            path.cubicTo(QPointF(start.x(), start.y() + bend), QPointF(end.x(), start.y()), end)
        painter.strokePath(path, pen)

    def _paint_station(self, painter: QPainter, line: Line, ply: int) -> None:
        theme, scale = self._look.theme, self._look.scale
        centre = QPointF(self._x(line.known[ply]), self.y_of(ply))
        if ply == self._ply:
            side = 2.2 * _RADIUS * scale
            painter.setBrush(QColor(theme.ink))
            painter.setPen(QPen(QColor(theme.paper), 1.6 * scale))
            painter.drawRect(QRectF(centre.x() - side / 2, centre.y() - side / 2, side, side))
            return
        mark = ply in line.marks or ply in line.crossed
        if line.known[ply] and not mark:
            # A station of the main track: a tick towards its name.
            painter.setPen(QPen(QColor(theme.ink), 2.0 * scale))
            painter.drawLine(centre, centre + QPointF(7.5 * scale, 0))
            return
        radius = (1.15 * _RADIUS if mark else 0.5 * _RADIUS) * scale
        painter.setPen(QPen(QColor(theme.ink), 1.6 * scale))
        painter.setBrush(QColor(theme.paper if mark else theme.ink))
        if ply in line.crossed:
            painter.drawPolygon(
                [
                    centre + QPointF(0, -radius),
                    centre + QPointF(radius, 0),
                    centre + QPointF(0, radius),
                    centre + QPointF(-radius, 0),
                ]
            )
        else:
            painter.drawEllipse(centre, radius, radius)

    def _paint_words(self, painter: QPainter, line: Line, ply: int) -> None:
        if ply == 0:
            return
        theme, scale = self._look.theme, self._look.scale
        font = self._font(bold=ply == self._ply)
        metrics = QFontMetricsF(font)
        painter.setFont(font)
        painter.setPen(QColor(theme.ink if line.known[ply] else theme.muted))
        x = (_SIDING + 14) * scale
        base = self.y_of(ply) + metrics.capHeight() / 2
        word = line.words[ply - 1]
        painter.drawText(QPointF(x, base), word)
        mark = line.mark(ply)
        if mark:
            x += metrics.horizontalAdvance(word) + 8 * scale
            italic = self._italic()
            room = max(0.0, self.width() - x)
            said = QFontMetricsF(italic).elidedText(mark, _ELIDE, room)
            painter.setFont(italic)
            painter.setPen(QColor(theme.ink))
            painter.drawText(QPointF(x, base), said)


class Ribbon(QScrollArea):
    """The strip where it scrolls by itself; the arrow keys walk through the game."""

    #: The half-move to go to.
    wanted = Signal(int)

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.strip = RibbonStrip(look)
        self._line: Line | None = None
        self.ply = 0
        self.setWidget(self.strip)
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.StyledPanel)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName("The game, move by move")
        self.strip.chosen.connect(self._pressed)

    def set_look(self, look: Look) -> None:
        """Draw in another look."""
        self.strip.set_look(look)
        theme = look.theme
        # Of one width with and without the keys, so that nothing moves.
        line = max(2, round(2 * look.scale))
        self.setStyleSheet(
            f"""Ribbon {{ border: {line}px solid {theme.line}; background: {theme.paper}; }}
            Ribbon:focus {{ border-color: {theme.ink}; }}"""
        )

    def show_line(self, line: Line | None) -> None:
        """Show another game."""
        self._line = line
        self.ply = 0
        self.strip.show_line(line)

    def add_marks(self, marks: dict[int, str]) -> None:
        """Say more about some half-moves of the game shown, behind what is said already."""
        line = self._line
        if line is None:
            return
        said = dict(line.marks)
        for ply, mark in marks.items():
            before = said.get(ply, "")
            if mark not in before:
                said[ply] = f"{before}, {mark}" if before else mark
        if said != line.marks:
            ply = self.ply
            self.show_line(replace(line, marks=said))
            self.show_ply(ply)
            self.updateGeometry()

    def wanted_width(self) -> int:
        """The width at which no word is cut, with the bar that scrolls."""
        return self.strip.wanted_width() + self.verticalScrollBar().sizeHint().width() + 6

    def show_ply(self, ply: int) -> None:
        """Mark a half-move and bring it into view."""
        self.ply = ply
        self.strip.show_ply(ply)
        self._come_into_view()
        self._describe()

    def _come_into_view(self) -> None:
        margin = self.viewport().height() // 4
        self.ensureVisible(0, round(self.strip.y_of(self.ply)), 0, margin)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._come_into_view()

    def _describe(self) -> None:
        line = self._line
        if line is None:
            self.setAccessibleDescription("")
            return
        where = line.words[self.ply - 1] if self.ply else "before the first move"
        known = "known" if line.known[self.ply] else "not known"
        mark = line.marks.get(self.ply, "")
        self.setAccessibleDescription(", ".join(text for text in (where, known, mark) if text))

    def _pressed(self, ply: int) -> None:
        self.setFocus()
        self.wanted.emit(ply)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        step = _KEYS.get(Qt.Key(event.key()))
        if step is None or event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier:
            event.ignore()
        else:
            self.wanted.emit(self.ply + step)
