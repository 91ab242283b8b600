"""Look at a position: what the engine thinks of it, in words, and a scratch board to try it on.

The board is for playing things out; nothing that is played here touches the repertoire, until
the player takes a line into it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import chess
from PySide6.QtCore import QSize, Qt, QTimer, Signal
from PySide6.QtGui import QCloseEvent, QKeyEvent, QKeySequence, QResizeEvent, QShortcut
from PySide6.QtWidgets import (
    QBoxLayout,
    QDialog,
    QFrame,
    QLineEdit,
    QListWidget,
    QListWidgetItem,
    QScrollArea,
    QSizePolicy,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from trainer.notation.display import numbered
from trainer.notation.typed import TypedMoveError, parse_typed
from trainer.ui.board.setup import set_up_board
from trainer.ui.board.widget import BoardWidget
from trainer.ui.button_grid import ButtonGrid
from trainer.ui.engine import words
from trainer.ui.labels import text_label, wrap_items
from trainer.ui.look import Look

if TYPE_CHECKING:
    from trainer.engine.evaluation import Evaluation
    from trainer.engine.why_not import WhyNot
    from trainer.storage.settings import Settings
    from trainer.ui.engine.adviser import Adviser
    from trainer.ui.engine.worker import Request

_ANY = 16_777_215
_AGAIN_AFTER_MS = 120
#: After so long the words have found their places.
_SETTLED_MS = 30
#: Lines of text that the list shows at least, without its own scroll bar.
_LIST_LINES = 7.5
#: Half-moves of a line that are taken into the repertoire at most.
_TAKEN = 10


@dataclass(frozen=True)
class Subject:
    """A position to look at: by which order it came about, and the number of its next move."""

    board: chess.Board
    order: str = ""
    number: int = 1


class LookWindow(QDialog):
    """One position with the engine beside it, not modal; the words stand before the figures."""

    #: The position that was looked at, and moves from it to take into the repertoire.
    line_taken = Signal(object, object)
    settings_wanted = Signal()
    #: The position on the scratch board is to be edited, a `chess.Board`.
    edit_wanted = Signal(object)
    #: The note on fair play was shown.
    note_read = Signal()

    def __init__(
        self, adviser: Adviser, settings: Settings, look: Look, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle("Look at a position")
        self._adviser = adviser
        self._settings = settings
        self._look = look
        self._side = not look.flipped
        self._subject = Subject(chess.Board())
        self._moves: list[chess.Move] = []
        self._found: Evaluation | None = None
        self._request: Request | None = None
        self._complete = False
        self.board = BoardWidget(theme=look.theme)
        self.order = text_label("", "muted")
        self.verdict = text_label("", "heading")
        self.figures = text_label("", "muted")
        self.lines = QListWidget()
        self.why = QLineEdit()
        self.answer = text_label("", "note")
        self.fair_play = text_label(words.FAIR_PLAY, "muted")
        self.buttons: dict[str, QToolButton] = {}
        self._later = QTimer(self)
        self._later.setSingleShot(True)
        self._later.setInterval(_AGAIN_AFTER_MS)
        self._later.timeout.connect(self._ask)
        self._to_answer = QTimer(self)
        self._to_answer.setSingleShot(True)
        self._to_answer.setInterval(_SETTLED_MS)
        self._to_answer.timeout.connect(
            # It stands below the fold where there is little room.
            lambda: self.words.verticalScrollBar().setValue(self.why.y())
        )
        self._columns = QBoxLayout(QBoxLayout.Direction.LeftToRight, self)
        adviser.silent_changed.connect(self._hush)
        self._build()
        self.set_look(settings, look)
        size = QSize(round(860 * look.scale), round(560 * look.scale))
        self.resize(size.boundedTo(self.screen().availableSize() - QSize(40, 60)))

    # -- building ----------------------------------------------------------------------------

    def _build(self) -> None:
        self.board.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.board.move_made.connect(self._play)
        wrap_items(self.lines)
        self.lines.setSpacing(3)
        self.lines.setTextElideMode(Qt.TextElideMode.ElideNone)
        self.lines.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.lines.setAccessibleName("Best lines; Enter plays the first move of one")
        self.lines.itemActivated.connect(lambda _item: self._play_line(1))
        self.why.setPlaceholderText("Why not … ? Type a move and press Enter")
        self.why.setAccessibleName("Why not this move")
        self.why.setMaxLength(24)
        self.why.returnPressed.connect(self._ask_why)
        self.answer.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        for name, text, tip, act in (
            ("step", "Play a &move", "Play the next move of the chosen line", self._step),
            ("out", "Play it &out", "Play the chosen line out on this board", self._play_out),
            ("back", "&Back", "Take one move back", self._back),
            ("start", "To the &start", "Back to the position that was looked at", self._restart),
            ("take", "&Take into the repertoire", "With the moves played here", self._take),
            ("edit", "E&dit here", "Open the workshop at the position on this board", self._edit),
            ("engine", "&Engine …", "Choose an engine and how long it thinks", self._settings_out),
        ):
            button = QToolButton()
            button.setText(text)
            button.setToolTip(tip)
            button.setAccessibleName(text.replace("&", ""))
            button.clicked.connect(lambda _checked=False, act=act: act())
            self.buttons[name] = button
        column = QWidget()
        words_column = QVBoxLayout(column)
        words_column.setContentsMargins(0, 0, 0, 0)
        for widget in (self.order, self.verdict, self.figures):
            words_column.addWidget(widget)
        words_column.addWidget(self.lines, 3)
        words_column.addWidget(self.why)
        words_column.addWidget(self.answer)
        self._grid = ButtonGrid(list(self.buttons.values()))
        words_column.addWidget(self._grid)
        words_column.addWidget(self.fair_play)
        self.words = QScrollArea()
        self.words.setFrameShape(QFrame.Shape.NoFrame)
        self.words.setWidgetResizable(True)
        self.words.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.words.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.words.setWidget(column)
        self._columns.setSpacing(18)
        self._columns.addWidget(self.board, 5)
        self._columns.addWidget(self.words, 4)
        for key, act in ((Qt.Key.Key_Backspace, self._back), (Qt.Key.Key_Home, self._restart)):
            shortcut = QShortcut(QKeySequence(key), self.board)
            shortcut.setContext(Qt.ShortcutContext.WidgetShortcut)
            shortcut.activated.connect(act)

    def set_look(self, settings: Settings, look: Look) -> None:
        """Draw in another look."""
        self._settings, self._look = settings, look
        self._side = not look.flipped
        set_up_board(self.board, settings, look.theme)
        self.board.set_flipped(look.flipped)
        self.lines.setMinimumHeight(round(_LIST_LINES * self.fontMetrics().lineSpacing()))
        self._show_found()

    # -- showing -----------------------------------------------------------------------------

    def show_subject(self, subject: Subject) -> None:
        """Look at another position from now on."""
        self._subject = subject
        self._moves = []
        self.fair_play.setVisible(not self._settings.engine_note_read)
        if not self._settings.engine_note_read:
            self.note_read.emit()
        self.answer.setText("")
        self.answer.hide()
        self.why.clear()
        self._show_board(animate=False)
        self.show()
        self.activateWindow()
        self.lines.setFocus()

    def ask_why_not(self, move: chess.Move) -> None:
        """Ask at once what speaks against a move in the position shown."""
        self._later.stop()
        self._why(move)

    @property
    def shown(self) -> chess.Board:
        """The position on the scratch board."""
        board = self._subject.board.copy(stack=False)
        for move in self._moves:
            board.push(move)
        return board

    @property
    def _number(self) -> int:
        passed = len(self._moves) + (0 if self._subject.board.turn else 1)
        return self._subject.number + passed // 2

    def _show_board(self, *, animate: bool) -> None:
        last = self._moves[-1] if self._moves else None
        self.board.set_arrows([])
        self.board.set_position(self.shown, last, animate)
        self.board.set_interactive(True)
        # What the engine still has to say is of another position.
        self._adviser.give_up(self._request)
        self._request = self._found = None
        self._complete = False
        self._say_where()
        self._show_found()
        self._later.start()

    def _say_where(self) -> None:
        text = self._subject.order
        if self._moves:
            board, sans = self._subject.board.copy(stack=False), []
            for move in self._moves:
                sans.append(board.san(move))
                board.push(move)
            played = numbered(
                sans,
                turn=self._subject.board.turn,
                number=self._subject.number,
                notation=self._look.notation,
            )
            text = f"{text} — tried here: {played}" if text else f"Tried here: {played}"
        self.order.setText(text)
        self.order.setVisible(bool(text))

    def _ask(self) -> None:
        """Look at what is on the board."""
        if not self.isVisible():
            return
        if self._adviser.silent:
            self._fail(words.SILENT)
            return
        if self._found is None:
            self.verdict.setText("The engine looks at this position …")
            self.figures.setText("")
        self._complete = False
        self._adviser.give_up(self._request)
        self._request = self._adviser.look(
            self.shown, told=self._take_in, done=self._finish, failed=self._fail
        )

    def _take_in(self, found: Evaluation) -> None:
        # After a question in between the engine begins anew, and what was known is deeper.
        if self._found is None or found.depth >= self._found.depth:
            self._found = found
            self._show_found()

    def _finish(self, found: Evaluation) -> None:
        self._complete = True
        self._take_in(found)

    def _fail(self, sentence: str) -> None:
        self.verdict.setText("Nothing can be said.")
        self.figures.setText(sentence)

    def _show_found(self) -> None:
        found, board = self._found, self.shown
        row = max(0, self.lines.currentRow())
        self.lines.clear()
        if found is not None:
            self.verdict.setText(words.verdict(found, board.turn))
            self.figures.setText(words.figures(found, board.turn, self._side))
            notation = self._look.notation
            for line in found.lines:
                if line.moves:
                    said = words.line_words(board, line, self._side, notation, self._number)
                    self.lines.addItem(QListWidgetItem(said))
            self.lines.setCurrentRow(min(row, self.lines.count() - 1))
        chosen = self._chosen() is not None
        for name in ("step", "out"):
            self.buttons[name].setEnabled(chosen)
        for name in ("back", "start"):
            self.buttons[name].setEnabled(bool(self._moves))
        self.buttons["take"].setEnabled(chosen or bool(self._moves))

    def _chosen(self) -> tuple[chess.Move, ...] | None:
        found, row = self._found, self.lines.currentRow()
        if found is None or not 0 <= row < len(found.lines):
            return None
        return found.lines[row].moves or None

    # -- playing on the scratch board --------------------------------------------------------

    def _play(self, move: chess.Move) -> None:
        self._moves.append(move)
        self._show_board(animate=True)

    def _step(self) -> None:
        self._play_line(1)

    def _play_out(self) -> None:
        self._play_line(words.SHOWN)

    def _play_line(self, count: int) -> None:
        line = self._chosen()
        if line is not None:
            self._moves += line[:count]
            self._show_board(animate=count == 1)

    def _back(self) -> None:
        if self._moves:
            self._moves.pop()
            self._show_board(animate=True)

    def _restart(self) -> None:
        if self._moves:
            self._moves = []
            self._show_board(animate=False)

    def _take(self) -> None:
        line = self._chosen() or ()
        moves = (*self._moves, *line)[: max(len(self._moves), _TAKEN)]
        if moves:
            self.line_taken.emit(self._subject.board.copy(stack=False), tuple(moves))

    def _edit(self) -> None:
        self.edit_wanted.emit(self.shown)

    def _settings_out(self) -> None:
        self.settings_wanted.emit()

    # -- why not -----------------------------------------------------------------------------

    def _ask_why(self) -> None:
        board = self.shown
        try:
            move = parse_typed(board, self.why.text())
        except TypedMoveError as error:
            self._say_answer(str(error))
            self.why.selectAll()
            return
        self.why.clear()
        self._why(move)

    def _why(self, move: chess.Move) -> None:
        board = self.shown
        self.board.set_arrows([(move.from_square, move.to_square)])
        self._say_answer(f"Why not {words.shown_san(board.san(move), self._look.notation)}? …")
        self._adviser.give_up(self._request)
        self._request = self._adviser.why_not(
            board, move, done=self._answered, failed=self._say_answer
        )

    def _answered(self, found: WhyNot) -> None:
        if found.board.epd() == self.shown.epd():
            self._say_answer(words.why_not_words(found, self._look.notation, self._number))
        if not self._complete:
            self._ask()

    def _say_answer(self, text: str) -> None:
        self.answer.setText(text)
        self.answer.setVisible(bool(text))
        if text:
            self._to_answer.start()

    # -- the window --------------------------------------------------------------------------

    def _hush(self, silent: bool) -> None:
        """What stands here could be the answer to the question that was just opened."""
        if not silent:
            self.ask_again()
            return
        self._later.stop()
        self._adviser.give_up(self._request)
        self._request = self._found = None
        self._complete = False
        self._show_found()
        self._say_answer("")
        self._fail(words.SILENT)

    def ask_again(self) -> None:
        """Another engine was chosen, or it may speak again."""
        if self.isVisible():
            self._later.start()

    def resizeEvent(self, event: QResizeEvent) -> None:
        narrow = self.width() < 700 * self._look.scale or self.width() < self.height()
        self._columns.setDirection(
            QBoxLayout.Direction.TopToBottom if narrow else QBoxLayout.Direction.LeftToRight
        )
        # A board above the words would take all the room that its width gives it.
        self.board.setMaximumHeight(self.height() * 9 // 20 if narrow else _ANY)
        # All words can be reached by scrolling; none may be cut at the side.
        needed = self._grid.minimumSizeHint().width() + self.words.verticalScrollBar().width()
        self.words.setMinimumWidth(0 if narrow else min(needed + 8, self.width() * 3 // 5))
        super().resizeEvent(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        # Enter belongs to the list and to the line below, not to a default button.
        if event.key() not in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            super().keyPressEvent(event)

    def reject(self) -> None:
        self._end()
        super().reject()

    def closeEvent(self, event: QCloseEvent) -> None:
        self._end()
        super().closeEvent(event)

    def _end(self) -> None:
        self._later.stop()
        self._adviser.give_up(self._request)
        self._request = None
