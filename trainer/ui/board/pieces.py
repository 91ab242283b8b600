"""The pieces as pixmaps, drawn from their SVG files once for each size."""

from __future__ import annotations

from collections.abc import Iterator

import chess
from PySide6.QtCore import QByteArray, QRectF, Qt
from PySide6.QtGui import QPainter, QPixmap
from PySide6.QtSvg import QSvgRenderer

from trainer.diagram import PIECE_PAPER, piece_file
from trainer.resources import resource_path
from trainer.ui.lasting import lasting

_SIZES_KEPT = 8
_ALL_PIECES = tuple(
    chess.Piece(kind, colour) for kind in chess.PIECE_TYPES for colour in chess.COLORS
)


class PiecePixmaps:
    """A cache of piece pixmaps; `size` is always the side in device pixels.

    The sizes used last are kept: a board that is being resized does not fill the memory.
    """

    def __init__(self) -> None:
        self._renderers: dict[tuple[chess.Piece, str], QSvgRenderer] = {}
        self._pixmaps: dict[tuple[int, str], dict[chess.Piece, QPixmap]] = {}

    def pixmap(self, piece: chess.Piece, size: int, paper: str) -> QPixmap:
        """Return a piece as a pixmap of `size` by `size` device pixels.

        `paper` is the colour, such as `#FBF8F1`, that stands for the paper in the drawing.
        Raises `ResourceMissingError` when the drawing is missing.
        """
        sized = self._pixmaps.pop((size, paper), None)
        if sized is None:
            sized = {}
            while len(self._pixmaps) >= _SIZES_KEPT:
                del self._pixmaps[next(iter(self._pixmaps))]
        self._pixmaps[(size, paper)] = sized
        found = sized.get(piece)
        if found is None:
            found = sized[piece] = self._render(piece, size, paper)
        return found

    def holds(self, piece: chess.Piece, size: int, paper: str) -> bool:
        """Whether `pixmap` would be there at once."""
        return piece in self._pixmaps.get((size, paper), ())

    def read(self, paper: str) -> Iterator[None]:
        """Read all drawings, one a step, so that `pixmap` takes half as long the first time."""
        for piece in _ALL_PIECES:
            self._renderer(piece, paper)
            yield

    def draw(self, size: int, paper: str) -> Iterator[None]:
        """Draw the pieces of a size that are not there yet, one a step."""
        for piece in _ALL_PIECES:
            if not self.holds(piece, size, paper):
                yield
                self.pixmap(piece, size, paper)

    def _renderer(self, piece: chess.Piece, paper: str) -> QSvgRenderer:
        renderer = self._renderers.get((piece, paper))
        if renderer is None:
            text = resource_path("pieces", piece_file(piece)).read_text(encoding="utf-8")
            data = QByteArray(text.replace(PIECE_PAPER, paper).encode())
            renderer = self._renderers[(piece, paper)] = QSvgRenderer(data)
        return renderer

    def _render(self, piece: chess.Piece, size: int, paper: str) -> QPixmap:
        renderer = self._renderer(piece, paper)
        pixmap = QPixmap(size, size)
        pixmap.fill(Qt.GlobalColor.transparent)
        painter = QPainter(pixmap)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        renderer.render(painter, QRectF(0, 0, size, size))
        painter.end()
        return pixmap


def shared_pieces() -> PiecePixmaps:
    """The pieces of all boards: to draw a set takes as long as to paint several boards."""
    return lasting(PiecePixmaps)
