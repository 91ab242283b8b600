"""Moments of a game: choose the game and the moves, then ask them, keep them, or hand them out."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import (
    QBoxLayout,
    QComboBox,
    QFileDialog,
    QFrame,
    QLineEdit,
    QPlainTextEdit,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from trainer.notation.display import shown_text
from trainer.storage.settings import Settings
from trainer.ui.button_grid import ButtonGrid
from trainer.ui.labels import text_label
from trainer.ui.lesson.draft_panel import DraftPanel
from trainer.ui.look import Look

if TYPE_CHECKING:
    from trainer.lesson.game import LessonGame
    from trainer.ui.lesson.facts import GameTitle

_NOTHING = (
    "Choose a file with games. Name the moves at which a student should stop, as 12w, 15b (the "
    "number of the move, and w or b for the side); they are asked on the board, and a score tells "
    "the share that was found."
)
_ROW = 560


class MomentsPanel(QWidget):
    """A game as text, the moves to ask, and below them the draft of notes."""

    file_chosen = Signal(object)
    #: The number of a game of the file.
    game_chosen = Signal(int)
    ask_wanted = Signal(str)
    keep_wanted = Signal(str)
    handout_wanted = Signal(str)
    #: The engine is to find the moments of the game.
    find_wanted = Signal()
    #: The moments that are named are to be edited.
    edit_wanted = Signal(str)
    #: The moves to ask were changed by the player.
    asked_changed = Signal(str)

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.look = look
        self.settings = Settings()
        #: Where moments are edited, once that was asked for.
        self.dialog: QWidget | None = None
        self._game: LessonGame | None = None
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
        self.edit = QPushButton("Ed&it these …")
        self.edit.setToolTip("Right moves, hints, wrong tries and words of each moment")
        self.text = QPlainTextEdit()
        self.notes = DraftPanel(look)
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
        self._top = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self._top.addWidget(self.choose)
        self._top.addWidget(self.games, 1)
        buttons = ButtonGrid((self.ask, self.edit, self.keep, self.hand_out))
        self._asked = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self._asked.addWidget(self.moves, 1)
        self._asked.addWidget(self.find)
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(0, 0, 6, 0)
        column.addLayout(self._top)
        column.addLayout(self._asked)
        column.addWidget(buttons)
        column.addWidget(self.said)
        column.addWidget(self.text, 1)
        column.addWidget(self.notes, 4)
        column.addStretch(0)
        self._scroll = QScrollArea()
        self._scroll.setFrameShape(QFrame.Shape.NoFrame)
        self._scroll.setWidgetResizable(True)
        self._scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._scroll.setWidget(inside)
        outside = QVBoxLayout(self)
        outside.setContentsMargins(0, 0, 0, 0)
        outside.addWidget(self._scroll)

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
        self.edit.clicked.connect(lambda _checked=False: self.edit_wanted.emit(self.moves.text()))
        self.moves.textEdited.connect(self.asked_changed)

    def set_look(self, settings: Settings, look: Look) -> None:
        """Draw in another look."""
        self.settings, self.look = settings, look
        self.notes.set_look(settings, look)
        self._fit()

    def show_titles(self, titles: Sequence[GameTitle]) -> None:
        """Offer the games of a file."""
        self._titles = tuple(titles)
        self.games.clear()
        self.games.addItems([one.title for one in titles])

    def show_game(self, game: LessonGame | None) -> None:
        """Show the moves of a game; None shows none."""
        self._game = game
        self.notes.show_game(game)
        self.text.setPlainText("" if game is None else self._outline(game))
        for widget in (
            self.text,
            self.edit,
            self.find,
            self.ask,
            self.keep,
            self.hand_out,
            self.moves,
        ):
            widget.setEnabled(game is not None)
        self.text.setVisible(game is not None)
        if game is not None:
            self.say(game.fault)

    def _outline(self, game: LessonGame) -> str:
        # Imported by then in the thread that read the game.
        from trainer.ui.lesson.facts import outline

        return shown_text(outline(game), self.look.notation)

    def say(self, sentence: str) -> None:
        """Show a sentence above the game."""
        self.said.setText(sentence)
        self.said.setVisible(bool(sentence))

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        wide = self.width() >= _ROW * self.look.scale
        direction = QBoxLayout.Direction
        self.text.setMaximumHeight(5 * self.text.fontMetrics().lineSpacing())
        for layout in (self._top, self._asked):
            layout.setDirection(direction.LeftToRight if wide else direction.TopToBottom)

    def _choose_file(self) -> None:
        name, _kind = QFileDialog.getOpenFileName(
            self, "Choose games", "", "Games (*.pgn);;All files (*)"
        )
        if name:
            self.file_chosen.emit(Path(name))
