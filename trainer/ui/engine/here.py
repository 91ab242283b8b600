"""What the player has before him: the largest board on the screen, and where it comes from."""

from __future__ import annotations

from dataclasses import dataclass

import chess
from PySide6.QtWidgets import QWidget

from trainer.ui.board.widget import BoardWidget
from trainer.ui.games.page import GamePage


@dataclass(frozen=True)
class Shown:
    """A position, with words on where it comes from and the number of its next move, if known."""

    board: chess.Board
    order: str = ""
    number: int | None = None


def shown_in(place: QWidget | None) -> Shown | None:
    """The position on the largest board that is visible in `place`, None where there is none."""
    if place is None:
        return None
    boards = [board for board in place.findChildren(BoardWidget) if board.isVisible()]
    if not boards:
        return None
    largest = max(boards, key=lambda board: board.width() * board.height())
    for page in place.findChildren(GamePage):
        if page.board is largest and page.entry is not None:
            number = page.entry.game.number_of(page.ply + 1)
            return Shown(largest.board, page.where, number)
    return Shown(largest.board)
