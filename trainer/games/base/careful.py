"""The slow and patient path: one game at a time on python-chess's own board.

It reads what `resolve` leaves: promotions, null moves, `e2-e4` and older spellings, `;` comments,
several games after one header, and games with errors, of which it says what is wrong and where.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import chess

from trainer.games.base.codes import CODES
from trainer.games.base.words import plain_spelling
from trainer.notation.fastboard import FastBoard
from trainer.notation.san import is_null_move
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
    UNKNOWN,
    is_quiet_sign,
    tokens,
)
from trainer.position import position_key


@dataclass(slots=True)
class MainLine:
    """The main line of one game: keys after each of the first moves, their codes, all spellings.

    `fault` says why it cannot be used, `offset` where that is in the text.
    """

    offset: int = 0
    keys: list[int] = field(default_factory=list)
    codes: list[int] = field(default_factory=list)
    spellings: list[str] = field(default_factory=list)
    result: str = "*"
    fault: str = ""


def main_lines(text: str, plies: int) -> list[MainLine]:
    """The games in a movetext whose line ends are `\\n`; at least one, perhaps without moves."""
    reader = _Reader(plies)
    for kind, word, offset in tokens(text):
        reader.take(kind, word, offset)
    reader.finish()
    return reader.lines or [MainLine()]


class _Reader:
    def __init__(self, plies: int) -> None:
        self.lines: list[MainLine] = []
        self._plies = plies
        self._line: MainLine | None = None
        self._board = chess.Board()
        self._depth = 0

    def take(self, kind: int, word: str, offset: int) -> None:
        if kind == OPEN:
            self._depth += 1
        elif kind == CLOSE:
            self._depth = max(0, self._depth - 1)
        elif kind == UNCLOSED:
            self._fail(offset, "a comment is not closed")
        elif self._depth:
            return
        elif kind == RESULT:
            self._begin(offset).result = RESULTS.get(word, word)
            self.finish()
        elif kind == NUMBER_ONE:
            if self._line is not None and self._line.spellings:
                self.finish()
            self._begin(offset)
        elif kind == MOVE:
            self._move(word, offset)
        elif kind in (TAG, BROKEN_TAG) or (kind == UNKNOWN and not is_quiet_sign(word)):
            self._fail(offset, f"“{word[:40]}” is no move")

    def finish(self) -> None:
        if self._line is not None:
            self.lines.append(self._line)
        self._line = None
        self._depth = 0

    def _begin(self, offset: int) -> MainLine:
        if self._line is None:
            self._line = MainLine(offset)
            self._board = chess.Board()
        return self._line

    def _move(self, word: str, offset: int) -> None:
        line = self._begin(offset)
        if line.fault:
            return
        if len(line.keys) >= self._plies:
            line.spellings.append(plain_spelling(word))
            return
        move = self._meaning(word)
        if move is None:
            after = f"after {line.spellings[-1]}" if line.spellings else "at the start"
            self._fail(offset, f"“{word[:40]}” is not a legal move {after}")
            return
        line.spellings.append(plain_spelling(self._board.san(move)) if move else "--")
        self._board.push(move)
        line.keys.append(position_key(self._board))
        line.codes.append(CODES[move])

    def _meaning(self, word: str) -> chess.Move | None:
        if is_null_move(word):
            return chess.Move.null()
        if word[0] == "P":
            word = word[1:]
        try:
            return self._board.parse_san(word)
        except ValueError:
            pass
        try:
            return FastBoard.from_board(self._board).resolve(word)
        except ValueError:
            return None

    def _fail(self, offset: int, what: str) -> None:
        line = self._begin(offset)
        if not line.fault and len(line.keys) < self._plies:
            line.fault, line.offset = what, offset
