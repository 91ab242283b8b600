"""Games of the reference base with a structure, whatever their opening, the newest first."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import chess
from PySide6.QtCore import QObject

from trainer.errors import StemlineError

if TYPE_CHECKING:
    from trainer.games.base.figures import GameEntry
    from trainer.games.base.store import ReferenceBase
    from trainer.lesson.structures import StructureBook
    from trainer.ui.base.desk import BaseDesk

#: Games looked at in one piece, so that the base can answer others in between; and at most.
_PIECE = 100
_MOST_SEARCHED = 2_000
#: Half-moves of a game that are looked at, and how many a structure must stand there.
_PLIES = 80
_STANDS = 8
MOST_FOUND = 12


@dataclass(frozen=True, eq=False)
class ModelGame:
    """A game with the first position of the structure, and in how many positions it stood."""

    entry: GameEntry
    board: chess.Board
    stood: int

    @property
    def title(self) -> str:
        """Who against whom, and from which move on."""
        return f"{self.entry.title()}: from move {self.board.fullmove_number}"


class ModelGames(QObject):
    """Looks through the base in pieces until enough is found."""

    def __init__(self, desk: BaseDesk, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._desk = desk
        self._search = 0

    @property
    def has_base(self) -> bool:
        """Whether there is a base to look through."""
        return self._desk.has_base

    def look(
        self,
        key: str,
        book: StructureBook,
        told: Callable[[list[ModelGame], int, bool], None],
        failed: Callable[[str], None],
    ) -> None:
        """Tell the games with the structure `key`, how many were looked at, and if that was all.

        A search before is given up.
        """
        self._search += 1
        search = self._search
        if not self.has_base:
            failed("Choose a reference base first: File, Reference base.")
            return
        found: list[ModelGame] = []

        def piece(begin: int | None, done: int) -> None:
            def answered(result: object) -> None:
                if search != self._search:
                    return
                more, following = result  # type: ignore[misc]
                found.extend(more)
                found.sort(key=lambda one: -one.stood)
                looked = done + _PIECE
                over = following < 1 or len(found) >= MOST_FOUND or looked >= _MOST_SEARCHED
                told(found[:MOST_FOUND], looked, over)
                if not over:
                    piece(following, looked)

            self._desk.ask(lambda base: search_piece(base, begin, key, book), answered, failed)

        piece(None, 0)

    def stop(self) -> None:
        """Give up the search."""
        self._search += 1

    def show(self, game: ModelGame) -> None:
        """Show a game on a board, where the structure came about."""
        self._desk.show_game(game.entry, game.board)


def search_piece(
    base: ReferenceBase, begin: int | None, key: str, book: StructureBook
) -> tuple[list[ModelGame], int]:
    """The games with a structure among `_PIECE` games, and the number to go on with.

    They are those down from the number `begin`, None for the last. Games whose file is gone are
    passed over.
    """
    number = base.summary().games if begin is None else begin
    found = []
    for _ in range(_PIECE):
        if number < 1:
            break
        game = _model(base, number, key, book)
        if game is not None:
            found.append(game)
        number -= 1
    return found, number


def _model(base: ReferenceBase, number: int, key: str, book: StructureBook) -> ModelGame | None:
    from trainer.games.base.codes import MOVES
    from trainer.games.base.reader import GameReader

    try:
        entry = base.game(number)
        text = base.game_text(entry)
    except (KeyError, StemlineError):
        return None
    first, stood = None, 0
    for game in GameReader(_PLIES).games(text.encode()):
        board = chess.Board()
        for code in game.codes:
            move = MOVES[code]
            if move is None:
                break
            board.push(move)
            if any(one.key == key for one in book.find(board)):
                stood += 1
                first = first or board.copy(stack=False)
        break
    return ModelGame(entry, first, stood) if first is not None and stood >= _STANDS else None
