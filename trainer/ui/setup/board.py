"""A board on which pieces are put, moved and taken off without any rule."""

from __future__ import annotations

import chess
from PySide6.QtCore import QEvent, QPoint, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFocusEvent, QKeyEvent, QMouseEvent, QPainter, QPaintEvent
from PySide6.QtWidgets import QApplication, QSizePolicy, QWidget

from trainer.diagram import BoardStyle
from trainer.storage.settings import Settings
from trainer.ui.board.geometry import BoardGeometry
from trainer.ui.board.keyboard import CHOOSE, STEPS, stepped
from trainer.ui.board.moves import spoken_position, spoken_square
from trainer.ui.board.painter import BoardPainter, Scene
from trainer.ui.look import Look

_SMALLEST, _PREFERRED = 220, 520
_TAKES_OFF = frozenset({Qt.Key.Key_Delete, Qt.Key.Key_Backspace})
_LETTERS = frozenset("KQRBNPkqrbnp")


class SetupBoard(QWidget):
    """Shows pieces and says what the player wants done with them; whoever listens does it."""

    put = Signal(int, object)
    """A square, and the `chess.Piece` for it; None takes off what stands there."""
    moved = Signal(int, int)
    """A piece was dragged from a square to another."""
    chosen = Signal(int)
    """A square was clicked, or chosen with Enter or Space: whatever is in hand goes there."""
    carried = Signal(object, object)
    """A `chess.Piece` hangs at the mouse, at this `QPoint` of the screen; None: no more."""

    def __init__(self, settings: Settings, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._settings, self._look = settings, look
        self._flipped = look.flipped
        self._board = chess.Board()
        self._cursor = chess.E4
        self._cursor_seen = False
        self._pressed: tuple[chess.Square, QPoint] | None = None
        self._lifted = False
        self._painter = BoardPainter()
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.setMinimumSize(_SMALLEST, _SMALLEST)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setAccessibleName("Board to set up")
        self._describe()

    # -- what is shown -----------------------------------------------------------------------

    def set_position(self, board: chess.Board) -> None:
        """Show the pieces of a board, which is copied."""
        self._board = board.copy(stack=False)
        self._describe()
        self.update()

    @property
    def flipped(self) -> bool:
        """Whether Black stands at the bottom."""
        return self._flipped

    def set_flipped(self, flipped: bool) -> None:
        """Show Black at the bottom, or White."""
        self._flipped = flipped
        self.update()

    def sizeHint(self) -> QSize:
        return QSize(_PREFERRED, _PREFERRED)

    def geometry_now(self) -> BoardGeometry:
        """Where the squares lie now."""
        return BoardGeometry.fit(
            self.width(),
            self.height(),
            self.devicePixelRatioF(),
            flipped=self._flipped,
            coordinates=True,
            type_scale=self._settings.scale,
        )

    def square_side(self) -> int:
        """The side of a square in logical pixels."""
        geometry = self.geometry_now()
        return max(1, round(geometry.square / geometry.ratio))

    def square_under(self, where: QPoint) -> chess.Square | None:
        """The square at a point of the screen."""
        local = self.mapFromGlobal(where)
        return self.geometry_now().square_at(local.x(), local.y())

    def paintEvent(self, event: QPaintEvent) -> None:
        geometry = self.geometry_now()
        board = self._board
        if self._lifted and self._pressed is not None:
            board = board.copy(stack=False)
            board.remove_piece_at(self._pressed[0])
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(self._look.theme.paper))
        painter.scale(1 / geometry.ratio, 1 / geometry.ratio)
        cursor = self._cursor if self._cursor_seen and self.hasFocus() else None
        self._painter.paint(
            painter,
            event.region(),
            geometry,
            Scene(board, cursor=cursor),
            style=BoardStyle(self._settings.board_style),
            theme=self._look.theme,
            coordinates=True,
        )
        painter.end()

    def _describe(self) -> None:
        here = spoken_square(self._board, self._cursor)
        self.setAccessibleDescription(f"{here}. {spoken_position(self._board, None)}")

    # -- the mouse ---------------------------------------------------------------------------

    def mousePressEvent(self, event: QMouseEvent) -> None:
        square = self.geometry_now().square_at(event.position().x(), event.position().y())
        self._cursor_seen = False
        if square is None or self._pressed is not None:
            return
        self._cursor = square
        if event.button() == Qt.MouseButton.RightButton:
            self.put.emit(square, None)
        elif event.button() == Qt.MouseButton.LeftButton:
            self._pressed = (square, event.globalPosition().toPoint())
        self._describe()
        self.update()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if self._pressed is None:
            return
        square, start = self._pressed
        where = event.globalPosition().toPoint()
        piece = self._board.piece_at(square)
        if piece is None:
            return
        way = (where - start).manhattanLength()
        if not self._lifted and way < QApplication.startDragDistance():
            return
        self._lifted = True
        self.carried.emit(piece, where)
        self.update()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        if event.button() != Qt.MouseButton.LeftButton or self._pressed is None:
            return
        (square, _start), lifted = self._pressed, self._lifted
        self._let_go()
        end = self.square_under(event.globalPosition().toPoint())
        if not lifted:
            if end == square:
                self.chosen.emit(square)
        elif end is None:
            self.put.emit(square, None)
        else:
            self._cursor = end
            self.moved.emit(square, end)

    def _let_go(self) -> None:
        if self._lifted:
            self.carried.emit(None, QPoint())
        self._pressed, self._lifted = None, False
        self.update()

    def hideEvent(self, event: QEvent) -> None:
        self._let_go()
        super().hideEvent(event)

    # -- the keyboard ------------------------------------------------------------------------

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key, text = event.key(), event.text()
        plain = Qt.KeyboardModifier.KeypadModifier | Qt.KeyboardModifier.ShiftModifier
        if event.modifiers() & ~plain:
            super().keyPressEvent(event)
        elif key == Qt.Key.Key_Escape and self._lifted:
            self._let_go()
        elif key in STEPS:
            if self._cursor_seen:  # the first key only shows where the cursor is
                self._cursor = stepped(self.geometry_now(), self._cursor, Qt.Key(key))
            self._see_cursor()
        elif key in _TAKES_OFF:
            self._see_cursor()
            self.put.emit(self._cursor, None)
        elif text in _LETTERS and text:
            self._see_cursor()
            self.put.emit(self._cursor, chess.Piece.from_symbol(text))
        elif key in CHOOSE:
            self._see_cursor()
            self.chosen.emit(self._cursor)
        else:
            super().keyPressEvent(event)

    def _see_cursor(self) -> None:
        self._cursor_seen = True
        self._describe()
        self.update()

    def focusInEvent(self, event: QFocusEvent) -> None:
        if event.reason() in (Qt.FocusReason.TabFocusReason, Qt.FocusReason.BacktabFocusReason):
            self._cursor_seen = True
        self.update()
        super().focusInEvent(event)

    def focusOutEvent(self, event: QFocusEvent) -> None:
        self.update()
        super().focusOutEvent(event)
