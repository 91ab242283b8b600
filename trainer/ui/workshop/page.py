"""The page of the workshop: board and way on one side, what is written there on the other."""

from __future__ import annotations

from collections.abc import Sequence

import chess
from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent, QKeySequence, QResizeEvent, QShortcut
from PySide6.QtWidgets import (
    QApplication,
    QBoxLayout,
    QFrame,
    QHBoxLayout,
    QScrollArea,
    QSizePolicy,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from trainer.storage.settings import Settings
from trainer.ui.board.setup import set_up_board
from trainer.ui.board.widget import BoardWidget
from trainer.ui.button_grid import ButtonGrid
from trainer.ui.drill.entry import KeyForwarder
from trainer.ui.labels import sheet, text_label
from trainer.ui.look import FIRST_LOOK, Look
from trainer.ui.orders.fitting import fitted
from trainer.ui.workshop.entry import MoveLine
from trainer.ui.workshop.lines import LineList
from trainer.ui.workshop.note_edit import NoteEdit
from trainer.ui.workshop.words import PageWords

#: Name, words, key and tip of the buttons below the note, and of those below the lines.
_NOTE_BUTTONS = (
    ("write", "Write", "W", "Write why this move is played"),
    ("plan", "Plan", "P", "Write what comes next"),
    ("trick", "Trick", "T", "Write what to watch for"),
    ("sign", "Signs", "S", "Give this move its signs"),
)
_LINE_BUTTONS = (
    ("main", "Make main", "M", "Make the chosen line the main one"),
    ("up", "Up", "Ctrl+↑", "Move the chosen line up"),
    ("down", "Down", "Ctrl+↓", "Move the chosen line down"),
    ("delete", "Delete", "Del", "Delete the chosen line with what hangs on it"),
    ("paste", "Paste", "Ctrl+V", "Add moves from a text"),
    ("other", "Other order", "X", "Come here by another move order"),
)
_MOST_PAGE = 0.56
_ORDER_LINES = 3
#: The share of a narrow window's height that the board may take.
_MOST_BOARD = 0.36
_LARGEST = 16_777_215
#: A narrow window is roomy from so many lines of text on.
_ROOMY = 30


class WorkshopPage(QWidget):
    """Shows what it is told and says what the player does; it decides nothing.

    It is made in two steps, since both together would hold the window up: what stands on it,
    and where (`lay_out`).
    """

    #: Another position stands on the board: a `chess.Board`.
    shown = Signal(object)
    #: A move was made on the board.
    played = Signal(object)
    #: A move was typed.
    typed = Signal(str)
    #: A key or button that is a command: its name.
    command = Signal(str)
    #: The note behind the move, or the text before it, was written.
    note_written = Signal(str)
    before_written = Signal(str)
    #: Another line was chosen: its number.
    chosen = Signal(int)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        look = FIRST_LOOK
        self.setAccessibleName("Workshop")
        self.back = _button("‹ Back  [Esc]", "Leave the workshop")
        self.state = text_label("", "muted")
        self.state.setWordWrap(False)
        self.undo = _button("Undo", "Undo the last step (Ctrl+Z)")
        self.redo = _button("Redo", "Make the step again (Ctrl+Shift+Z)")
        self.save = _button("Save", "Write the file (Ctrl+S)")
        self.right = _button("To put right", "Holes, conflicts and what else is to be mended")
        self.opening = text_label("", "muted")
        self.order = text_label("", "note")
        self.board = BoardWidget()
        self.entry = MoveLine()
        self.step_back = _button("←", "One move back (Left)")
        self.step_on = _button("→", "Along the chosen line (Right)")
        self.turn = _button("Turn [V]", "See the board from the other side")
        self.heading = text_label("", "title")
        self.signs = text_label("", "muted")
        self.facts = text_label("", "muted")
        self.others = text_label("")
        self.remark = text_label("", "note")
        self.before = NoteEdit("Text before the move", "Text before the move")
        self.note = NoteEdit("Note", "Why this move? An empty line begins a new paragraph.")
        self.goes_on = text_label("", "heading")
        self.asked = text_label("", "note")
        self.lines = LineList(look)
        self.buttons: dict[str, QToolButton] = {}
        #: Where what others play in the position may be shown.
        self.suggestions = QVBoxLayout()
        self._order = ""

    # -- building ----------------------------------------------------------------------------

    def lay_out(self) -> None:
        """Put everything in its place; once, before the page is used."""
        self._build()
        self._connect()
        self.setFocusProxy(self.lines)

    def _build(self) -> None:
        # A narrow window shall not be made wider by them.
        head = QWidget()
        head.setMinimumWidth(1)
        top = QHBoxLayout(head)
        top.setContentsMargins(0, 0, 0, 0)
        top.addWidget(self.back)
        top.addWidget(self.state, 1)
        self._top = (self.right, self.undo, self.redo, self.save)
        for button in self._top:
            top.addWidget(button)
        self._top_row = top
        self._left = QWidget()
        left = QVBoxLayout(self._left)
        left.setContentsMargins(0, 0, 0, 0)
        left.addWidget(self.opening)
        left.addWidget(self.order)
        self.board.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        left.addWidget(self.board, 1)
        row = QHBoxLayout()
        row.addWidget(self.step_back)
        row.addWidget(self.step_on)
        row.addWidget(self.entry, 1)
        row.addWidget(self.turn)
        left.addLayout(row)
        self._remark_sheet = sheet()
        inside = QVBoxLayout(self._remark_sheet)
        inside.addWidget(self.remark)
        self._grids = {wanted: self._key_grid(wanted) for wanted in (_NOTE_BUTTONS, _LINE_BUTTONS)}
        page = QWidget()
        # What is too wide is squeezed rather than cut.
        page.setMinimumWidth(1)
        column = QVBoxLayout(page)
        column.setContentsMargins(0, 0, 8, 0)
        for widget in (
            self.heading,
            self.signs,
            self.facts,
            self.others,
            self._remark_sheet,
            self.before,
            self.note,
            self._grids[_NOTE_BUTTONS],
            self.goes_on,
            self.asked,
            self.lines,
            self._grids[_LINE_BUTTONS],
        ):
            column.addWidget(widget)
        column.addLayout(self.suggestions)
        column.addStretch(1)
        self._page = QScrollArea()
        self._page.setFrameShape(QFrame.Shape.NoFrame)
        self._page.setWidgetResizable(True)
        self._page.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._page.setMinimumWidth(60)
        self._page.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._page.setWidget(page)
        self._columns = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self._columns.setSpacing(20)
        self._columns.addWidget(self._left, 1)
        self._columns.addWidget(self._page)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(16, 10, 12, 12)
        outer.addWidget(head)
        outer.addLayout(self._columns, 1)

    def _key_grid(self, wanted: Sequence[tuple[str, str, str, str]]) -> ButtonGrid:
        for name, text, key, tip in wanted:
            button = _button(f"{text}  [{key}]", tip)
            button.clicked.connect(lambda _checked=False, name=name: self.command.emit(name))
            self.buttons[name] = button
        return ButtonGrid([self.buttons[name] for name, *_ in wanted])

    def _connect(self) -> None:
        self._forwarder = KeyForwarder(self.entry, self.board)
        self.board.installEventFilter(self._forwarder)
        self.board.move_made.connect(self.played)
        self.entry.entered.connect(self.typed)
        self.entry.command.connect(self._on_command)
        self.lines.command.connect(self.command)
        self.lines.typed.connect(self._to_entry)
        self.lines.currentRowChanged.connect(self._row_chosen)
        self.note.written.connect(self.note_written)
        self.before.written.connect(self.before_written)
        for note in (self.note, self.before):
            note.finished.connect(self.take_keys)
        for button, name in (
            (self.back, "leave"),
            (self.undo, "undo"),
            (self.redo, "redo"),
            (self.save, "save"),
            (self.right, "right"),
            (self.step_back, "back"),
            (self.step_on, "on"),
            (self.turn, "flip"),
        ):
            button.clicked.connect(lambda _checked=False, name=name: self.command.emit(name))
        self._shortcut("Alt+Left", "back")
        self._shortcut("Alt+Right", "on")
        paste = QShortcut(QKeySequence(QKeySequence.StandardKey.Paste), self)
        paste.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
        paste.activated.connect(lambda: self.command.emit("paste"))

    def _shortcut(self, keys: str, name: str) -> None:
        shortcut = QShortcut(QKeySequence(keys), self)
        shortcut.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
        shortcut.activated.connect(lambda: self.command.emit(name))

    # -- showing -----------------------------------------------------------------------------

    def set_look(self, settings: Settings, look: Look) -> None:
        """Draw in another look."""
        set_up_board(self.board, settings, look.theme)
        self.lines.set_look(look)
        self._arrange()

    def show_position(
        self, board: chess.Board, last_move: chess.Move | None, *, animate: bool
    ) -> None:
        """Put a position on the board, on which either side may move."""
        self.board.set_arrows([])
        self.board.set_position(board, last_move, animate)
        self.board.set_interactive(True, None)
        self.shown.emit(board)

    def show_words(self, words: PageWords, signs: str, chosen: int) -> None:
        """The texts of a position; `chosen` is the number of the chosen line."""
        self.heading.setText(words.heading)
        self.opening.setText(words.opening)
        self._order = words.order or "This is where a section begins."
        for label, text in (
            (self.signs, signs),
            (self.facts, words.facts),
            (self.others, words.others),
            (self.asked, words.asked),
        ):
            label.setText(text)
            label.setVisible(bool(text))
        self.goes_on.setText("Goes on" if words.lines else "")
        self.goes_on.setVisible(bool(words.lines))
        self.lines.show_lines(words.lines, chosen)
        told = " ".join(text for text in (words.facts, words.others, words.asked) if text)
        for widget in (self.lines, self.entry):
            widget.setAccessibleDescription(f"{words.heading}. {told}")
        if self.lines.hasFocus() and not words.lines:
            # Before it is hidden, when Qt would give the keys to some button.
            self.entry.setFocus()
        self.lines.setVisible(bool(words.lines))
        self.setFocusProxy(self.lines if words.lines else self.entry)
        some = bool(words.lines)
        for name in ("main", "up", "down"):
            self.buttons[name].setEnabled(len(words.lines) > 1)
        self.buttons["delete"].setEnabled(some)
        self.buttons["other"].setEnabled(bool(words.others))
        self.step_on.setEnabled(some)
        self.entry.clear()
        self._fit_order()

    def show_notes(self, note: str | None, before: str | None) -> None:
        """The texts of the move; None where there is none to write."""
        self.note.setVisible(note is not None)
        self.before.setVisible(bool(before))
        self.note.show_text(note or "")
        self.before.show_text(before or "")
        for name in ("write", "plan", "trick"):
            self.buttons[name].setEnabled(note is not None)

    def say(self, sentence: str) -> None:
        """A remark on the page, or none."""
        self.remark.setText(sentence)
        self._remark_sheet.setVisible(bool(sentence))
        if sentence:
            self._page.verticalScrollBar().setValue(0)

    def show_state(self, state: str, *, undo: str, redo: str, save: bool) -> None:
        """What can be undone, as the tips say, and whether all is saved."""
        self.state.setText(state)
        self.undo.setEnabled(bool(undo))
        self.redo.setEnabled(bool(redo))
        self.undo.setToolTip(f"Undo {undo} (Ctrl+Z)" if undo else "Nothing to undo (Ctrl+Z)")
        self.redo.setToolTip(f"Redo {redo} (Ctrl+Shift+Z)" if redo else "Nothing to redo")
        self.save.setEnabled(save)
        self._fit_top()

    def take_keys(self) -> None:
        """Give the keys to the lines, or where there are none to the move line."""
        (self.lines if self.lines.count() else self.entry).setFocus()

    def keep_notes(self) -> None:
        """Take in what is being typed."""
        self.before.keep()
        self.note.keep()

    # -- inside ------------------------------------------------------------------------------

    def _row_chosen(self, row: int) -> None:
        if row >= 0:
            rect = self.lines.visualItemRect(self.lines.item(row))
            point = self.lines.mapTo(self._page.widget(), rect.center())
            self._page.ensureVisible(point.x(), point.y(), 0, rect.height() // 2 + 8)
            self.chosen.emit(row)

    def _on_command(self, name: str) -> None:
        if name == "lines":
            self.take_keys()
        else:
            self.command.emit(name)

    def _to_entry(self, event: QKeyEvent) -> None:
        self.entry.setFocus()
        if not self.entry.handle(event):
            self.entry.insert(event.text())
        elif not self.entry.text() and QApplication.focusWidget() is self.entry:
            self.take_keys()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.command.emit("leave")
        else:
            super().keyPressEvent(event)

    def resizeEvent(self, event: QResizeEvent) -> None:
        self._arrange()
        super().resizeEvent(event)

    def _arrange(self) -> None:
        """The board takes what height it can use; a narrow window stacks the two."""
        inner = self.width() - 28
        self._label_keys(with_keys=True)
        scrolled = self._page.verticalScrollBar().sizeHint().width() + 12
        widest = max(grid.minimumSizeHint().width() for grid in self._grids.values())
        least = widest + scrolled
        if least > inner:
            self._label_keys(with_keys=False)
        spare = inner - self.height() - self._columns.spacing()
        room = round(max(least, min(max(spare, inner * 0.42), inner * _MOST_PAGE)))
        beside = inner - room - self._columns.spacing() >= self.board.minimumWidth() + 60
        narrow = self.width() < self.height() * 1.05 or not beside
        self._columns.setDirection(
            QBoxLayout.Direction.TopToBottom if narrow else QBoxLayout.Direction.LeftToRight
        )
        # By shares, not by fixed widths: these would keep the window from becoming narrow.
        self._columns.setStretch(0, 5 if narrow else max(1, inner - room))
        self._columns.setStretch(1, 6 if narrow else room)
        self._page.setMaximumWidth(_LARGEST if narrow else room)
        most = max(round(self.height() * _MOST_BOARD), self.board.minimumHeight())
        self.board.setMaximumHeight(most if narrow else _LARGEST)
        self._fit_top()
        self._fit_order()

    def _label_keys(self, *, with_keys: bool) -> None:
        for wanted, grid in self._grids.items():
            texts = [f"{text}  [{key}]" if with_keys else text for _, text, key, _ in wanted]
            grid.set_texts(texts, short=False)

    def _fit_top(self) -> None:
        """Where there is no room for all buttons, the menu has them too."""
        for button in self._top:
            button.show()
        for button in self._top[:3]:
            if self._top_row.sizeHint().width() > self.width() - 28:
                button.hide()

    def _beside(self) -> bool:
        return self._columns.direction() == QBoxLayout.Direction.LeftToRight

    def _fit_order(self) -> None:
        """A long way is cut in front, where it is best known."""
        width = max(self._left.width(), self.board.minimumWidth())
        most = _ORDER_LINES if self._beside() else _ORDER_LINES - 1
        lines = fitted(self._order, self.order.fontMetrics(), width, most, front=True)
        self.order.setText("\n".join(lines))
        # In a small window, or with large type, the board has more need of the room.
        roomy = self._beside() or self.height() > _ROOMY * self.order.fontMetrics().lineSpacing()
        self.opening.setVisible(bool(self.opening.text()) and roomy)
        self.order.setToolTip(self._order)


def _button(text: str, tip: str) -> QToolButton:
    button = QToolButton()
    button.setText(text)
    button.setToolTip(tip)
    button.setAccessibleName(tip)
    return button
