"""Questions on a board, one after the other: breaks of a structure, moments of a game."""

from __future__ import annotations

from typing import Protocol

import chess
from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QBoxLayout, QPushButton, QVBoxLayout, QWidget

from trainer.notation.display import shown_text
from trainer.storage.settings import Settings
from trainer.ui.board.setup import set_up_board
from trainer.ui.board.widget import BoardWidget
from trainer.ui.button_grid import ButtonGrid
from trainer.ui.labels import scrolled_column, text_label
from trainer.ui.look import Look

#: Below this width (at 100 %) the words stand under the board.
_BESIDE = 620


class Asking(Protocol):
    """Questions being asked. A right answer or giving up closes one and goes to the next."""

    @property
    def board(self) -> chess.Board | None:
        """The position that is asked, None at the end."""

    @property
    def prompt(self) -> str:
        """What is asked, in words."""

    def hint(self) -> str:
        """The next hint, empty when there is none left."""

    def answer(self, move: chess.Move) -> tuple[bool, str]:
        """Whether a move closes the question, and the sentence to show."""

    def give_up(self) -> str:
        """Close the question; the answer in a sentence."""

    def score(self) -> str:
        """What was found so far."""


class AskPanel(QWidget):
    """A board to answer on, with the question beside it."""

    #: The player leaves, or all is answered and read.
    left = Signal()

    def __init__(self, settings: Settings, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._look = look
        self._asking: Asking | None = None
        #: Whether the question on the board is closed and waits to be left.
        self._closed = False
        self.board = BoardWidget(theme=look.theme)
        self.prompt = text_label("", "heading")
        self.said = text_label("")
        self.score = text_label("", "muted")
        self.hint = QPushButton("H&int")
        self.show_answer = QPushButton("&Answer")
        self.next = QPushButton("Ne&xt")
        self.end = QPushButton("&End")
        self._build()
        self._connect()
        self.set_look(settings, look)

    def _build(self) -> None:
        self.board.setAccessibleName("The board of the question")
        self.said.setAccessibleName("What was said of the answer")
        self._text = scrolled_column((self.prompt, self.said))
        self._text.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        words = QVBoxLayout()
        words.addWidget(self._text, 1)
        words.addWidget(ButtonGrid((self.hint, self.show_answer, self.next, self.end)))
        words.addWidget(self.score)
        self._split = QBoxLayout(QBoxLayout.Direction.LeftToRight, self)
        self._split.setContentsMargins(0, 0, 0, 0)
        self._split.setSpacing(16)
        self._split.addWidget(self.board, 3)
        self._split.addLayout(words, 2)

    def _connect(self) -> None:
        self.board.move_made.connect(self._answered)
        self.hint.clicked.connect(lambda _checked=False: self._hint())
        self.show_answer.clicked.connect(lambda _checked=False: self._give_up())
        self.next.clicked.connect(lambda _checked=False: self._next())
        self.end.clicked.connect(lambda _checked=False: self.left.emit())

    def set_look(self, settings: Settings, look: Look) -> None:
        """Draw in another look."""
        self._look = look
        set_up_board(self.board, settings, look.theme)
        self._fit()

    def ask(self, asking: Asking) -> None:
        """Begin with the first question."""
        self._asking = asking
        self._show_question()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        beside = self.width() >= _BESIDE * self._look.scale
        direction = QBoxLayout.Direction
        self._split.setDirection(direction.LeftToRight if beside else direction.TopToBottom)
        # Three lines of a question stay in sight; the board gets what else there is.
        self._text.setMinimumHeight(round(4.5 * self.prompt.fontMetrics().lineSpacing()))
        self._split.setStretch(0, 3 if beside else 6)
        self._split.setStretch(1, 2 if beside else 1)

    def _show_question(self) -> None:
        asking = self._asking
        if asking is None:
            return
        board = asking.board
        self._closed = False
        self.score.setText(asking.score())
        if board is None:
            self._finish()
            return
        self.prompt.setText(self._shown(asking.prompt))
        self.said.setText("")
        self.board.set_flipped(not board.turn)
        self.board.set_position(board)
        self.board.set_arrows([])
        self.board.set_interactive(True, board.turn)
        for button in (self.hint, self.show_answer):
            button.setEnabled(True)
        self.next.setEnabled(False)
        self.board.setFocus()

    def _finish(self) -> None:
        self.prompt.setText("That was the last one.")
        self.said.setText("")
        self.board.set_interactive(False)
        for button in (self.hint, self.show_answer, self.next):
            button.setEnabled(False)
        self.end.setFocus()

    def _answered(self, move: chess.Move) -> None:
        asking = self._asking
        board = None if asking is None else asking.board
        if asking is None or board is None or self._closed:
            return
        closes, sentence = asking.answer(move)
        self.said.setText(self._shown(sentence))
        if closes:
            after = board.copy(stack=False)
            after.push(move)
            self._close(after, move)
        else:
            self.board.set_position(board)
            self.board.set_interactive(True, board.turn)

    def _give_up(self) -> None:
        asking = self._asking
        board = None if asking is None else asking.board
        if asking is None or board is None or self._closed:
            return
        self.said.setText(self._shown(asking.give_up()))
        self._close(board, None)

    def _close(self, board: chess.Board, move: chess.Move | None) -> None:
        assert self._asking is not None
        self._closed = True
        self.board.set_position(board, move)
        self.board.set_interactive(False)
        self.score.setText(self._asking.score())
        self.hint.setEnabled(False)
        self.show_answer.setEnabled(False)
        self.next.setEnabled(True)
        self.next.setFocus()

    def _next(self) -> None:
        self._show_question()

    def _hint(self) -> None:
        if self._asking is not None and not self._closed:
            text = self._asking.hint()
            self.said.setText(self._shown(text) if text else "There is no other hint.")
            self.board.setFocus()

    def _shown(self, text: str) -> str:
        return shown_text(text, self._look.notation)
