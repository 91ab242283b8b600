"""Critical moments of a game of the player's: found on request, told in words, on the ribbon."""

from __future__ import annotations

from typing import TYPE_CHECKING

import chess
from PySide6.QtCore import QObject, Qt
from PySide6.QtWidgets import QPushButton, QVBoxLayout, QWidget

from trainer.notation.display import shown_san
from trainer.position import unpack_position
from trainer.ui.labels import text_label
from trainer.ui.position_row import clear_layout

if TYPE_CHECKING:
    from trainer.engine.moments import Moment
    from trainer.notation.display import Notation
    from trainer.ui.engine.adviser import Adviser
    from trainer.ui.engine.worker import Request
    from trainer.ui.games.entries import GameEntry
    from trainer.ui.games.page import GamePage


class MomentsBesideGame(QObject):
    """Puts a panel into the page of one game; what was found stays with the game."""

    def __init__(self, adviser: Adviser, page: GamePage) -> None:
        super().__init__(page)
        self._adviser, self._page = adviser, page
        self._entry: GameEntry | None = None
        self._moves: tuple[chess.Move, ...] = ()
        self._request: Request | None = None
        self._found: tuple[Moment, ...] | None = None
        self.panel = QWidget()
        self.button = QPushButton("Find critical &moments")
        self.button.setToolTip("With the engine: where one move mattered, where the game turned")
        self.state = text_label("", "muted")
        self._list = QVBoxLayout()
        column = QVBoxLayout(self.panel)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(text_label("Critical moments", "heading"))
        column.addWidget(self.button, 0, Qt.AlignmentFlag.AlignLeft)
        column.addWidget(self.state)
        column.addLayout(self._list)
        self.button.clicked.connect(lambda _checked=False: self.find())
        page.base_slot.insertWidget(0, self.panel)
        page.stepped.connect(self._stepped)
        self._say("")

    def find(self) -> None:
        """Look for the moments of the game shown."""
        entry, moves = self._entry, self._moves
        if entry is None or self._request is not None:
            return
        if not moves:
            self._say("This game has no moves.")
            return
        self._say("The engine goes through the game …")
        self.button.setEnabled(False)
        self._request = self._adviser.moments(
            unpack_position(entry.game.packed_at(0)),
            moves,
            done=self._take,
            failed=self._fail,
            told=lambda share: self._say(f"The engine goes through the game: {share:.0%}"),
        )
        self.button.setEnabled(self._request is None)

    def _take(self, found: tuple[Moment, ...]) -> None:
        self._request = None
        self._show(found)

    def _fail(self, sentence: str) -> None:
        self._request = None
        self.button.setEnabled(True)
        self._say(sentence)

    def _stepped(self, _board: chess.Board, entry: GameEntry) -> None:
        if entry is self._entry:
            if self._found is not None:
                self._mark(self._found)
            return
        self._entry, self._moves, self._found = entry, _moves(entry), None
        self._adviser.give_up(self._request)
        self._request = None
        clear_layout(self._list)
        self._say("")
        self.button.setEnabled(True)
        self.button.show()
        start = unpack_position(entry.game.packed_at(0))
        known = self._adviser.known_moments(start, self._moves)
        if known is not None:
            self._show(known)

    def _show(self, found: tuple[Moment, ...]) -> None:
        self._found = found
        self.button.hide()
        clear_layout(self._list)
        self._say("" if found else "Nowhere did one move matter much more than the others.")
        for moment in found:
            assert self._entry is not None
            notation = self._adviser.settings.notation
            said = text_label(moment_sentence(moment, self._entry, notation))
            self._list.addWidget(said)
            button = QPushButton(f"Show move {self._entry.game.number_of(moment.ply)}")
            button.setToolTip("The position before this move")
            button.clicked.connect(lambda _checked=False, ply=moment.ply: self._page.go(ply - 1))
            self._list.addWidget(button, 0, Qt.AlignmentFlag.AlignLeft)
        self._mark(found)

    def _mark(self, found: tuple[Moment, ...]) -> None:
        self._page.ribbon.add_marks({moment.ply: _mark(moment) for moment in found})

    def _say(self, text: str) -> None:
        self.state.setText(text)
        self.state.setVisible(bool(text))


def _moves(entry: GameEntry) -> tuple[chess.Move, ...]:
    return tuple(move for _board, move in entry.game.boards() if move is not None)


def _mark(moment: Moment) -> str:
    return "the game turns" if moment.kind.value == "turn" else "only move"


def moment_sentence(moment: Moment, entry: GameEntry, notation: Notation) -> str:
    """One moment in a few words: the move, what it did, what was better."""
    from trainer.games.sentences import move_text

    board = chess.Board(moment.fen)
    best = shown_san(board.san(chess.Move.from_uci(moment.best)), notation)
    where = move_text(entry.game, moment.ply, notation)
    before, after = moment.before.words(moment.side), moment.after.words(moment.side)
    if moment.kind.value == "turn":
        return f"{where} turned the game; {best} was better. Before: {before}. After: {after}."
    if moment.found:
        return f"{where} was the only good move, and it was found."
    return f"At {where} the only good move was {best}."
