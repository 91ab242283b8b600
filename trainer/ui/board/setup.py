"""The player's choices about the board, put on a board widget."""

from __future__ import annotations

from trainer.diagram import BoardStyle
from trainer.storage.settings import Settings
from trainer.ui.board.widget import BoardWidget
from trainer.ui.theme import Theme


def set_up_board(board: BoardWidget, settings: Settings, theme: Theme) -> None:
    """Look, coordinates, motion and targets as the settings say."""
    board.set_theme(theme)
    board.set_style(BoardStyle(settings.board_style))
    board.set_coordinates(settings.coordinates)
    board.set_type_scale(settings.scale)
    board.set_show_targets(settings.show_targets)
    board.set_reduced_motion(settings.reduced_motion or not settings.animate)
