"""A board that only shows, as large as it is told to be."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QWidget

from trainer.storage.settings import Settings
from trainer.ui.board.setup import set_up_board
from trainer.ui.board.widget import BoardWidget
from trainer.ui.look import Look


class StillBoard(BoardWidget):
    """Nothing can be moved on it, and no key goes to it."""

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent, look.theme)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.set_interactive(False)

    def set_look(self, settings: Settings, look: Look) -> None:
        """Draw in another look."""
        set_up_board(self, settings, look.theme)
        self.set_flipped(look.flipped)
        self.set_type_scale(look.scale)

    def hasHeightForWidth(self) -> bool:
        # Its side is fixed; a wider column must not give it a higher place.
        return False
