from itertools import combinations

import chess
import numpy as np
import pytest
from PySide6.QtGui import QColor, QImage, QPainter

from trainer.diagram import BoardStyle
from trainer.ui.board.ground import dark_square
from trainer.ui.board.pieces import PiecePixmaps, shared_pieces
from trainer.ui.theme import DARK, LIGHT, Theme

SMALLEST = 24
GROUNDS = pytest.mark.parametrize("ground", ["light", "hatched", "plain"])
THEMES = pytest.mark.parametrize("theme", [LIGHT, DARK], ids=lambda theme: theme.name)


def _grey(image: QImage) -> np.ndarray:
    """The picture as rows of grey values, 0 to 255."""
    grey = image.convertToFormat(QImage.Format.Format_Grayscale8)
    rows = np.frombuffer(grey.constBits(), np.uint8).reshape(grey.height(), grey.bytesPerLine())
    return rows[:, : grey.width()].astype(float)


def _on(ground: str, piece: chess.Piece, theme: Theme) -> np.ndarray:
    image = QImage(SMALLEST, SMALLEST, QImage.Format.Format_RGB32)
    image.fill(QColor(theme.board_paper))
    painter = QPainter(image)
    if ground != "light":
        painter.drawPixmap(0, 0, dark_square(SMALLEST, BoardStyle(ground), theme))
    painter.drawPixmap(0, 0, PiecePixmaps().pixmap(piece, SMALLEST, theme.piece_paper))
    painter.end()
    return _grey(image)


@THEMES
@GROUNDS
@pytest.mark.parametrize("color", chess.COLORS, ids=["black", "white"])
def test_kinds_are_told_apart_at_24_pixels(
    qapp, theme: Theme, ground: str, color: chess.Color
) -> None:
    pictures = [_on(ground, chess.Piece(kind, color), theme) for kind in chess.PIECE_TYPES]
    for one, other in combinations(pictures, 2):
        # Own measure: at least a twentieth of the pixels differ by a quarter of the range.
        assert np.count_nonzero(abs(one - other) > 64) >= SMALLEST**2 / 20


@THEMES
@GROUNDS
def test_the_sides_are_told_apart_at_24_pixels(qapp, theme: Theme, ground: str) -> None:
    for kind in chess.PIECE_TYPES:
        white = _on(ground, chess.Piece(kind, chess.WHITE), theme)
        black = _on(ground, chess.Piece(kind, chess.BLACK), theme)
        assert np.count_nonzero(white - black > 100) >= SMALLEST**2 / 10


@pytest.mark.parametrize("kind", chess.PIECE_TYPES, ids=chess.PIECE_NAMES[1:])
def test_a_piece_leaves_the_edge_of_its_square_free(qapp, kind: chess.PieceType) -> None:
    for color in chess.COLORS:
        pixmap = PiecePixmaps().pixmap(chess.Piece(kind, color), 100, LIGHT.piece_paper)
        alpha = np.array(
            [[pixmap.toImage().pixelColor(x, y).alpha() for x in range(100)] for y in range(100)]
        )
        assert alpha.any()
        for edge in (alpha[0], alpha[-1], alpha[:, 0], alpha[:, -1]):
            assert not edge.any()


def test_pixmaps_are_made_once_and_only_a_few_sizes_are_kept(qapp) -> None:
    pieces = PiecePixmaps()
    king = chess.Piece.from_symbol("K")
    first = pieces.pixmap(king, 40, LIGHT.piece_paper)
    assert pieces.pixmap(king, 40, LIGHT.piece_paper).cacheKey() == first.cacheKey()
    for size in range(50, 60):
        pieces.pixmap(king, size, LIGHT.piece_paper)
    assert pieces.pixmap(king, 40, LIGHT.piece_paper).cacheKey() != first.cacheKey()


def test_a_size_that_is_in_use_stays_while_another_board_is_resized(qapp) -> None:
    pieces = PiecePixmaps()
    king = chess.Piece.from_symbol("K")
    first = pieces.pixmap(king, 40, LIGHT.piece_paper)
    for size in range(50, 80):
        pieces.pixmap(king, size, LIGHT.piece_paper)
        assert pieces.pixmap(king, 40, LIGHT.piece_paper).cacheKey() == first.cacheKey()


def test_all_boards_put_the_same_drawings_in_place(qapp) -> None:
    queen = chess.Piece.from_symbol("q")
    assert not shared_pieces().holds(queen, 1_037, LIGHT.piece_paper)
    drawn = shared_pieces().pixmap(queen, 1_037, LIGHT.piece_paper)
    assert shared_pieces().holds(queen, 1_037, LIGHT.piece_paper)
    assert shared_pieces().pixmap(queen, 1_037, LIGHT.piece_paper).cacheKey() == drawn.cacheKey()
    assert not shared_pieces().holds(queen, 1_037, DARK.piece_paper)
