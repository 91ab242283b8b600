"""What the engine suggests in the position that is edited, beside what the base played there.

It is asked when the player wants that, and by itself where he came from a game to answer a move.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QListWidget, QListWidgetItem, QPushButton, QVBoxLayout, QWidget

from trainer.ui.engine import words
from trainer.ui.labels import text_label, wrap_items

if TYPE_CHECKING:
    from collections.abc import Callable

    import chess

    from trainer.engine.evaluation import Evaluation
    from trainer.ui.engine.adviser import Adviser
    from trainer.ui.engine.worker import Request
    from trainer.ui.look import Look
    from trainer.ui.workshop.page import WorkshopPage

_LINES = 6.5


class _Lines(QListWidget):
    """Lines of the engine; Enter or a double press takes the first move of one."""

    taken = Signal(int)

    def __init__(self) -> None:
        super().__init__()
        wrap_items(self)
        self.setTextElideMode(Qt.TextElideMode.ElideNone)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setAccessibleName("What the engine suggests; Enter takes the first move of a line")
        self.itemDoubleClicked.connect(lambda _item: self.taken.emit(self.currentRow()))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.taken.emit(self.currentRow())
        else:
            super().keyPressEvent(event)


class EngineInWorkshop(QObject):
    """A panel in the workshop; a move of the engine's can be taken over."""

    #: The note on fair play was shown.
    note_read = Signal()

    def __init__(
        self,
        page: WorkshopPage,
        adviser: Callable[[], Adviser],
        look: Callable[[], Look],
        number: Callable[[chess.Board], int],
    ) -> None:
        """`adviser` and `look` are asked for when they are needed; `number` is that of a move."""
        super().__init__(page)
        self._adviser, self._page, self._look, self._number = adviser, page, look, number
        self._board: chess.Board | None = None
        self._found: Evaluation | None = None
        self._request: Request | None = None
        #: The number of the first move of each line.
        self._first = 1
        #: Whether the engine is to look at the next position by itself.
        self._wanted = False
        self.panel = QWidget()
        self.button = QPushButton("What does the &engine suggest?")
        self.state = text_label("", "muted")
        self.fair_play = text_label(words.FAIR_PLAY, "muted")
        self.lines = _Lines()
        self._build()
        page.shown.connect(self.show_position)
        self.button.clicked.connect(lambda _checked=False: self.ask())
        self.lines.taken.connect(self._take)
        self._show()

    def _build(self) -> None:
        column = QVBoxLayout(self.panel)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.button, 0, Qt.AlignmentFlag.AlignLeft)
        column.addWidget(self.state)
        column.addWidget(self.lines)
        column.addWidget(self.fair_play)
        self.lines.setMinimumHeight(round(_LINES * self.lines.fontMetrics().lineSpacing()))
        self.lines.setMinimumWidth(60)
        self._page.suggestions.addWidget(self.panel)

    def ask_soon(self) -> None:
        """Look at the next position that is shown: the player has come to answer a move."""
        self._wanted = True

    def show_position(self, board: chess.Board) -> None:
        """The page shows another position."""
        if self._board is not None and board.fen() == self._board.fen():
            return
        self._stop()
        self._board, self._found = board.copy(stack=False), None
        self._show()
        if self._wanted:
            self._wanted = False
            self.ask()

    def ask(self) -> None:
        """Let the engine look at the position."""
        board = self._board
        if board is None or self._request is not None:
            return
        adviser = self._adviser()
        if adviser.silent:
            self.state.setText(words.SILENT)
            self.state.show()
            return
        self._first = self._number(board)
        self._request = adviser.look(
            board, told=self._take_in, done=self._finish, failed=self._fail
        )
        if self._request is not None:
            self._show("The engine looks at this position …")
            if not adviser.settings.engine_note_read:
                self.fair_play.show()
                self.note_read.emit()

    def _stop(self) -> None:
        if self._request is not None:
            self._adviser().give_up(self._request)
            self._request = None

    # -- what it says ------------------------------------------------------------------------

    def _take_in(self, found: Evaluation) -> None:
        if self._request is not None:
            self._found = found
            self._show()

    def _finish(self, found: Evaluation) -> None:
        self._take_in(found)
        self._request = None
        self._show()

    def _fail(self, sentence: str) -> None:
        self._request = None
        self._show(sentence)

    def _show(self, said: str = "") -> None:
        board, found = self._board, self._found
        self.button.setVisible(found is None and self._request is None)
        self.lines.setVisible(found is not None)
        self.fair_play.setVisible(self.fair_play.isVisible() and found is None)
        row = max(0, self.lines.currentRow())
        self.lines.clear()
        if board is not None and found is not None:
            look = self._look()
            side = not look.flipped
            for line in found.lines:
                if line.moves:
                    told = words.line_words(board, line, side, look.notation, self._first)
                    self.lines.addItem(QListWidgetItem(told))
            self.lines.setCurrentRow(min(row, self.lines.count() - 1))
            said = f"The engine: {words.figures(found, board.turn, side)}."
        self.state.setText(said)
        self.state.setVisible(bool(said))

    def _take(self, row: int) -> None:
        found = self._found
        if found is not None and 0 <= row < len(found.lines) and found.lines[row].moves:
            self._page.played.emit(found.lines[row].moves[0])
