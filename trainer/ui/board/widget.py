"""The board widget: shows the position it is given and emits the moves that are made on it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import chess
from PySide6.QtCore import QEvent, QPointF, QRect, QSize, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QFocusEvent,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QRegion,
)
from PySide6.QtWidgets import QApplication, QSizePolicy, QWidget

from trainer.diagram import BoardStyle
from trainer.ui.board.geometry import BoardGeometry
from trainer.ui.board.hand import Hand, IllegalAttempt, Outcome
from trainer.ui.board.keyboard import CHOOSE, STEPS, stepped
from trainer.ui.board.motion import Motion
from trainer.ui.board.moves import (
    Transition,
    changed_squares,
    spoken_position,
    spoken_square,
    transition,
)
from trainer.ui.board.painter import BoardPainter, Scene
from trainer.ui.board.promotion import choice_for_key
from trainer.ui.theme import LIGHT, Theme

_SMALLEST, _PREFERRED = 200, 640


class BoardWidget(QWidget):
    """A chess board that takes moves by dragging, by two clicks and from the keyboard.

    It is a view: a move that is made is emitted and not played; whoever listens answers with
    `set_position`. Until then the old position stays. Legality comes from python-chess.
    """

    move_made = Signal(object)
    """A legal `chess.Move`, with its promotion piece."""
    illegal_attempt = Signal(int, int)
    """The two squares of a move that is not legal."""
    square_chosen = Signal(int)
    """A square that was clicked, or chosen with Enter or Space, whatever it led to."""

    def __init__(self, parent: QWidget | None = None, theme: Theme = LIGHT) -> None:
        super().__init__(parent)
        self._theme = theme
        self._style = BoardStyle.HATCHED
        self._flipped = False
        self._coordinates = True
        self._type_scale = 1.0
        self._show_targets = False
        self._reduced_motion = False
        self._board = chess.Board()
        self._last_move: chess.Move | None = None
        self._hint: tuple[chess.Square | None, chess.Square | None] = (None, None)
        self._marks: tuple[chess.Square, ...] = ()
        self._arrows: tuple[tuple[chess.Square, chess.Square], ...] = ()
        self._cursor = chess.E2
        self._cursor_seen = False
        self._pressed: tuple[chess.Square, QPointF, bool] | None = None
        self._pointer: QPointF | None = None
        self._dropped_on: chess.Square | None = None
        self._hand = Hand()
        self._hand.set_board(self._board)
        self._painter = BoardPainter()
        self._motion = Motion(self)
        self._motion.stepped.connect(self._repaint_motion)
        self._motion_rects: list[QRect] = []
        self._geometry: BoardGeometry | None = None
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.setMinimumSize(_SMALLEST, _SMALLEST)
        policy = QSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)
        self.setAccessibleName("Chess board")
        self._describe()

    # What is shown

    def set_position(
        self,
        board: chess.Board,
        last_move: chess.Move | None = None,
        animate: bool = False,
    ) -> None:
        """Show a position; the board is copied.

        What ran or was held before ends at once. With `animate` the pieces that differ glide to
        their squares, except the one that the player has just dropped there. Hint and arrows
        stay until they are set anew.
        """
        self._motion.finish()
        self._release()
        old, new = self._board, board.copy(stack=False)
        squares = changed_squares(old, new)
        for move in (self._last_move, last_move):
            if move is not None:
                squares.add(move.from_square)
                squares.add(move.to_square)
        self._board, self._last_move = new, last_move or None
        self._hand.set_board(new)
        self._touch(squares)
        self._describe()
        if animate and not self._reduced_motion and self.isVisible():
            self._animate(transition(old, new))

    def _animate(self, change: Transition) -> None:
        glides = tuple(glide for glide in change.glides if glide.end != self._dropped_on)
        if glides:
            self._motion.start(Transition(glides, change.taken))

    @property
    def board(self) -> chess.Board:
        """A copy of the position that is shown."""
        return self._board.copy(stack=False)

    @property
    def last_move(self) -> chess.Move | None:
        """The move whose squares are marked."""
        return self._last_move

    @property
    def choosing_promotion(self) -> bool:
        """Whether a promotion piece is being chosen, so that letters belong to the board."""
        return self._hand.promotion is not None

    def set_flipped(self, flipped: bool) -> None:
        """Show Black at the bottom (True) or White."""
        self._flipped = flipped
        self._renew()

    def set_style(self, style: BoardStyle) -> None:
        """Choose hatched or plain dark squares."""
        self._style = BoardStyle(style)
        self._renew()

    def set_theme(self, theme: Theme) -> None:
        """Choose the colours."""
        self._theme = theme
        self._renew()

    def set_coordinates(self, shown: bool) -> None:
        """Show or hide the letters and figures beside the board."""
        self._coordinates = shown
        self._renew()

    def set_type_scale(self, scale: float) -> None:
        """Draw the coordinates larger (1.0 is 100 %)."""
        self._type_scale = scale
        self._renew()

    def set_show_targets(self, shown: bool) -> None:
        """Mark the squares that a piece in hand may go to, or do not."""
        self._show_targets = shown
        self.update()

    def set_hint(
        self, piece_square: chess.Square | None, target_square: chess.Square | None = None
    ) -> None:
        """Ring the piece that is to move, then also the square where it is to go; None hides."""
        self._hint = (piece_square, target_square)
        self.update()

    def set_marks(self, squares: Iterable[chess.Square]) -> None:
        """Ring these squares."""
        self._marks = tuple(squares)
        self.update()

    def set_arrows(self, arrows: Sequence[tuple[chess.Square, chess.Square]]) -> None:
        """Show arrows from square to square, numbered when there are several."""
        self._arrows = tuple((start, end) for start, end in arrows if start != end)
        self.update()

    def set_reduced_motion(self, reduced: bool) -> None:
        """Let pieces jump instead of glide."""
        self._reduced_motion = reduced
        if reduced:
            self._motion.finish()

    @property
    def interactive(self) -> bool:
        """Whether the player may move pieces."""
        return self._hand.active

    def set_interactive(self, interactive: bool, color: chess.Color | None = None) -> None:
        """Let the player move the pieces of `color` (None: of the side to move), or nothing."""
        self._hand.allow(interactive, color)
        if not interactive:
            self._release()
        self.update()

    # Size

    def sizeHint(self) -> QSize:
        return QSize(_PREFERRED, _PREFERRED)

    def hasHeightForWidth(self) -> bool:
        return True

    def heightForWidth(self, width: int) -> int:
        return width

    def geometry_now(self) -> BoardGeometry:
        """Return where the squares lie at the present size, scale and side."""
        ratio = self.devicePixelRatioF()
        known = self._geometry
        if known is None or known.ratio != ratio:
            known = self._geometry = BoardGeometry.fit(
                self.width(),
                self.height(),
                ratio,
                flipped=self._flipped,
                coordinates=self._coordinates,
                type_scale=self._type_scale,
            )
        return known

    def resizeEvent(self, _event: QEvent) -> None:
        self._renew()

    # Painting

    def paintEvent(self, event: QPaintEvent) -> None:
        geometry = self.geometry_now()
        painter = QPainter(self)
        self._paint_surround(painter, event.region(), geometry)
        painter.scale(1 / geometry.ratio, 1 / geometry.ratio)
        self._painter.paint(
            painter,
            event.region(),
            geometry,
            self._scene(geometry),
            style=self._style,
            theme=self._theme,
            coordinates=self._coordinates,
        )
        painter.end()

    def prepare(self) -> Iterator[None]:
        """Draw board and pieces for the present size, a little each step; nothing is painted.

        The first painting would take some 20 ms otherwise.
        """
        return self._painter.prepare(
            self.geometry_now(),
            style=self._style,
            theme=self._theme,
            coordinates=self._coordinates,
        )

    def _paint_surround(self, painter: QPainter, region: QRegion, geometry: BoardGeometry) -> None:
        x, y, width, height = geometry.logical_rect(geometry.block)
        covered = QRegion(x + 1, y + 1, width - 2, height - 2)
        for rect in region.subtracted(covered):
            painter.fillRect(rect, QColor(self._theme.paper))

    def _scene(self, geometry: BoardGeometry) -> Scene:
        hand, held = self._hand, None
        if self._pointer is not None and hand.selected is not None:
            x, y = self._pointer.x() * geometry.ratio, self._pointer.y() * geometry.ratio
            held = (hand.selected, x, y)
        return Scene(
            board=self._board,
            last_move=self._last_move,
            selected=hand.selected,
            targets=hand.targets() if self._show_targets else frozenset(),
            hint=self._hint,
            marks=self._marks,
            arrows=self._arrows,
            cursor=self._cursor if self._cursor_seen and self.hasFocus() else None,
            held=held,
            promotion=hand.promotion,
            transition=self._motion.transition,
            progress=self._motion.progress,
        )

    def _renew(self) -> None:
        self._geometry = None
        self.update()

    def _square_rect(self, square: chess.Square) -> QRect:
        geometry = self.geometry_now()
        return QRect(*geometry.logical_rect(geometry.rect(square))).adjusted(-1, -1, 1, 1)

    def _touch(self, squares: Iterable[chess.Square]) -> None:
        """Ask for a repaint of some squares, or of all when strokes may lie across them."""
        if self._arrows or self._show_targets:
            self.update()
            return
        region = QRegion()
        for square in squares:
            region += self._square_rect(square)
        self.update(region)

    def _repaint_motion(self) -> None:
        """Repaint where the gliding pieces were and are, and where a taken piece still stands."""
        rects = [self._square_rect(square) for square, _ in self._motion.transition.taken]
        for glide in self._motion.transition.glides:
            start, end = self._square_rect(glide.start), self._square_rect(glide.end)
            offset = end.topLeft() - start.topLeft()
            rects.append(start.translated(offset * self._motion.progress).adjusted(-1, -1, 1, 1))
            rects.append(end)
        for rect in (*self._motion_rects, *rects):
            self.update(rect)
        self._motion_rects = rects

    def _describe(self, cursor: str = "") -> None:
        text = spoken_position(self._board, self._last_move)
        self.setAccessibleDescription(f"{cursor}. {text}" if cursor else text)

    # The player's hand

    def _release(self) -> bool:
        """Let go of all that is held; return whether anything was."""
        self._pressed = self._pointer = None
        held = self._hand.release()
        if held:
            self.update()
        return held

    def _settle(self, outcome: Outcome, dropped: bool = False) -> None:
        """Tell what an action led to."""
        self.update()
        if isinstance(outcome, IllegalAttempt):
            self.illegal_attempt.emit(outcome.start, outcome.end)
        elif outcome is not None:
            self._dropped_on = outcome.to_square if dropped else None
            self.move_made.emit(outcome)
            self._dropped_on = None

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.button() != Qt.MouseButton.LeftButton:
            self._release()
            return
        self._cursor_seen = False
        position, geometry = event.position(), self.geometry_now()
        if self._hand.promotion is not None:
            choice = self._hand.promotion.choice_at(geometry, position.x(), position.y())
            if choice is None:
                self._release()
            else:
                self._settle(self._hand.promote(choice))
            return
        square = geometry.square_at(position.x(), position.y())
        if square is None:
            self._release()
            return
        self._cursor = square
        was_selected = self._hand.selected == square
        if not was_selected:
            self._settle(self._hand.choose(square))
        if self._hand.selected == square:
            self._pressed = (square, position, was_selected)
        self.update()
        self.square_chosen.emit(square)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if self._pressed is None:
            return
        position = event.position()
        if self._pointer is None:
            way = (position - self._pressed[1]).manhattanLength()
            if way < QApplication.startDragDistance():
                return
            self.update(self._square_rect(self._pressed[0]))
        else:
            self.update(self._held_rect(self._pointer))
        self._pointer = position
        self.update(self._held_rect(position))

    def _held_rect(self, pointer: QPointF) -> QRect:
        side = int(self.geometry_now().square / self.geometry_now().ratio) + 4
        return QRect(int(pointer.x()) - side // 2, int(pointer.y()) - side // 2, side, side)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        if event.button() != Qt.MouseButton.LeftButton or self._pressed is None:
            return
        start, _, was_selected = self._pressed
        dragged = self._pointer is not None
        self._pressed = self._pointer = None
        position = event.position()
        end = self.geometry_now().square_at(position.x(), position.y())
        if dragged and end is None:
            self._release()
        elif dragged and end is not None:
            self._settle(self._hand.put(end), dropped=True)
        elif was_selected and end == start:
            self._release()
        self.update()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier:
            super().keyPressEvent(event)
        elif self._hand.promotion is not None:
            self._promotion_key(event)
        elif event.key() in STEPS:
            self._step_cursor(Qt.Key(event.key()))
        elif event.key() in CHOOSE and self._cursor_seen:
            self._choose_by_key(event)
        elif event.key() != Qt.Key.Key_Escape or not self._release():
            super().keyPressEvent(event)

    def _step_cursor(self, key: Qt.Key) -> None:
        # The first key only shows where the cursor is.
        if self._cursor_seen:
            self._cursor = stepped(self.geometry_now(), self._cursor, key)
        self._cursor_seen = True
        self._describe(spoken_square(self._board, self._cursor))
        self.update()

    def _choose_by_key(self, event: QKeyEvent) -> None:
        if self._hand.active:
            self._settle(self._hand.choose(self._cursor))
        else:
            event.ignore()  # Enter and Space may mean something to the window then
        self.square_chosen.emit(self._cursor)

    def _promotion_key(self, event: QKeyEvent) -> None:
        promotion = self._hand.promotion
        assert promotion is not None
        letter = choice_for_key(event.text())
        if event.key() == Qt.Key.Key_Escape:
            self._release()
        elif letter is not None:
            self._settle(self._hand.promote(letter))
        elif event.key() in CHOOSE:
            self._settle(self._hand.promote(promotion.choice))
        elif event.key() in STEPS:
            across, down = STEPS[Qt.Key(event.key())]
            self._hand.promotion = promotion.moved(across + down)
            self.update()
        else:
            super().keyPressEvent(event)

    def focusInEvent(self, event: QFocusEvent) -> None:
        if event.reason() in (Qt.FocusReason.TabFocusReason, Qt.FocusReason.BacktabFocusReason):
            self._cursor_seen = True
        self.update()
        super().focusInEvent(event)

    def focusOutEvent(self, event: QFocusEvent) -> None:
        self.update()
        super().focusOutEvent(event)
