"""The choice of a promotion piece: a strip of four beside the promotion square."""

from __future__ import annotations

from dataclasses import dataclass, replace

import chess
from PySide6.QtCore import QRect, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QPainter, QPen

from trainer.ui.board.geometry import BoardGeometry, Rect
from trainer.ui.board.pieces import PiecePixmaps
from trainer.ui.theme import Theme, system_sans

CHOICES = (chess.QUEEN, chess.ROOK, chess.BISHOP, chess.KNIGHT)


@dataclass(frozen=True)
class Promotion:
    """A pawn that waits for its new piece. `index` is the choice that Enter would take."""

    start: chess.Square
    end: chess.Square
    color: chess.Color
    index: int = 0

    @property
    def choice(self) -> chess.PieceType:
        """The marked piece."""
        return CHOICES[self.index]

    def moved(self, step: int) -> Promotion:
        """Return the same with the mark moved by `step` choices, round the ends."""
        return replace(self, index=(self.index + step) % len(CHOICES))

    def strip(self, geometry: BoardGeometry) -> Rect:
        """Return the strip's rectangle: in the row next to the square, inside the board."""
        column, row = geometry.cell(self.end)
        side = geometry.square
        label = round(side * 0.3)
        first = min(max(column - 1, 0), 8 - len(CHOICES))
        top = geometry.top + (side if row == 0 else 7 * side - side - label)
        return (geometry.left + first * side, top, len(CHOICES) * side, side + label)

    def choice_at(self, geometry: BoardGeometry, x: float, y: float) -> chess.PieceType | None:
        """Return the piece offered at a point in logical pixels, or None beside the strip."""
        left, top, width, height = self.strip(geometry)
        dx, dy = x * geometry.ratio - left, y * geometry.ratio - top
        if 0 <= dx < width and 0 <= dy < height:
            return CHOICES[int(dx // geometry.square)]
        return None


def choice_for_key(text: str) -> chess.PieceType | None:
    """Return the piece for a typed letter q, r, b or n, or None."""
    letters = {chess.piece_symbol(choice): choice for choice in CHOICES}
    return letters.get(text.lower())


def paint_promotion(
    painter: QPainter,
    geometry: BoardGeometry,
    theme: Theme,
    pieces: PiecePixmaps,
    promotion: Promotion,
) -> None:
    """Paint the strip: four pieces with the letter of their key under each."""
    left, top, width, height = promotion.strip(geometry)
    side, line = geometry.square, geometry.inner
    ink = QColor(theme.board_ink)
    strip = QRect(left, top, width, height)
    painter.fillRect(strip.adjusted(-4 * line, -4 * line, 4 * line, 4 * line), ink)
    painter.fillRect(
        strip.adjusted(-2 * line, -2 * line, 2 * line, 2 * line), QColor(theme.piece_paper)
    )
    font = QFont(system_sans())
    font.setPixelSize(max(7, round(side * 0.24)))
    painter.setFont(font)
    for i, choice in enumerate(CHOICES):
        x = left + i * side
        if i == promotion.index:
            painter.setPen(QPen(ink, max(2.0 * line, side * 0.04)))
            inset = side * 0.04
            painter.drawRect(QRectF(x + inset, top + inset, side - 2 * inset, height - 2 * inset))
        piece = chess.Piece(choice, promotion.color)
        painter.drawPixmap(x, top, pieces.pixmap(piece, side, theme.piece_paper))
        painter.setPen(ink)
        box = QRectF(x, top + side * 0.93, side, height - side * 0.95)
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, chess.piece_symbol(choice).upper())
