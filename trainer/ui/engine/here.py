"""What the player has before him: the largest board on the screen."""

from __future__ import annotations

import chess
from PySide6.QtWidgets import QWidget

from trainer.ui.board.widget import BoardWidget


def board_shown(place: QWidget | None) -> chess.Board | None:
    """The position on the largest board that is visible in `place`, None where there is none."""
    if place is None:
        return None
    boards = [board for board in place.findChildren(BoardWidget) if board.isVisible()]
    if not boards:
        return None
    return max(boards, key=lambda board: board.width() * board.height()).board
