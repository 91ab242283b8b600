"""Whole games from PGN files: their tags, and the moves that were played."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

import chess

from trainer.errors import StemlineError
from trainer.notation.fastboard import FastBoard
from trainer.notation.tokens import (
    BROKEN_TAG,
    CLOSE,
    MOVE,
    NUMBER_ONE,
    OPEN,
    RESULT,
    RESULTS,
    TAG,
    UNCLOSED,
    LineFinder,
    tag_pair,
    tokens,
)
from trainer.repertoire.files import decode, read_bytes
from trainer.repertoire.game_reader import root_board

_START: Final = FastBoard.from_board(chess.Board())
#: Tokens between two looks at `cancelled`.
_TOKENS_PER_LOOK: Final = 2048


class ImportCancelledError(StemlineError):
    """The caller asked to stop; nothing was imported."""


@dataclass(frozen=True)
class Left:
    """A game of which something was left out: its file, number and line from 1, the reason."""

    path: Path
    game: int
    line: int
    reason: str


@dataclass
class Game:
    """One game: `moves` are its first moves, with the keys of the positions they lead to.

    `start` is the position it begins from, packed, and its key.
    """

    number: int
    line: int
    tags: dict[str, str] = field(default_factory=dict)
    result: str = "*"
    moves: list[tuple[chess.Move, str, int]] = field(default_factory=list)
    #: Why the game, or its rest, cannot be used.
    fault: str = ""
    start: tuple[bytes, int] = (_START.pack(), _START.key)
    #: The line where it begins; `line` is that of the fault where there is one.
    first_line: int = 0

    def name(self, side: chess.Color) -> str:
        """The name of the player of `side`, empty where it is not given."""
        name = self.tags.get("White" if side == chess.WHITE else "Black", "").strip()
        return "" if name == "?" else name

    def score(self, side: chess.Color) -> float | None:
        """Points of `side`, 1, 0.5 or 0; None where the game has no result."""
        white = {"1-0": 1.0, "0-1": 0.0, "1/2-1/2": 0.5}.get(self.result)
        return white if white is None or side == chess.WHITE else 1.0 - white


def games_in(
    path: Path,
    plies: int,
    *,
    any_start: bool = False,
    progress: Callable[[float], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> Iterator[Game]:
    """The games of a file with the first `plies` half-moves of each; variations are passed over.

    With `any_start` a game may begin from the position in its FEN tag; else that is a fault.

    Raises `RepertoireFileError` where the file cannot be read, and `ImportCancelledError`.
    """
    text = decode(read_bytes(path)[0], str(path)).text.removeprefix("\ufeff")
    reader = _Reader(text, plies, any_start=any_start)
    for count, token in enumerate(tokens(text)):
        if count % _TOKENS_PER_LOOK == 0:
            if cancelled is not None and cancelled():
                raise ImportCancelledError("Reading the games was cancelled.")
            if progress is not None:
                progress(token[2] / len(text))
        finished = reader.take(*token)
        if finished is not None:
            yield finished
    finished = reader.finish()
    if finished is not None:
        yield finished


class _Reader:
    """Takes tokens and gives each game when it is complete."""

    def __init__(self, text: str, plies: int, *, any_start: bool) -> None:
        self._lines = LineFinder(text)
        self._plies = plies
        self._any_start = any_start
        self._number = 0
        self._game: Game | None = None
        self._board = _START
        self._depth = 0
        self._in_moves = False

    def take(self, kind: int, word: str, offset: int) -> Game | None:
        """The game that ended before or with this token."""
        finished = None
        if kind == MOVE:  # first, since there are a hundred of them for each of the others
            if not self._depth:
                self._move(word, offset)
        elif kind in (TAG, BROKEN_TAG):
            if self._in_moves or (self._game and "Event" in self._game.tags and "Event" in word):
                finished = self.finish()
            self._tag(word, offset)
        elif kind == RESULT:
            if not self._depth:
                self._begin(offset).result = RESULTS.get(word, word)
                finished = self.finish()
        elif kind == NUMBER_ONE:
            if self._in_moves and not self._depth and self._game and self._game.moves:
                finished = self.finish()
            self._begin(offset)
            self._in_moves = True
        elif kind == OPEN:
            self._depth += 1
        elif kind == CLOSE:
            self._depth = max(0, self._depth - 1)
        elif kind == UNCLOSED:
            self._fail(offset, "a comment is not closed")
        return finished

    def finish(self) -> Game | None:
        """The game being read, if there is one; the next token begins another."""
        game, self._game = self._game, None
        self._depth = 0
        self._in_moves = False
        if game is None or not (game.tags or game.moves or game.fault):
            return None
        if game.result == "*":
            game.result = game.tags.get("Result", "*").strip()
        return game

    def _begin(self, offset: int) -> Game:
        if self._game is None:
            self._number += 1
            line = self._lines.line(offset)
            self._game = Game(self._number, line, first_line=line)
            self._board = FastBoard(_START.pack(), _START.key)
        return self._game

    def _tag(self, word: str, offset: int) -> None:
        pair = tag_pair(word)
        game = self._begin(offset)
        if pair is None:
            return
        name, value = pair
        game.tags[name] = value
        if name.lower() == "fen" and not _is_usual_start(value):
            self._set_up(game, name)
            self._at_fault(game, offset)
        elif name.lower() == "variant" and value.strip().lower() not in ("", "standard", "chess"):
            game.fault = "the game is not standard chess; it is left out"
            self._at_fault(game, offset)

    def _at_fault(self, game: Game, offset: int) -> None:
        if game.fault:
            game.line = self._lines.line(offset)

    def _set_up(self, game: Game, name: str) -> None:
        if not self._any_start:
            game.fault = "the game does not begin at the starting position; it is left out"
            return
        board, fault, _ = root_board({"FEN": game.tags[name]}, {"fen": "FEN"})
        game.fault = game.fault or fault
        if board is not None:
            self._board = FastBoard.from_board(board)
            game.start = (self._board.pack(), self._board.key)

    def _move(self, word: str, offset: int) -> None:
        game = self._begin(offset)
        self._in_moves = True
        if game.fault or len(game.moves) >= self._plies:
            return
        try:
            move, san = self._board.play(word)
        except ValueError:
            after = f"after {game.moves[-1][1]}" if game.moves else "at the start"
            self._fail(offset, f"“{word[:40]}” is not a legal move {after}")
            return
        game.moves.append((move, san, self._board.key))

    def _fail(self, offset: int, what: str) -> None:
        game = self._begin(offset)
        if not game.fault and len(game.moves) < self._plies:
            game.fault = f"{what}; the rest of the game is left out"
            game.line = self._lines.line(offset)


def _is_usual_start(fen: str) -> bool:
    try:
        return chess.Board(fen.strip()).fen() == chess.STARTING_FEN
    except ValueError:
        return False
