"""A game of the reference base on a board of its own, with its moves in a text to walk through."""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import TYPE_CHECKING

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QDialog, QHBoxLayout, QToolButton, QVBoxLayout, QWidget

from trainer.ui.labels import scrolled_column, text_label
from trainer.ui.orders.still_board import StillBoard

if TYPE_CHECKING:
    import chess

    from trainer.games.base.figures import GameEntry
    from trainer.storage.settings import Settings
    from trainer.ui.look import Look

_SIZE = QSize(460, 620)
_STEPS = {
    Qt.Key.Key_Left: -1,
    Qt.Key.Key_Right: 1,
    Qt.Key.Key_Home: -10_000,
    Qt.Key.Key_End: 10_000,
}
_RESULTS = {"1/2-1/2": "½–½", "1-0": "1–0", "0-1": "0–1"}


@dataclass(frozen=True)
class Replayed:
    """The main line of a game: each position with the move that led there, and all moves."""

    boards: tuple[tuple[chess.Board, chess.Move | None], ...]
    sans: tuple[str, ...]


def replay(text: str) -> Replayed:
    """The main line of a game in PGN; for a worker thread."""
    import chess
    import chess.pgn

    game = chess.pgn.read_game(io.StringIO(text))
    board = chess.Board() if game is None else game.board()
    boards: list[tuple[chess.Board, chess.Move | None]] = [(board.copy(stack=False), None)]
    sans = []
    for move in () if game is None else game.mainline_moves():
        sans.append(board.san(move) if move else "--")
        board.push(move)
        boards.append((board.copy(stack=False), move))
    return Replayed(tuple(boards), tuple(sans))


class BaseGameDialog(QDialog):
    """One game at a time; the arrow keys walk through it."""

    def __init__(self, settings: Settings, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._settings, self._look = settings, look
        self._game: Replayed | None = None
        self.ply = 0
        self.board = StillBoard(look)
        self._title = text_label("", "heading")
        self._facts = text_label("", "muted")
        self.where = text_label("")
        self.text = text_label("", "note")
        self._before = self._button("‹", "Back one move", -1)
        self._after = self._button("›", "On one move", 1)
        steps = QHBoxLayout()
        for widget in (self._before, self._after):
            steps.addWidget(widget)
        steps.addWidget(self.where, 1)
        self._moves = scrolled_column([self.text])
        self._moves.setMinimumHeight(40)
        column = QVBoxLayout(self)
        column.addWidget(self._title)
        column.addWidget(self._facts)
        column.addWidget(self.board, 0, Qt.AlignmentFlag.AlignHCenter)
        column.addLayout(steps)
        column.addWidget(self._moves, 1)
        self.setWindowTitle("A game of the reference base")
        self.resize(_SIZE * min(look.scale, 1.4))
        self.set_look(settings, look)

    def _button(self, text: str, name: str, step: int) -> QToolButton:
        button = QToolButton()
        button.setText(text)
        button.setAccessibleName(name)
        button.setToolTip(name)
        button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        button.clicked.connect(lambda _checked=False: self.go(self.ply + step))
        return button

    def set_look(self, settings: Settings, look: Look) -> None:
        """Draw in another look."""
        self._settings, self._look = settings, look
        self.board.set_look(settings, look)
        if self._game is not None:
            self._tell()
            self.go(self.ply)
        self._fit()

    def show_game(self, entry: GameEntry, game: Replayed, board: chess.Board | None) -> None:
        """Show a game, where it can at the position on `board`."""
        from trainer.position import position_key

        self._game = game
        names = (entry.white or "unknown", entry.black or "unknown")
        ratings = (entry.white_rating, entry.black_rating)
        self._title.setText(
            " – ".join(f"{n} ({r})" if r else n for n, r in zip(names, ratings, strict=True))
        )
        date = "" if entry.date.startswith("?") else entry.date.replace(".", "-")
        facts = (_RESULTS.get(entry.result, ""), date, entry.event)
        self._facts.setText(" · ".join(fact for fact in facts if fact))
        self._tell()
        wanted = None if board is None else position_key(board)
        keys = [position_key(one) for one, _ in game.boards]
        self.go(keys.index(wanted) if wanted in keys else 0)
        self.show()
        self.activateWindow()

    def _tell(self) -> None:
        from trainer.notation.display import numbered

        assert self._game is not None
        first, _ = self._game.boards[0]
        self.text.setText(
            numbered(
                self._game.sans,
                turn=first.turn,
                number=first.fullmove_number,
                notation=self._look.notation,
            )
        )

    def go(self, ply: int) -> None:
        """Show the position after so many half-moves."""
        if self._game is None:
            return
        from trainer.notation.display import numbered

        boards = self._game.boards
        self.ply = ply = max(0, min(ply, len(boards) - 1))
        board, move = boards[ply]
        self.board.set_position(board, move)
        self._before.setEnabled(ply > 0)
        self._after.setEnabled(ply < len(boards) - 1)
        if not ply:
            self.where.setText("Before the first move")
            return
        before, _ = boards[ply - 1]
        shown = numbered(
            self._game.sans[ply - 1 : ply],
            turn=before.turn,
            number=before.fullmove_number,
            notation=self._look.notation,
        )
        self.where.setText(f"After {shown}")

    def keyPressEvent(self, event: QKeyEvent) -> None:
        step = _STEPS.get(Qt.Key(event.key()))
        if step is not None:
            self.go(self.ply + step)
        else:
            super().keyPressEvent(event)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        """The board as large as leaves room for the words."""
        words = self._title.sizeHint().height() + self._facts.sizeHint().height()
        words += self._before.sizeHint().height()
        room = self.height() - words - round(110 * self._look.scale)
        side = max(160, min(self.width() - 28, room))
        self.board.setFixedSize(side, side)
