"""After a miss: the position that is easily taken for the one asked, and what tells them apart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import chess
from PySide6.QtWidgets import QLabel, QVBoxLayout, QWidget

from trainer.ui.labels import text_label
from trainer.ui.mini_board import diagram_pixmap
from trainer.ui.position_row import clear_layout
from trainer.ui.theme import Theme

_DIAGRAM = 150
#: More would not be read in the middle of a drill.
_MOST = 2


@dataclass(frozen=True)
class Reminder:
    """The other position, which one it is in a sentence, and the player's own note."""

    board: chess.Board
    sentence: str
    note: str


class LookAlikePanel(QWidget):
    """The note first, then the other board."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)
        self.hide()

    def clear(self) -> None:
        """Show nothing."""
        clear_layout(self._column)
        self.hide()

    def show_reminders(
        self, reminders: Sequence[Reminder], theme: Theme, *, flipped: bool, scale: float
    ) -> None:
        """Show the first few."""
        self.clear()
        for reminder in reminders[:_MOST]:
            picture = QLabel()
            picture.setPixmap(
                diagram_pixmap(
                    reminder.board,
                    round(_DIAGRAM * scale),
                    self.devicePixelRatioF(),
                    theme,
                    flipped=flipped,
                )
            )
            picture.setAccessibleName("The other position")
            self._column.addWidget(text_label("What tells them apart", "muted"))
            self._column.addWidget(text_label(reminder.note, "note"))
            self._column.addWidget(picture)
            self._column.addWidget(text_label(reminder.sentence))
        self.setVisible(bool(reminders))
