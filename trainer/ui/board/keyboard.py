"""The board from the keyboard: a cursor that walks over the squares as they are seen."""

from __future__ import annotations

import chess
from PySide6.QtCore import Qt

from trainer.ui.board.geometry import BoardGeometry

STEPS = {
    Qt.Key.Key_Left: (-1, 0),
    Qt.Key.Key_Right: (1, 0),
    Qt.Key.Key_Up: (0, -1),
    Qt.Key.Key_Down: (0, 1),
}
"""Arrow keys as steps in columns to the right and rows down."""

CHOOSE = frozenset({Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space})


def stepped(geometry: BoardGeometry, square: chess.Square, key: Qt.Key) -> chess.Square:
    """Return the square one step from another in the direction of an arrow key.

    At the edge of the board the cursor stays where it is.
    """
    across, down = STEPS[key]
    column, row = geometry.cell(square)
    column, row = min(max(column + across, 0), 7), min(max(row + down, 0), 7)
    return geometry.square_in_cell(column, row)
