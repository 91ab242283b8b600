"""The drill on the screen: board, margin, move line and the keys. It decides nothing."""

from __future__ import annotations

import chess
from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QApplication,
    QBoxLayout,
    QHBoxLayout,
    QLabel,
    QProgressBar,
    QPushButton,
    QSizePolicy,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from trainer.ui.board.widget import BoardWidget
from trainer.ui.button_grid import ButtonGrid
from trainer.ui.drill.entry import COMMAND_KEYS, KeyForwarder, MoveEntry
from trainer.ui.drill.note_panel import NotePanel
from trainer.ui.labels import text_label
from trainer.ui.theme import tabular

_BUTTONS = (
    ("hint", "Hint", "First the piece, then its square"),
    ("left", "Left known lines", "The last reply is not in the repertoire"),
    ("skip", "Skip", "Leave this question for another day"),
    ("flag", "Flag", "Mark this position for later"),
    ("undo", "Undo slip", "Take back a slip of the mouse, within 3 seconds"),
    ("pause", "Pause", "Stop the clock and cover the board"),
    ("targets", "Targets", "Show where a chosen piece can go"),
    ("flip", "Turn board", "See the board from the other side"),
)
#: The share of the window's width that the margin may take for the sake of its words.
_MOST_MARGIN = 0.42
_KEY_OF = {name: key for key, name in COMMAND_KEYS.items()}


class DrillView(QWidget):
    """Shows what it is told and says what the player does."""

    answered = Signal(object)
    typed = Signal(str)
    command = Signal(str)
    proceed = Signal()
    leave = Signal()

    def __init__(
        self,
        board: BoardWidget,
        panel: NotePanel | None = None,
        parent: QWidget | None = None,
    ) -> None:
        """`board` and `panel` may have been made before, which takes as long as the rest."""
        super().__init__(parent)
        self.board = board
        self.asked = text_label("", "heading")
        self.asked.setObjectName("asked")
        self.order = text_label("", "note")
        self.order.setObjectName("order")
        self.count = QLabel()
        self.count.setFont(tabular(self.count.font()))
        self.progress = QProgressBar()
        self.progress.setTextVisible(False)
        # It takes what the words beside it leave.
        self.progress.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
        self.panel = panel or NotePanel()
        self.entry = MoveEntry()
        self.message = text_label("", "muted")
        self.buttons: dict[str, QToolButton] = {}
        self.continue_button = QPushButton()
        self._end = QToolButton()
        self._player: chess.Color | None = None
        self._asked_before = ""
        #: While no move is taken: whether the board took moves, and the line none.
        self._held: tuple[bool, bool] | None = None
        self._covered: tuple[chess.Board, chess.Move | None] | None = None
        self._columns = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self._build()
        self._connect()

    # -- building ----------------------------------------------------------------------------

    def _build(self) -> None:
        self.board.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        margin = QWidget()
        column = QVBoxLayout(margin)
        column.setContentsMargins(0, 0, 0, 0)
        top = QHBoxLayout()
        top.addWidget(self.count)
        top.addWidget(self.progress, 1)
        self._end.setToolTip("End the drill; every answer is kept")
        self._end.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._end.clicked.connect(self.leave)
        top.addWidget(self._end)
        column.addLayout(top)
        column.addWidget(self.asked)
        column.addWidget(self.order)
        column.addWidget(self.panel, 1)
        column.addWidget(self.message)
        row = QHBoxLayout()
        row.addWidget(self.entry, 1)
        self.continue_button.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.continue_button.setProperty("primary", "true")
        row.addWidget(self.continue_button)
        column.addLayout(row)
        column.addWidget(self._key_grid())
        self._margin = margin
        self._columns.addWidget(self.board, 1)
        self._columns.addWidget(margin)
        self._columns.setSpacing(20)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(16, 12, 16, 12)
        outer.addLayout(self._columns)

    def _key_grid(self) -> ButtonGrid:
        for name, text, tip in _BUTTONS:
            button = QToolButton()
            button.setToolTip(f"{text}: {tip[0].lower()}{tip[1:]}")
            button.setAccessibleName(text)
            button.setFocusPolicy(Qt.FocusPolicy.NoFocus)
            button.clicked.connect(lambda _checked=False, name=name: self.command.emit(name))
            self.buttons[name] = button
        self.buttons["targets"].setCheckable(True)
        self._keys = ButtonGrid(list(self.buttons.values()))
        self._label_buttons(short=False)
        return self._keys

    def _label_buttons(self, *, short: bool) -> None:
        keys = [f"[{_KEY_OF[name].upper()}]" for name, _text, _tip in _BUTTONS]
        texts = [f"{text}  {key}" for (_name, text, _tip), key in zip(_BUTTONS, keys, strict=True)]
        self._keys.set_texts(keys if short else texts, short=short)
        self._end.setText("[Esc]" if short else "End  [Esc]")
        self.continue_button.setText("Go on" if short else "Go on  [Space]")
        self.progress.setVisible(not short)

    def _connect(self) -> None:
        self._forwarder = KeyForwarder(self.entry, self.board)
        self.board.installEventFilter(self._forwarder)
        self.board.move_made.connect(self.answered)
        self.entry.entered.connect(self.typed)
        self.entry.proceed.connect(self.proceed)
        self.entry.command.connect(self.command)
        self.entry.arrow.connect(self._to_board)
        self.continue_button.clicked.connect(self.proceed)

    def resizeEvent(self, event) -> None:
        self._arrange()
        super().resizeEvent(event)

    def showEvent(self, event) -> None:
        # Only now is it certain in which type the words are drawn.
        self._arrange()
        super().showEvent(event)

    def _arrange(self) -> None:
        self.count.ensurePolished()
        # Its text grows while the drill runs, and the margin's width must not.
        longest = self.count.fontMetrics().horizontalAdvance("888 of 888 · under 1 min left")
        self.count.setMinimumWidth(longest)
        # In a small window, or with large type, the board's room counts for more than words.
        self._label_buttons(short=False)
        if self._margin.minimumSizeHint().width() > self.width() * _MOST_MARGIN:
            self._label_buttons(short=True)
        needed = self._margin.minimumSizeHint().width()
        beside = self.width() - self._columns.spacing() - needed >= self.board.minimumWidth()
        narrow = self.width() < self.height() * 1.1 or not beside
        self._columns.setDirection(
            QBoxLayout.Direction.TopToBottom if narrow else QBoxLayout.Direction.LeftToRight
        )
        # The board takes what height it can use; the margin has the rest of the width.
        spare = self.width() - self.height() - self._columns.spacing()
        room = max(needed, min(max(spare, self.width() // 3), self.width() // 2))
        self._margin.setFixedWidth(self.width() if narrow else room)
        if narrow:
            self._margin.setMinimumWidth(0)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.leave.emit()
        elif event.key() in (Qt.Key.Key_Space, Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.proceed.emit()
        else:
            super().keyPressEvent(event)

    def _to_board(self, event: QKeyEvent) -> None:
        self.board.setFocus(Qt.FocusReason.ShortcutFocusReason)
        QApplication.sendEvent(self.board, event)

    # -- showing -----------------------------------------------------------------------------

    def show_position(
        self, board: chess.Board, last_move: chess.Move | None, *, animate: bool
    ) -> None:
        """Put a position on the board, without hints or arrows."""
        self.board.set_hint(None, None)
        self.board.set_arrows([])
        self.board.set_position(board, last_move, animate)

    def open_question(self, asked: str, order: str, *, player: chess.Color) -> None:
        """Let the player move."""
        self.ask(asked)
        self.order.setText(order)
        self._player = player
        self._take_moves(player)
        self.entry.clear()
        self.continue_button.setEnabled(False)
        if not self.board.hasFocus():
            self.entry.setFocus()

    def let_try(self, player: chess.Color) -> None:
        """Let the player try a move that answers no question."""
        self._take_moves(player)
        self.entry.clear()
        self.entry.setFocus()

    def close_question(self) -> None:
        """The program moves, or the player reads: no answer is taken."""
        self._player = None
        self.board.set_interactive(False, None)
        self._close_entry()

    def _close_entry(self) -> None:
        """No move is taken, while the keys for commands and for going on still work."""
        self.entry.clear()
        self.entry.setReadOnly(True)

    def reopen_question(self, board: chess.Board, last_move: chess.Move | None) -> None:
        """The same question once more, after a move that did not end it."""
        self.show_position(board, last_move, animate=False)
        self.entry.clear()
        if self._player is not None:
            self._take_moves(self._player)

    def hold(self) -> None:
        """No move is taken for a moment."""
        self._held = self.board.interactive, self.entry.isReadOnly()
        self.board.set_interactive(False, None)
        self.entry.setReadOnly(True)

    def release(self) -> None:
        """Moves are taken as before `hold`."""
        if self._held is not None:
            on_board, read_only = self._held
            self._held = None
            self.board.set_interactive(on_board, self._player)
            self.entry.setReadOnly(read_only)

    def _take_moves(self, player: chess.Color) -> None:
        self.board.set_interactive(True, player)
        self.entry.setReadOnly(False)

    def set_covered(self, covered: bool) -> None:
        """Take the pieces off the board while the drill is paused, and put them back."""
        if covered and self._covered is None:
            self._covered = (self.board.board, self.board.last_move)
            self.board.set_interactive(False, None)
            self._close_entry()
            self.board.set_position(chess.Board(None))
            self._asked_before = self.asked.text()
            self.ask("Paused")
            self.message.setText("The clock stands still. Space goes on.")
            self.message.show()
        elif not covered and self._covered is not None:
            board, last_move = self._covered
            self._covered = None
            self.board.set_position(board, last_move)
            self.message.hide()
            self.ask(self._asked_before)
            if self._player is not None:
                self._take_moves(self._player)

    def show_count(self, number: int, total: int, minutes_left: float) -> None:
        """Which question of how many, and roughly how long it will go on."""
        left = f"{minutes_left:.0f} min left" if minutes_left >= 1 else "under 1 min left"
        self.count.setText(f"{number} of {total} · {left}")
        self.progress.setRange(0, total)
        self.progress.setValue(max(0, number - 1))

    def ask(self, text: str) -> None:
        """The line that says what is asked; nothing where nothing is."""
        self.asked.setText(text)
        self.asked.setVisible(bool(text))

    def say(self, text: str) -> None:
        """A short remark beside the move line."""
        self.message.setText(text)
        self.message.setVisible(bool(text))


def keys_text() -> str:
    """The keys of the drill, a line each."""
    lines = [f"{_KEY_OF[name]}\t{text}: {tip[0].lower()}{tip[1:]}" for name, text, tip in _BUTTONS]
    return "\n".join(
        [
            "Type a move and press Enter: Nf3, nf3, g1f3, O-O, e8=Q.",
            "Arrow keys move over the board, Enter or Space takes a piece and puts it down.",
            "Space or Enter goes on after an answer; Esc ends the drill.",
            "",
            *lines,
            "y\tWhy not: after a wrong answer, what an engine has against it",
        ]
    )
