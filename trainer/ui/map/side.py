"""Beside the plan: the chosen position on a board, and what there is to say about it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QVBoxLayout, QWidget

from trainer.ui.board.setup import set_up_board
from trainer.ui.board.widget import BoardWidget
from trainer.ui.labels import scrolled_column, text_label
from trainer.ui.look import Look

if TYPE_CHECKING:
    import chess

    from trainer.storage.settings import Settings
    from trainer.ui.map.words import PositionWords

_WIDTH = 300


class SidePanel(QWidget):
    """A board that only shows, with words below it."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.board = BoardWidget()
        self.board.set_interactive(False)
        self.board.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.title = text_label("", "heading")
        self.order = text_label("")
        self.opening = text_label("", "muted")
        self.facts = text_label("")
        self.note = text_label("", "note")
        labels = (self.title, self.order, self.opening, self.facts, self.note)
        for label in labels:
            label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
            label.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        words = scrolled_column(labels)
        words.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(self.board)
        outer.addWidget(words, 1)

    def wanted_width(self, room: int, scale: float) -> int:
        """How wide the panel is in a window of so many pixels."""
        return max(200, min(round(_WIDTH * scale), round(room * 0.36)))

    def resizeEvent(self, event: QResizeEvent) -> None:
        # Words keep at least half of the room.
        self.board.setMaximumHeight(max(self.board.minimumHeight(), self.height() // 2))
        super().resizeEvent(event)

    def set_look(self, settings: Settings | None, look: Look) -> None:
        """Draw in another look, with the player's choices about the board."""
        if settings is None:
            self.board.set_theme(look.theme)
        else:
            set_up_board(self.board, settings, look.theme)
        self.board.set_flipped(look.flipped)

    def show_position(
        self, board: chess.Board, last_move: chess.Move | None, words: PositionWords
    ) -> None:
        """Show a position and what is said about it."""
        self.board.set_position(board, last_move)
        texts = (
            (self.title, words.title),
            (self.order, words.order),
            (self.opening, words.opening),
            (self.facts, " ".join(words.facts)),
            (self.note, "\n\n".join(words.note)),
        )
        for label, text in texts:
            label.setText(text)
            label.setVisible(bool(text))
