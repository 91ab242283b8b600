"""The sheet that shows the plan: pan, zoom, hover, and the keys that walk along the lines."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from PySide6.QtCore import QEvent, QPointF, QRectF, Qt, QTimer, Signal
from PySide6.QtGui import (
    QColor,
    QKeyEvent,
    QMouseEvent,
    QNativeGestureEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QResizeEvent,
    QWheelEvent,
)
from PySide6.QtWidgets import QApplication, QSizePolicy, QWidget

from trainer.ui.look import Look
from trainer.ui.map.hover import HoverCard
from trainer.ui.map.painter import STATIONS_FROM, MapPainter, Marks
from trainer.ui.map.scene import ROW, Scene
from trainer.ui.map.view import View, fitted

_STEP = 1.25  # of one key or one notch of the wheel
_MOST, _LARGEST_FIT = 2.5, 1.2
#: Columns are kept so far apart (pixels to a unit) when rows come closer.
_WIDEST = 0.4
_HOVER_MS = 160
_NEAR_PIXELS = 16.0

_WALKS = {
    Qt.Key.Key_Right: "ahead",
    Qt.Key.Key_Left: "back",
    Qt.Key.Key_Up: "above",
    Qt.Key.Key_Down: "below",
    Qt.Key.Key_Home: "start",
    Qt.Key.Key_F: "fold",
    Qt.Key.Key_Return: "open",
    Qt.Key.Key_Enter: "open",
}


class MapCanvas(QWidget):
    """Shows one scene. It chooses nothing itself: what is asked for is emitted."""

    chosen = Signal(int)
    """A position that was clicked."""
    opened = Signal(int)
    """A position that was clicked twice."""
    asked = Signal(str)
    """A key: `ahead`, `back`, `above`, `below`, `start`, `fold`, `fold all` or `open`."""
    unfolded = Signal(int)
    """A folded position whose count was clicked."""

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._look = look
        self._message = ""
        self._scene: Scene | None = None
        self._painter: MapPainter | None = None
        self._view = View()
        self._unseen = True
        self._marks = Marks()
        self._pressed: QPointF | None = None
        self._dragged_from: QPointF | None = None
        self._hover = HoverCard(self)
        self._under: int | None = None
        self._pointer = QPointF()
        self._waiting = QTimer(self)
        self._waiting.setSingleShot(True)
        self._waiting.setInterval(_HOVER_MS)
        self._waiting.timeout.connect(self._show_card)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(160, 120)
        self.setAccessibleName("Map of the repertoire")

    # -- what is shown -----------------------------------------------------------------------

    @property
    def view(self) -> View:
        """What is on the screen now."""
        return self._view

    @property
    def scene(self) -> Scene | None:
        """The plan that is shown."""
        return self._scene

    def show_message(self, text: str) -> None:
        """Words instead of a plan."""
        self._message = text
        self._scene = self._painter = None
        self._unseen = True
        self._hide_card()
        self.setCursor(Qt.CursorShape.ArrowCursor)
        self.update()

    def set_scene(self, scene: Scene, hold: tuple[int, int] | None = None) -> None:
        """Show a scene; a position stays where it is on the screen.

        `hold` is its number in the scene that is shown now and in the new one.
        """
        before = self._scene
        self._scene, self._painter, self._message = scene, None, ""
        self._hide_card()
        if before is None:
            self._unseen = True
        elif hold is not None:
            old, new = hold
            if before.layout.visible[old] and scene.layout.visible[new]:
                at = self._view.to_screen(*before.point(old))
                self._view = self._view.holding(scene.point(new), *at)
        # The numbers of the marks are those of the scene before.
        self._marks = Marks(None if hold is None else hold[1])
        self._keep_columns_apart()
        self.setCursor(Qt.CursorShape.OpenHandCursor)
        self.update()

    def _keep_columns_apart(self) -> None:
        """Renew what depends on the size of the plan and of the widget; the chosen one stays."""
        if self._scene is None or self._unseen:
            return
        view = replace(self._view, least_across=self._all().least_across)
        chosen = self._marks.chosen
        if chosen is not None and chosen < len(self._scene.layout.visible):
            point = self._scene.point(chosen)
            view = view.holding(point, *self._view.to_screen(*point))
        self._view = view

    def resizeEvent(self, event: QResizeEvent) -> None:
        self._keep_columns_apart()
        super().resizeEvent(event)

    def set_look(self, look: Look) -> None:
        """Draw in another look; the same part of the plan stays on the screen."""
        grown = look.scale / self._look.scale
        self._look = look
        self._painter = None
        self._hide_card()
        self._view = self._view.zoomed(grown, 0.0, 0.0, 0.0, 1e9)
        self.update()

    def set_marks(self, chosen: int | None, found: Sequence[int] = ()) -> None:
        """Ring the chosen position and mark those that a search found."""
        self._marks = Marks(chosen, tuple(found))
        self.update()

    # -- the part that is seen ---------------------------------------------------------------

    def show_all(self) -> None:
        """Fit the whole plan into the widget."""
        if self._scene is not None:
            self._unseen = False
            self._set_view(self._all())

    def zoom(self, factor: float, at: QPointF | None = None) -> None:
        """Enlarge by `factor`; the point `at` (the middle if None) stays where it is."""
        if self._scene is None:
            return
        at = QPointF(self.width() / 2, self.height() / 2) if at is None else at
        scale = self._look.scale
        least = min(self._all().zoom * 0.8, scale)
        self._set_view(self._view.zoomed(factor, at.x(), at.y(), least, _MOST * scale))

    def reveal(self, number: int) -> None:
        """Bring a position on the screen, with some of the plan around it."""
        if self._scene is None or not self._scene.layout.visible[number]:
            return
        self._first_look()
        point = self._scene.point(number)
        x, y = self._view.to_screen(*point)
        side, top = min(self.width() * 0.2, 180.0), min(self.height() * 0.2, 120.0)
        inner_x = min(max(x, side), self.width() - side)
        inner_y = min(max(y, top), self.height() - top)
        if (inner_x, inner_y) != (x, y):
            self._set_view(self._view.holding(point, inner_x, inner_y))

    def come_close(self) -> None:
        """Enlarge to where stations are told apart, if they are not."""
        row = self._view.zoom * ROW / self._look.scale
        if row < STATIONS_FROM:
            self.zoom((STATIONS_FROM + 1) / row)

    def _all(self) -> View:
        assert self._scene is not None
        head = self._head()
        fit = fitted(
            self._scene.bounds,
            self.width(),
            max(1.0, self.height() - head),
            _LARGEST_FIT * self._look.scale,
            _WIDEST * self._look.scale,
        )
        return fit.moved(0.0, head)

    def _head(self) -> float:
        return self._made_painter().header_height

    def _first_look(self) -> None:
        """At first all of a small plan, the beginning of a large one."""
        if not self._unseen or self._scene is None:
            return
        self._unseen = False
        self._view = self._all()
        least = (STATIONS_FROM + 1) * self._look.scale / ROW
        if self._view.zoom < least and len(self._scene.shown):
            start = int(self._scene.plan.arrays.roots[0])
            point = self._scene.point(start)
            middle = (self.height() + self._head()) / 2
            view = replace(self._view, zoom=least)
            self._view = view.holding(point, 60 * self._look.scale, middle)

    def _set_view(self, view: View) -> None:
        """Show a part of the plan, some of which stays on the screen."""
        assert self._scene is not None
        left, top, wide, high = self._scene.bounds
        # At least a quarter of the widget, or all of a smaller plan, shows some of the plan.
        width, height = self.width() / view.across, self.height() / view.zoom
        margin_x, margin_y = max(width * 0.75, width - wide), max(height * 0.75, height - high)
        view = replace(
            view,
            left=min(max(view.left, left - margin_x), left + wide - width + margin_x),
            top=min(max(view.top, top - margin_y), top + high - height + margin_y),
        )
        if view != self._view:
            self._view = view
            self._hide_card()
            self.update()

    # -- painting ----------------------------------------------------------------------------

    def _made_painter(self) -> MapPainter:
        assert self._scene is not None
        if self._painter is None:
            self._painter = MapPainter(self._scene, self._look, self.font())
        return self._painter

    def paintEvent(self, _event: QPaintEvent) -> None:
        painter = QPainter(self)
        theme = self._look.theme
        painter.fillRect(self.rect(), QColor(theme.paper))
        if self._scene is None:
            painter.setPen(QColor(theme.muted))
            flags = Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap
            painter.drawText(self.rect().adjusted(20, 20, -20, -20), flags, self._message)
        else:
            self._first_look()
            size = (float(self.width()), float(self.height()))
            self._made_painter().paint(painter, self._view, size, self._marks)
        frame, width = (theme.ink, 2.0) if self.hasFocus() else (theme.line, 1.0)
        painter.setPen(QPen(QColor(frame), width * self._look.scale))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(QRectF(self.rect()).adjusted(0.5, 0.5, -0.5, -0.5))
        painter.end()

    def changeEvent(self, event: QEvent) -> None:
        if event.type() in (QEvent.Type.FontChange, QEvent.Type.StyleChange):
            self._painter = None
        super().changeEvent(event)

    def focusInEvent(self, event: QEvent) -> None:
        self.update()
        super().focusInEvent(event)

    def focusOutEvent(self, event: QEvent) -> None:
        self.update()
        super().focusOutEvent(event)

    # -- mouse and pinch ---------------------------------------------------------------------

    def at(self, position: QPointF) -> int | None:
        """The position of the repertoire under a point of the widget."""
        if self._scene is None or position.y() < self._head():
            return None
        radius = _NEAR_PIXELS * self._look.scale
        return self._scene.nearest(self._view, position.x(), position.y(), radius)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.button() == Qt.MouseButton.LeftButton and self._scene is not None:
            self._pressed = event.position()
            self._hide_card()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        position = event.position()
        if self._pressed is None:
            self._hover_over(position)
            return
        if self._dragged_from is None:
            way = (position - self._pressed).manhattanLength()
            if way < QApplication.startDragDistance():
                return
            self._dragged_from = self._pressed
            self.setCursor(Qt.CursorShape.ClosedHandCursor)
        step = position - self._dragged_from
        self._dragged_from = position
        self._set_view(self._view.moved(step.x(), step.y()))

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        if event.button() != Qt.MouseButton.LeftButton or self._pressed is None:
            return
        dragged = self._dragged_from is not None
        self._pressed = self._dragged_from = None
        self.setCursor(Qt.CursorShape.OpenHandCursor)
        if dragged:
            return
        stub = self._stub_at(event.position())
        number = self.at(event.position())
        if stub is not None:
            self.unfolded.emit(stub)
        elif number is not None:
            self.chosen.emit(number)

    def _stub_at(self, position: QPointF) -> int | None:
        """The folded position whose count is under a point of the widget."""
        scene = self._scene
        if scene is None or position.y() < self._head():
            return None
        painter = self._made_painter()
        if not painter.counts_shown(self._view):
            return None
        for number in scene.shown[scene.layout.folded[scene.shown]].tolist():
            if painter.stub_box(self._view, number).contains(position):
                return number
        return None

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        number = self.at(event.position())
        if event.button() == Qt.MouseButton.LeftButton and number is not None:
            self.opened.emit(number)

    def wheelEvent(self, event: QWheelEvent) -> None:
        notches = event.angleDelta().y() / 120
        if notches:
            self.zoom(_STEP**notches, event.position())
        event.accept()

    def event(self, event: QEvent) -> bool:
        if (
            isinstance(event, QNativeGestureEvent)
            and event.gestureType() == Qt.NativeGestureType.ZoomNativeGesture
        ):
            self.zoom(1.0 + event.value(), event.position())
            return True
        return super().event(event)

    def leaveEvent(self, _event: QEvent) -> None:
        self._hide_card()

    # -- the small diagram -------------------------------------------------------------------

    def _hover_over(self, position: QPointF) -> None:
        number = self.at(position)
        self._pointer = position
        if number != self._under:
            self._hide_card()
            self._under = number
            if number is not None:
                self._waiting.start()

    def _show_card(self) -> None:
        if self._under is not None and self._scene is not None:
            self._hover.show_position(self._scene.plan, self._under, self._look, self._pointer)

    def _hide_card(self) -> None:
        self._waiting.stop()
        self._under = None
        self._hover.hide()

    # -- keys --------------------------------------------------------------------------------

    def keyPressEvent(self, event: QKeyEvent) -> None:
        modifiers = event.modifiers() & ~(
            Qt.KeyboardModifier.KeypadModifier | Qt.KeyboardModifier.ShiftModifier
        )
        key = Qt.Key(event.key())
        if self._scene is None or modifiers:
            super().keyPressEvent(event)
        elif key == Qt.Key.Key_F and event.modifiers() & Qt.KeyboardModifier.ShiftModifier:
            self.asked.emit("fold all")
        elif key in _WALKS:
            self.asked.emit(_WALKS[key])
        elif event.text() in ("+", "="):
            self.zoom(_STEP)
        elif event.text() in ("-", "−"):
            self.zoom(1 / _STEP)
        elif event.text() == "0":
            self.show_all()
        else:
            super().keyPressEvent(event)
