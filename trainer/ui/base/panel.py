"""What the reference base holds of a position: its moves with results, and games through it.

    panel = PositionPanel(desk)          # `desk` is the window's `BaseDesk`
    panel.show_position(board)           # a `chess.Board`; looked up off the window's thread
    panel.set_look(look)
    panel.game_chosen.connect(...)       # a `trainer.games.base.figures.GameEntry`
    panel.move_chosen.connect(...)       # a `chess.Move` that was opened in the table

The desk answers `game_chosen` itself by showing the game on a board of its own.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtWidgets import QPushButton, QSizePolicy, QVBoxLayout, QWidget

from trainer.notation.numbers import count
from trainer.ui.base.tables import GamesTable, MoveTable
from trainer.ui.labels import text_label

if TYPE_CHECKING:
    import chess

    from trainer.ui.base.desk import BaseDesk
    from trainer.ui.base.rows import Found
    from trainer.ui.look import Look
    from trainer.ui.tasks import TaskControl

_NO_BASE = "No reference base is chosen: there are no games to compare with."
_MOST_MOVES, _MOST_GAMES = 8, 6


class PositionPanel(QWidget):
    """Moves, counts, results and years of one position, and the games that reached it."""

    #: A `GameEntry` of the base that the player opened.
    game_chosen = Signal(object)
    #: A `chess.Move` that the player opened.
    move_chosen = Signal(object)

    def __init__(self, desk: BaseDesk, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._desk = desk
        self._board: chess.Board | None = None
        self._task: TaskControl | None = None
        self.found: Found | None = None
        self._heading = text_label("This position in the reference base", "heading")
        self.status = text_label(_NO_BASE, "muted")
        self.choose = QPushButton("Choose a &reference base …")
        self.moves = MoveTable(desk.look)
        self.listed = text_label("", "muted")
        self.games = GamesTable(desk.look)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        for widget in (self._heading, self.status):
            column.addWidget(widget)
        column.addWidget(self.choose, 0, Qt.AlignmentFlag.AlignLeft)
        for widget in (self.moves, self.listed, self.games):
            column.addWidget(widget)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Maximum)
        self.choose.clicked.connect(lambda _checked=False: desk.show_dialog())
        self.moves.opened.connect(lambda row: self.move_chosen.emit(row.move))
        self.games.opened.connect(self.game_chosen)
        self.game_chosen.connect(lambda game: desk.show_game(game, self._board))
        self.moves.measured.connect(self._fit)
        self.games.measured.connect(self._fit)
        desk.changed.connect(self._look_up)
        desk.look_changed.connect(self.set_look)
        self._show(None)

    def set_look(self, look: Look) -> None:
        """Draw in another look."""
        self.moves.set_look(look)
        self.games.set_look(look)
        self._fit()

    def show_position(self, board: chess.Board | None) -> None:
        """Show what the base holds of the position on `board`; nothing for None."""
        self._board = None if board is None else board.copy(stack=False)
        self._look_up()

    def _look_up(self) -> None:
        if self._task is not None:
            self._task.cancel()
            self._task = None
        board = self._board
        if board is None or not self._desk.has_base:
            self._show(None)
            return
        self._task = self._desk.look_up(board, self._show, self._fail)

    def _fail(self, sentence: str) -> None:
        self._show(None)
        self.status.setText(sentence)
        self.choose.show()

    def _show(self, found: Found | None) -> None:
        self._task = None
        self.found = found
        self.choose.setVisible(not self._desk.has_base)
        has_moves = found is not None and bool(found.moves)
        has_games = found is not None and bool(found.listed)
        self.moves.setVisible(has_moves)
        self.games.setVisible(has_games)
        self.listed.setVisible(has_games)
        if found is None:
            self.status.setText("" if self._desk.has_base else _NO_BASE)
            return
        self.status.setText(_status(found))
        self.listed.setText(_listed(found))
        self.moves.set_rows(found.moves)
        self.games.set_rows(found.listed)
        self._fit()

    def _fit(self) -> None:
        found = self.found
        if found is not None:
            self.moves.setFixedHeight(self.moves.height_of(min(len(found.moves), _MOST_MOVES)))
            self.games.setFixedHeight(self.games.height_of(min(len(found.listed), _MOST_GAMES)))

    def minimumSizeHint(self) -> QSize:
        return QSize(60, super().minimumSizeHint().height())


def _status(found: Found) -> str:
    if not found.games:
        return f"No game of the base reached this position within {found.plies} half-moves."
    sentences = [f"{count(found.games, 'game')} reached this position."]
    if found.undated:
        are = "is" if found.undated == 1 else "are"
        sentences.append(f"The year of {found.undated:,} {are} not known.")
    if found.moves:
        sentences.append("Results: White’s wins open, draws hatched, Black’s wins solid.")
    else:
        sentences.append("No move is known from here.")
    return " ".join(sentences)


def _listed(found: Found) -> str:
    if len(found.listed) == found.games:
        return "The games. Enter opens one."
    return f"{len(found.listed):,} of the games, the newest first. Enter opens one."
