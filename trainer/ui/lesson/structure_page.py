"""One structure: positions of the repertoire that have it, its breaks, plans, and tricks there."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import TYPE_CHECKING

import chess
from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QBoxLayout,
    QHBoxLayout,
    QListWidget,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from trainer.notation.display import shown_text
from trainer.storage.settings import Settings
from trainer.ui.button_grid import ButtonGrid
from trainer.ui.kept_text import KeptText
from trainer.ui.labels import text_label, wrap_items
from trainer.ui.look import Look
from trainer.ui.orders.panel import BoardPanel
from trainer.ui.orders.still_board import StillBoard

if TYPE_CHECKING:
    from trainer.lesson.games import GameStructure
    from trainer.lesson.shares import StructureShare
    from trainer.lesson.structures import Found
    from trainer.lesson.tricks import Trick
    from trainer.ui.lesson.facts import PositionFacts

# What the page says comes from `structure_words`, which is imported when there is something to
# say: by then the thread that looked it up has loaded what stands behind it.

#: Below this width (at 100 %) the words stand under the board.
_BESIDE = 640
_MOST_BOARD = 420


class StructurePage(BoardPanel):
    """A board with the breaks drawn as arrows and numbered as in the words beside it."""

    #: Another position of the structure is wanted: one on or one back.
    stepped = Signal(int)
    #: Whether the tricks hold is to be asked.
    judge_wanted = Signal()
    breaks_wanted = Signal()
    tricks_wanted = Signal()
    model_games_wanted = Signal()
    #: The row of a game of the base that is to be shown.
    game_wanted = Signal(int)
    #: The tricks on the board are to be written as notes.
    note_wanted = Signal()
    handout_wanted = Signal()

    def __init__(self, settings: Settings, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._look = look
        self.board = StillBoard(look)
        self.title = text_label("", "title")
        self.met = text_label("", "note")
        #: How often it occurred in the player's own games.
        self.games = text_label("", "muted")
        self.back = QPushButton("‹")
        self.on = QPushButton("›")
        self.place = text_label("", "muted")
        self.order = text_label("")
        self.words = text_label("")
        self.plans = text_label("")
        self.tricks = text_label("")
        self.judge = QPushButton("Ask the &engine")
        self.note = QPushButton("Note the&m")
        self.note.setToolTip("Write the tricks of this board as notes of the move that leads here")
        self.editor = KeptText(
            "Your own &plan",
            "Your own plan for this structure",
            "Shown in the drill wherever this structure occurs",
        )
        self.ask = QPushButton("Ask for &breaks")
        self.ask_tricks = QPushButton("Ask for &tricks")
        self.model_games = QPushButton("Model &games")
        self.model_games.setToolTip("Games of the reference base with this structure")
        self.hand_out = QPushButton("Hand &out …")
        #: Games of the reference base with this structure, once they were asked for.
        self.found_games = QListWidget()
        self._found_titles: list[str] = []
        self.found_said = text_label("", "muted")
        self._headings = {
            name: text_label(name, "heading") for name in ("Plans", "On this board", "Tricks")
        }
        self._build()
        self._connect()
        self.show_model_games((), "")
        self.set_look(settings, look)

    def _build(self) -> None:
        self.back.setAccessibleName("The position before")
        self.on.setAccessibleName("The next position")
        steps = QHBoxLayout()
        for button in (self.back, self.on):
            steps.addWidget(button)
        steps.addWidget(self.place, 1)
        left = QVBoxLayout()
        left.addWidget(self.board, 0, Qt.AlignmentFlag.AlignLeft)
        left.addLayout(steps)
        left.addWidget(self.order)
        left.addStretch(1)
        right = QVBoxLayout()
        for widget in (
            *(self._headings["Plans"], self.plans),
            *(self._headings["On this board"], self.words),
            *(self._headings["Tricks"], self.tricks),
        ):
            right.addWidget(widget)
        beside = QHBoxLayout()
        beside.addWidget(self.judge)
        beside.addWidget(self.note)
        beside.addStretch(1)
        right.addLayout(beside)
        right.addStretch(1)
        self._split = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self._split.setSpacing(18)
        self._split.addLayout(left)
        self._split.addLayout(right, 1)
        buttons = ButtonGrid((self.ask, self.ask_tricks, self.model_games, self.hand_out))
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 8, 8)
        column.setSpacing(10)
        column.addWidget(self.title)
        column.addWidget(self.met)
        column.addWidget(self.games)
        column.addLayout(self._split)
        column.addWidget(self.editor)
        column.addWidget(buttons)
        column.addWidget(self.found_said)
        column.addWidget(self.found_games)
        self.found_games.setAccessibleName("Games of the reference base with this structure")
        self.found_games.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.found_games.setMinimumWidth(60)
        self.found_games.setSpacing(2)
        wrap_items(self.found_games)
        column.addStretch(1)

    def _connect(self) -> None:
        self.back.clicked.connect(lambda _checked=False: self.stepped.emit(-1))
        self.on.clicked.connect(lambda _checked=False: self.stepped.emit(1))
        self.judge.clicked.connect(lambda _checked=False: self.judge_wanted.emit())
        self.ask.clicked.connect(lambda _checked=False: self.breaks_wanted.emit())
        self.ask_tricks.clicked.connect(lambda _checked=False: self.tricks_wanted.emit())
        self.model_games.clicked.connect(lambda _checked=False: self.model_games_wanted.emit())
        self.found_games.itemActivated.connect(
            lambda _item: self.game_wanted.emit(self.found_games.currentRow())
        )
        self.note.clicked.connect(lambda _checked=False: self.note_wanted.emit())
        self.hand_out.clicked.connect(lambda _checked=False: self.handout_wanted.emit())
        self.back.setToolTip("Alt+Left")
        self.on.setToolTip("Alt+Right")

    def set_look(self, settings: Settings, look: Look) -> None:
        """Draw in another look."""
        self._look = look
        self.board.set_look(settings, look)
        self._fit()

    def show_structure(self, share: StructureShare, side: chess.Color, plan: str) -> None:
        """Show a structure, its share and plans; its position comes with `show_facts`."""
        from trainer.ui.lesson import structure_words as words

        found = share.found
        self.title.setText(found.name)
        self.met.setText(words.met(share))
        self.plans.setText(self._shown("\n".join(words.plan_lines(found, side))))
        self.editor.show_text(plan)

    def show_model_games(
        self, titles: Sequence[str], sentence: str, *, looking: bool = False
    ) -> None:
        """Games of the base, Enter on one shows it; nothing where there is nothing to say.

        While `looking` the button that began it stops it.
        """
        self.model_games.setText("Stop lookin&g" if looking else "Model &games")
        if list(titles) != self._found_titles:
            self._list_found(titles)
        self.found_games.setVisible(bool(titles))
        self.found_said.setText(sentence)
        self.found_said.setVisible(bool(sentence))

    def _list_found(self, titles: Sequence[str]) -> None:
        """The list anew, the same game chosen while it is among them."""
        listed, row = self.found_games, self.found_games.currentRow()
        chosen = self._found_titles[row] if 0 <= row < len(self._found_titles) else ""
        self._found_titles = list(titles)
        listed.clear()
        listed.addItems(self._found_titles)
        for number, title in enumerate(titles):
            listed.item(number).setToolTip(title)
        listed.setCurrentRow(titles.index(chosen) if chosen in titles else 0)
        listed.setFixedHeight(
            (listed.sizeHintForRow(0) + 4) * min(len(titles), 6) + 8 if titles else 0
        )

    def show_games(
        self, found: Mapping[str, GameStructure], key: str, known: Collection[str]
    ) -> None:
        """In how many of the player's games the structure `key` stood, and where longest.

        Then what else they come to that is not among the `known` ones.
        """
        from trainer.ui.lesson import structure_words as words

        here = [words.own_games(found[key])] if key in found else []
        others = words.other_structures(found.values(), known)
        text = " ".join([*here, others]).strip()
        self.games.setVisible(bool(text))
        self.games.setText(text)

    def show_facts(self, facts: PositionFacts, found: Found, *, number: int, count: int) -> None:
        """Show one of its positions, `number` (from 1) of `count`."""
        from trainer.ui.lesson import structure_words as words

        self.board.set_position(facts.board)
        usual = words.usual_breaks(facts.features, found)
        self.board.set_arrows([(one.start, one.target) for one in usual])
        self.place.setText(f"Position {number} of {count}")
        self.back.setEnabled(count > 1)
        self.on.setEnabled(count > 1)
        since = f" (the structure stands since {facts.since})" if facts.since else ""
        self.order.setText(self._shown(f"{facts.order}{since}"))
        self.words.setText("\n".join(words.board_lines(facts, usual)))
        self.show_tricks(facts.tricks)
        self._fit()

    def offer_note(self, offered: bool) -> None:
        """Whether there is a trick here that can be noted."""
        self.note.setVisible(offered)

    def show_tricks(self, tricks: Sequence[Trick]) -> None:
        """The tricks of the board, each with the word of the engine where it was asked."""
        from trainer.ui.lesson import structure_words as words

        told = words.trick_lines(tricks)
        self.tricks.setText(self._shown("\n".join(told)))
        for part in (self._headings["Tricks"], self.tricks):
            part.setVisible(bool(told))
        self.judge.setVisible(any(one.answer and one.confirmed is None for one in tricks))

    def _fit(self) -> None:
        scale = self._look.scale
        beside = self.width() >= _BESIDE * scale
        direction = QBoxLayout.Direction
        self._split.setDirection(direction.LeftToRight if beside else direction.TopToBottom)
        share = self.width() * 0.46 if beside else self.width() - 20
        side = max(160, round(min(share, _MOST_BOARD * scale)))
        self.board.setFixedSize(side, side)

    def _shown(self, text: str) -> str:
        # Castling is one word: no line ends inside it.
        return (
            shown_text(text, self._look.notation)
            .replace("O-O", "O\u2011O")
            .replace("O\u2011O-O", "O\u2011O\u2011O")
        )
