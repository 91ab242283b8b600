"""A draft of notes, sentence by sentence: to edit, to add to, to reorder, to trace on a board."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeySequence, QResizeEvent, QShortcut
from PySide6.QtWidgets import (
    QBoxLayout,
    QComboBox,
    QListWidget,
    QPlainTextEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from trainer.notation.display import shown_text
from trainer.storage.settings import Settings
from trainer.ui.button_grid import ButtonGrid
from trainer.ui.labels import text_label, wrap_items
from trainer.ui.look import Look
from trainer.ui.orders.still_board import StillBoard

if TYPE_CHECKING:
    from trainer.lesson.game import LessonGame
    from trainer.lesson.narrate import Draft

#: Below this width (at 100 %) the board stands under the words.
_BESIDE = 620
_BOARD = 300
_BEGINNING = "Before the first move"
_NEW = "…"


class DraftPanel(QWidget):
    """Nothing is changed here: what the player wants goes out as a signal, a draft comes back."""

    draft_wanted = Signal()
    #: The number of a sentence and its new words.
    changed = Signal(int, str)
    #: A new sentence behind a half-move, and the number of the one it stands after (-1: none).
    added = Signal(int, int)
    deleted = Signal(int)
    #: A sentence is to go up (-1) or down (1).
    moved = Signal(int, int)

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._look = look
        self._game: LessonGame | None = None
        self._draft: Draft | None = None
        self.make = QPushButton("D&raft notes")
        self.where = QComboBox()
        self.add = QPushButton("Add a &sentence")
        self.delete = QPushButton("&Delete")
        self.up = QPushButton("&Up")
        self.down = QPushButton("Do&wn")
        self.sentences = QListWidget()
        self.words = QPlainTextEdit()
        self.fact = text_label("", "muted")
        self.board = StillBoard(look)
        self._build()
        self._connect()
        self.show_game(None)

    def _build(self) -> None:
        self.where.setAccessibleName("The move behind which a sentence is added")
        self.where.setMinimumWidth(60)
        self.where.setSizeAdjustPolicy(
            QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon
        )
        self.where.setMinimumContentsLength(12)
        self.sentences.setAccessibleName("The sentences of the draft")
        self.sentences.setMinimumSize(60, 90)
        wrap_items(self.sentences)
        self.sentences.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.words.setTabChangesFocus(True)
        self.words.setAccessibleName("The words of the sentence")
        self.words.setMinimumSize(60, 56)
        self.board.setAccessibleName("What the sentence stands on")
        self.up.setToolTip("Ctrl+Up")
        self.down.setToolTip("Ctrl+Down")
        self._buttons = ButtonGrid((self.add, self.delete, self.up, self.down))
        self._first = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self._first.addWidget(self.make)
        self._first.addWidget(self.where, 1)
        words = QVBoxLayout()
        words.addLayout(self._first)
        words.addWidget(self._buttons)
        words.addWidget(self.sentences, 3)
        words.addWidget(self.words, 2)
        words.addWidget(self.fact)
        self._split = QBoxLayout(QBoxLayout.Direction.LeftToRight, self)
        self._split.setContentsMargins(0, 0, 0, 0)
        self._split.setSpacing(14)
        self._split.addLayout(words, 1)
        self._split.addWidget(self.board, 0, Qt.AlignmentFlag.AlignTop)

    def _connect(self) -> None:
        self.make.clicked.connect(lambda _checked=False: self.draft_wanted.emit())
        self.add.clicked.connect(lambda _checked=False: self._add())
        self.delete.clicked.connect(lambda _checked=False: self._delete())
        self.up.clicked.connect(lambda _checked=False: self._move(-1))
        self.down.clicked.connect(lambda _checked=False: self._move(1))
        for key, by in (("Ctrl+Up", -1), ("Ctrl+Down", 1)):
            shortcut = QShortcut(QKeySequence(key), self)
            shortcut.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
            shortcut.activated.connect(lambda by=by: self._move(by))
        delete = QShortcut(QKeySequence(Qt.Key.Key_Delete), self.sentences)
        delete.setContext(Qt.ShortcutContext.WidgetShortcut)
        delete.activated.connect(self._delete)
        self.sentences.currentRowChanged.connect(self._show_sentence)
        self.where.activated.connect(self._show_place)
        self.words.textChanged.connect(self._change)

    def set_look(self, settings: Settings, look: Look) -> None:
        """Draw in another look."""
        self._look = look
        self.board.set_look(settings, look)
        self._fit()

    def show_game(self, game: LessonGame | None) -> None:
        """Begin with another game, which has no draft yet."""
        self._game = game
        self.make.setVisible(game is not None)
        self.where.clear()
        if game is not None:
            self.where.addItem(_BEGINNING)
            for ply in range(1, len(game.moves) + 1):
                self.where.addItem(self._shown(game.numbered(ply)))
        self.show_draft(None)

    def show_draft(self, draft: Draft | None, row: int = 0) -> None:
        """Offer the sentences of a draft, with one of them chosen."""
        self._draft = None
        self.sentences.clear()
        for one in () if draft is None else draft.sentences:
            self.sentences.addItem(self._line(draft, one.ply, one.text))
        self._draft = draft
        for widget in (
            *(self.sentences, self.words, self.fact, self.board),
            *(self.where, self._buttons),
        ):
            widget.setVisible(draft is not None)
        some = draft is not None and bool(draft.sentences)
        for widget in (self.words, self.delete, self.up, self.down):
            widget.setEnabled(some)
        if draft is not None and draft.sentences:
            self.sentences.setCurrentRow(max(0, min(row, len(draft.sentences) - 1)))
        elif draft is not None:
            self._clear()

    def write(self) -> None:
        """Let the player write the sentence that is chosen."""
        self.words.setFocus()
        self.words.selectAll()

    def take(self, draft: Draft) -> None:
        """The draft with the words just written; the list follows, the cursor stays."""
        self._draft = draft
        row = self.sentences.currentRow()
        one = draft.sentences[row]
        self.sentences.item(row).setText(self._line(draft, one.ply, one.text))
        self._show_fact(row)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        scale = self._look.scale
        beside = self.width() >= _BESIDE * scale
        direction = QBoxLayout.Direction
        self._split.setDirection(direction.LeftToRight if beside else direction.TopToBottom)
        narrow = self.width() < 360 * scale
        self._first.setDirection(direction.TopToBottom if narrow else direction.LeftToRight)
        side = round(min(_BOARD * scale, self.width() * (0.42 if beside else 0.9)))
        self.board.setFixedSize(max(160, side), max(160, side))

    def _shown(self, text: str) -> str:
        return shown_text(text, self._look.notation)

    def _line(self, draft: Draft, ply: int, text: str) -> str:
        where = draft.game.numbered(ply) if ply else _BEGINNING
        return self._shown(f"{where}: {text or _NEW}")

    def _clear(self) -> None:
        draft, self._draft = self._draft, None
        self.words.setPlainText("")
        self.fact.setText("")
        self._draft = draft
        self._show_place(self.where.currentIndex())

    def _show_sentence(self, row: int) -> None:
        draft = self._draft
        if draft is None or not 0 <= row < len(draft.sentences):
            return
        one = draft.sentences[row]
        self._draft = None  # nothing is changed by being shown
        self.words.setPlainText(one.text)
        self._draft = draft
        self.where.setCurrentIndex(one.ply)
        self._show_fact(row)

    def _show_fact(self, row: int) -> None:
        # Imported by then in the thread that made the draft.
        from trainer.lesson.trace import trace_of

        draft = self._draft
        if draft is None:
            return
        one = draft.sentences[row]
        trace = trace_of(draft.game, one.ply, one.fact)
        edited = " You have changed the words." if one.fact is not None and one.edited else ""
        lead = "" if one.fact is None else "Stands on: "
        self.fact.setText(self._shown(f"{lead}{trace.text}{edited}"))
        self.board.set_position(trace.board)
        self.board.set_arrows(list(trace.arrows))
        self.board.set_marks(trace.marks)

    def _show_place(self, ply: int) -> None:
        if self._game is not None and 0 <= ply < len(self._game.boards):
            self.board.set_position(
                self._game.boards[ply], self._game.moves[ply - 1] if ply else None
            )
            self.board.set_arrows([])
            self.board.set_marks(())

    def _change(self) -> None:
        row = self.sentences.currentRow()
        if self._draft is None or not 0 <= row < len(self._draft.sentences):
            return
        text = self.words.toPlainText().strip()
        if text and text != self._draft.sentences[row].text:
            self.changed.emit(row, text)

    def _add(self) -> None:
        row, draft = self.sentences.currentRow(), self._draft
        if draft is not None:
            ply = max(0, self.where.currentIndex())
            same = 0 <= row < len(draft.sentences) and draft.sentences[row].ply == ply
            self.added.emit(ply, row if same else -1)

    def _delete(self) -> None:
        if self._draft is not None and self.sentences.currentRow() >= 0:
            self.deleted.emit(self.sentences.currentRow())

    def _move(self, by: int) -> None:
        if self._draft is not None and self.sentences.currentRow() >= 0:
            self.moved.emit(self.sentences.currentRow(), by)
