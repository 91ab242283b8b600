"""One position of the repertoire with its prepared move and note, to look at."""

from __future__ import annotations

from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QHBoxLayout,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from trainer.memory.today import NotedDecision
from trainer.notation.display import shown_san, shown_text
from trainer.storage.settings import Settings
from trainer.ui.board.setup import set_up_board
from trainer.ui.board.widget import BoardWidget
from trainer.ui.labels import scrolled_column, text_label
from trainer.ui.look import Look


class PositionDialog(QDialog):
    """Board on the left, words on the right; `edit` and `look` tell where the player goes on."""

    def __init__(
        self,
        decision: NotedDecision,
        settings: Settings,
        look: Look,
        *,
        flagged: bool = False,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle("A position of the repertoire")
        self.unflag = False
        self.edit = False
        self.look = False
        self.board = BoardWidget(theme=look.theme)
        set_up_board(self.board, settings, look.theme)
        self.board.set_flipped(look.flipped)
        self.board.set_position(decision.node.board())
        move = decision.edge.move
        self.board.set_arrows([(move.from_square, move.to_square)])
        words = QVBoxLayout()
        words.addWidget(text_label(shown_san(decision.edge.san, look.notation), "title"))
        words.addWidget(text_label(decision.order.text(look.notation)))
        words.addWidget(text_label(decision.remark, "muted"))
        words.addWidget(_note(decision, look), 1)
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        edit = buttons.addButton("&Edit here", QDialogButtonBox.ButtonRole.ActionRole)
        edit.clicked.connect(self._edit)
        engine = buttons.addButton("&Look with an engine", QDialogButtonBox.ButtonRole.ActionRole)
        engine.clicked.connect(self._look_at_it)
        if flagged:
            done = buttons.addButton("Take the &flag off", QDialogButtonBox.ButtonRole.ActionRole)
            done.clicked.connect(self._take_flag_off)
        buttons.rejected.connect(self.reject)
        words.addWidget(buttons)
        layout = QHBoxLayout(self)
        layout.addWidget(self.board, 3)
        layout.addLayout(words, 2)
        self.resize(760, 480)

    def _edit(self) -> None:
        self.edit = True
        self.accept()

    def _look_at_it(self) -> None:
        self.look = True
        self.accept()

    def _take_flag_off(self) -> None:
        self.unflag = True
        self.accept()


def _note(decision: NotedDecision, look: Look) -> QScrollArea:
    """What the file says of the prepared move, scrolled where it is long."""
    return scrolled_column(
        text_label(shown_text(paragraph, look.notation), "note")
        for paragraph in (*decision.edge.before, *decision.edge.comments)
    )
