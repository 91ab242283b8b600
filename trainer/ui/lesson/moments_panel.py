"""Moments of a game: choose the game and the moves, then ask them, keep them, or hand them out."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import (
    QBoxLayout,
    QComboBox,
    QFileDialog,
    QHBoxLayout,
    QLineEdit,
    QPlainTextEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from trainer.notation.display import shown_text
from trainer.ui.button_grid import ButtonGrid
from trainer.ui.labels import text_label
from trainer.ui.look import Look

if TYPE_CHECKING:
    from trainer.lesson.game import LessonGame
    from trainer.lesson.narrate import Draft
    from trainer.ui.lesson.facts import GameTitle

_NOTHING = (
    "Choose a file with games. Name the moves at which a student should stop, as 12w, 15b (the "
    "number of the move, and w or b for the side); they are asked on the board, and a score tells "
    "the share that was found."
)
_ROW = 560


class MomentsPanel(QWidget):
    """A game as text, the moves to ask, and a draft of notes to edit."""

    file_chosen = Signal(object)
    #: The number of a game of the file.
    game_chosen = Signal(int)
    ask_wanted = Signal(str)
    keep_wanted = Signal(str)
    handout_wanted = Signal(str)
    #: The engine is to find the moments of the game.
    find_wanted = Signal()
    #: A draft of notes for the game is wanted.
    draft_wanted = Signal()
    #: A sentence of the draft was changed: its number and its words.
    sentence_changed = Signal(int, str)

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._look = look
        self._game: LessonGame | None = None
        self._draft: Draft | None = None
        self._titles: tuple[GameTitle, ...] = ()
        self.choose = QPushButton("Choose &games …")
        self.games = QComboBox()
        self.moves = QLineEdit()
        self.find = QPushButton("Find &moments")
        self.ask = QPushButton("&Ask these")
        self.keep = QPushButton("&Keep these")
        self.find.setToolTip("Let the engine look for the critical moments of the game")
        self.keep.setToolTip("Keep these moments for repetition")
        self.hand_out = QPushButton("Hand &out …")
        self.text = QPlainTextEdit()
        self.draft = QPushButton("D&raft notes")
        self.sentences = QComboBox()
        self.words = QPlainTextEdit()
        self.fact = text_label("", "muted")
        self.said = text_label("", "muted")
        self._build()
        self._connect()
        self.show_game(None)
        self.say(_NOTHING)

    def _build(self) -> None:
        self.games.setAccessibleName("The game")
        self.games.setMinimumWidth(60)
        # A file may hold very many games: the box does not measure them all.
        self.games.setSizeAdjustPolicy(
            QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon
        )
        self.moves.setAccessibleName("Moves to ask")
        self.moves.setPlaceholderText("Moves to ask, as 12w, 15b")
        self.moves.setMinimumWidth(60)
        self.text.setReadOnly(True)
        self.text.setTabChangesFocus(True)
        self.text.setAccessibleName("The moves of the game")
        self.sentences.setAccessibleName("The sentences of the draft")
        self.sentences.setMinimumWidth(60)
        self.words.setTabChangesFocus(True)
        self.words.setAccessibleName("The words of the sentence")
        self._top = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self._top.addWidget(self.choose)
        self._top.addWidget(self.games, 1)
        self._asked = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self._asked.addWidget(self.moves, 1)
        self._asked.addWidget(ButtonGrid((self.find, self.ask, self.keep, self.hand_out)), 2)
        notes = QHBoxLayout()
        notes.addWidget(self.draft)
        notes.addWidget(self.sentences, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addLayout(self._top)
        column.addLayout(self._asked)
        column.addWidget(self.said)
        column.addWidget(self.text, 3)
        column.addLayout(notes)
        column.addWidget(self.words, 1)
        column.addWidget(self.fact)
        column.addStretch(0)

    def _connect(self) -> None:
        self.choose.clicked.connect(lambda _checked=False: self._choose_file())
        self.games.activated.connect(lambda row: self.game_chosen.emit(self._titles[row].number))
        self.find.clicked.connect(lambda _checked=False: self.find_wanted.emit())
        self.ask.clicked.connect(lambda _checked=False: self.ask_wanted.emit(self.moves.text()))
        self.moves.returnPressed.connect(lambda: self.ask_wanted.emit(self.moves.text()))
        self.keep.clicked.connect(lambda _checked=False: self.keep_wanted.emit(self.moves.text()))
        self.hand_out.clicked.connect(
            lambda _checked=False: self.handout_wanted.emit(self.moves.text())
        )
        self.draft.clicked.connect(lambda _checked=False: self.draft_wanted.emit())
        self.sentences.activated.connect(self._show_sentence)
        self.words.textChanged.connect(self._change_sentence)

    def set_look(self, look: Look) -> None:
        """Draw in another look."""
        self._look = look
        self._fit()

    def show_titles(self, titles: Sequence[GameTitle]) -> None:
        """Offer the games of a file."""
        self._titles = tuple(titles)
        self.games.clear()
        self.games.addItems([one.title for one in titles])

    def show_game(self, game: LessonGame | None) -> None:
        """Show the moves of a game; None shows none."""
        self._game = game
        self.show_draft(None)
        self.text.setPlainText("" if game is None else self._outline(game))
        for widget in (
            self.text,
            self.draft,
            self.find,
            self.ask,
            self.keep,
            self.hand_out,
            self.moves,
        ):
            widget.setEnabled(game is not None)
        self.text.setVisible(game is not None)
        self.draft.setVisible(game is not None)
        if game is not None:
            self.say(game.fault)

    def _outline(self, game: LessonGame) -> str:
        # Imported by then in the thread that read the game.
        from trainer.ui.lesson.facts import outline

        return shown_text(outline(game), self._look.notation)

    def show_draft(self, draft: Draft | None) -> None:
        """Offer the sentences of a draft, each to be edited."""
        row = self.sentences.currentIndex() if self._draft is not None else 0
        self._draft = None
        self.sentences.clear()
        for one in () if draft is None else draft.sentences:
            where = draft.game.numbered(one.ply) if one.ply else "Before the first move"
            self.sentences.addItem(f"{where}: {one.text}")
        self._draft = draft
        shown = draft is not None and bool(draft.sentences)
        for widget in (self.sentences, self.words, self.fact):
            widget.setVisible(shown)
        if shown:
            self.sentences.setCurrentIndex(min(max(row, 0), self.sentences.count() - 1))
            self._show_sentence(self.sentences.currentIndex())

    def say(self, sentence: str) -> None:
        """Show a sentence above the game."""
        self.said.setText(sentence)
        self.said.setVisible(bool(sentence))

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        wide = self.width() >= _ROW * self._look.scale
        direction = QBoxLayout.Direction
        for layout in (self._top, self._asked):
            layout.setDirection(direction.LeftToRight if wide else direction.TopToBottom)

    def _choose_file(self) -> None:
        name, _kind = QFileDialog.getOpenFileName(
            self, "Choose games", "", "Games (*.pgn);;All files (*)"
        )
        if name:
            self.file_chosen.emit(Path(name))

    def _show_sentence(self, row: int) -> None:
        draft = self._draft
        if draft is None or not 0 <= row < len(draft.sentences):
            return
        one = draft.sentences[row]
        self._draft = None  # nothing is changed by being shown
        self.words.setPlainText(one.text)
        self._draft = draft
        kind = "your own words" if one.fact is None else type(one.fact).__name__
        edited = ", edited" if one.edited and one.fact is not None else ""
        self.fact.setText(f"Stands on: {_FACTS.get(kind, kind)}{edited}")

    def _change_sentence(self) -> None:
        row = self.sentences.currentIndex()
        if self._draft is None or row < 0:
            return
        text = self.words.toPlainText().strip()
        if text and text != self._draft.sentences[row].text:
            self.sentence_changed.emit(row, text)

    def take_draft(self, draft: Draft) -> None:
        """The draft with the words just written; the list follows, the cursor stays."""
        self._draft = draft
        row = self.sentences.currentIndex()
        one = draft.sentences[row]
        where = draft.game.numbered(one.ply) if one.ply else "Before the first move"
        self.sentences.setItemText(row, f"{where}: {one.text}")


_FACTS = {
    "OpeningFact": "the name of the position in the opening table",
    "StructureFact": "where the pawns stand",
    "BreakFact": "the pawn that was moved, and what guards its square",
    "TrickFact": "the capture and its answer on the board",
    "DepartureFact": "the moves of the repertoire in that position",
    "ReentryFact": "the positions of the repertoire",
    "NoveltyFact": "the games of the reference base",
    "MomentFact": "what an engine found",
    "EndFact": "the result and the last position",
}
