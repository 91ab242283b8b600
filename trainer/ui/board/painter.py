"""Paints a board and all that lies on it, in device pixels, from cached pixmaps."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import chess
from PySide6.QtCore import QRect
from PySide6.QtGui import QPainter, QRegion

from trainer.diagram import BoardStyle
from trainer.ui.board import strokes
from trainer.ui.board.geometry import BoardGeometry
from trainer.ui.board.ground import Ground
from trainer.ui.board.moves import STILL, Transition
from trainer.ui.board.pieces import shared_pieces
from trainer.ui.board.promotion import Promotion, paint_promotion
from trainer.ui.theme import Theme


@dataclass(frozen=True)
class Scene:
    """Everything that is to be seen. `held` is the piece that hangs at the mouse: its square and
    the pointer in device pixels. `progress` runs from 0 to 1 along the `transition`.
    """

    board: chess.Board
    last_move: chess.Move | None = None
    selected: chess.Square | None = None
    targets: frozenset[chess.Square] = frozenset()
    hint: tuple[chess.Square | None, chess.Square | None] = (None, None)
    #: Squares with a ring.
    marks: tuple[chess.Square, ...] = ()
    arrows: tuple[tuple[chess.Square, chess.Square], ...] = ()
    cursor: chess.Square | None = None
    held: tuple[chess.Square, float, float] | None = None
    promotion: Promotion | None = None
    transition: Transition = STILL
    progress: float = 1.0


class BoardPainter:
    """Owns the caches; paints a `Scene`."""

    def __init__(self) -> None:
        self._ground = Ground()
        self._pieces = shared_pieces()

    def paint(
        self,
        painter: QPainter,
        region: QRegion,
        geometry: BoardGeometry,
        scene: Scene,
        *,
        style: BoardStyle,
        theme: Theme,
        coordinates: bool,
    ) -> None:
        """Paint the scene. `painter` is set to device pixels, `region` is in logical ones."""
        x, y, _, _ = geometry.block
        ground = self._ground.pixmap(geometry, style, theme, coordinates=coordinates)
        painter.drawPixmap(x, y, ground)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        if scene.selected is not None:
            strokes.paint_selected(painter, geometry, theme, scene.selected)
        if scene.last_move is not None:
            strokes.paint_last_move(painter, geometry, theme, scene.last_move)
        self._paint_pieces(painter, region, geometry, scene, theme)
        for square in scene.targets:
            taken = scene.board.piece_at(square) is not None
            strokes.paint_target(painter, geometry, theme, square, taken)
        for square in scene.marks:
            strokes.paint_hint(painter, geometry, theme, square, goal=False)
        piece_hint, goal_hint = scene.hint
        if piece_hint is not None:
            strokes.paint_hint(painter, geometry, theme, piece_hint, goal=False)
        if goal_hint is not None:
            strokes.paint_hint(painter, geometry, theme, goal_hint, goal=True)
        strokes.paint_arrows(painter, geometry, theme, scene.arrows)
        if scene.cursor is not None:
            strokes.paint_cursor(painter, geometry, theme, scene.cursor)
        self._paint_moving(painter, geometry, scene, theme)
        if scene.promotion is not None:
            paint_promotion(painter, geometry, theme, self._pieces, scene.promotion)

    def prepare(
        self, geometry: BoardGeometry, *, style: BoardStyle, theme: Theme, coordinates: bool
    ) -> Iterator[None]:
        """Draw what `paint` puts in place, one drawing a step, where that was not done yet."""
        self._ground.pixmap(geometry, style, theme, coordinates=coordinates)
        yield from self._pieces.draw(geometry.square, theme.piece_paper)

    def _paint_pieces(
        self,
        painter: QPainter,
        region: QRegion,
        geometry: BoardGeometry,
        scene: Scene,
        theme: Theme,
    ) -> None:
        standing = scene.board.piece_map()
        for glide in scene.transition.glides:
            standing.pop(glide.end, None)
        # A taken piece stays until the piece that takes it has arrived.
        standing.update(dict(scene.transition.taken))
        if scene.held is not None:
            standing.pop(scene.held[0], None)
        if scene.promotion is not None:
            pawn = standing.pop(scene.promotion.start, None)
            if pawn is not None:
                standing[scene.promotion.end] = pawn
        for square, piece in standing.items():
            rect = geometry.rect(square)
            if region.intersects(QRect(*geometry.logical_rect(rect))):
                pixmap = self._pieces.pixmap(piece, geometry.square, theme.piece_paper)
                painter.drawPixmap(rect[0], rect[1], pixmap)

    def _paint_moving(
        self, painter: QPainter, geometry: BoardGeometry, scene: Scene, theme: Theme
    ) -> None:
        for glide in scene.transition.glides:
            x0, y0, side, _ = geometry.rect(glide.start)
            x1, y1, _, _ = geometry.rect(glide.end)
            x = round(x0 + (x1 - x0) * scene.progress)
            y = round(y0 + (y1 - y0) * scene.progress)
            painter.drawPixmap(x, y, self._pieces.pixmap(glide.piece, side, theme.piece_paper))
        if scene.held is not None:
            square, x, y = scene.held
            piece = scene.board.piece_at(square)
            if piece is not None:
                side = geometry.square
                pixmap = self._pieces.pixmap(piece, side, theme.piece_paper)
                painter.drawPixmap(round(x - side / 2), round(y - side / 2), pixmap)
