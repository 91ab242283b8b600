"""Every game of a base, read again from its files piece by piece: for what the base itself does
not hold, such as how long a pawn structure stood."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import chess
import numpy as np

from trainer.games.base.codes import MOVES
from trainer.games.base.faults import GamesFileError, games_error
from trainer.games.base.figures import GameEntry, GamesFile
from trainer.games.base.reader import GameReader
from trainer.games.base.sources import Part, blocks, mark
from trainer.games.base.store import ReferenceBase
from trainer.repertoire.openings import OpeningBook

#: Bytes of a piece: some thousand games, half a second of reading.
PIECE_BYTES: Final = 1 << 19
#: Half-moves in which the name of an opening is looked for.
_NAMED: Final = 30


@dataclass(frozen=True)
class WholeGame:
    """A game of a base: its number there, and its moves from the starting position."""

    number: int
    moves: tuple[chess.Move, ...]


@dataclass(frozen=True)
class Piece:
    """Some games of one file.

    `after` is the byte at which reading goes on: where the last of these games begins, since it
    may have been incomplete. `done` is the size of the file where this was its end, else 0. Where
    the file is gone or has changed `fault` says so, and `unread` of its games are not here.
    """

    path: Path
    after: int
    games: tuple[WholeGame, ...]
    done: int = 0
    fault: str = ""
    unread: int = 0


@dataclass(frozen=True, eq=False)
class GameAt:
    """A game of a base at one of its positions, and the name of its opening, "" where it has
    none."""

    entry: GameEntry
    board: chess.Board
    opening: str


def game_at(base: ReferenceBase, number: int, ply: int, openings: OpeningBook) -> GameAt | None:
    """Game `number` after `ply` half-moves; None where its file is gone or has changed."""
    try:
        entry = base.game(number)
        text = base.game_text(entry)
    except (KeyError, GamesFileError):
        return None
    game = next(GameReader(max(ply, _NAMED)).games(text.encode()), None)
    board, name, shown = chess.Board(), "", None
    for count, code in enumerate(game.codes if game is not None else (), start=1):
        move = MOVES[code]
        if move is None:
            break
        board.push(move)
        opening = openings.name_of(board)
        name = name if opening is None else str(opening)
        if count == ply:
            shown = board.copy(stack=False)
    return None if shown is None else GameAt(entry, shown, name)


def whole_base(
    base: ReferenceBase,
    *,
    plies: int,
    begin: Mapping[str, tuple[int, int]],
    cancelled: Callable[[], bool] = lambda: False,
    piece_bytes: int = PIECE_BYTES,
) -> Iterator[Piece]:
    """The games of a base with their first `plies` half-moves, the files added last first.

    `begin` has what was read of files before, by their paths as text: `after` and `done` of the
    last piece. Ends early once `cancelled`. Raises `BaseFileError` where the base cannot be read.
    """
    reader = GameReader(plies)
    for file in reversed(base.files()):
        start, done = begin.get(str(file.path), (0, 0))
        if done == file.size or not file.games:
            continue
        try:
            if mark(file.path, file.size) != file.mark:
                raise GamesFileError(
                    f"{file.path} has changed since it was added to the reference base; "
                    "add it again."
                )
            for piece in _pieces(base, file, start, reader, piece_bytes):
                yield piece
                if cancelled():
                    return
        except GamesFileError as error:
            yield Piece(file.path, start, (), fault=str(error), unread=file.games)
        if cancelled():
            return


def _pieces(
    base: ReferenceBase, file: GamesFile, start: int, reader: GameReader, piece_bytes: int
) -> Iterator[Piece]:
    places, numbers = base.places(file.number)
    part = Part(file.path, file.size, 0, start)
    for block in blocks(part, reader.plies, piece_bytes):
        try:
            with file.path.open("rb") as opened:
                opened.seek(block.start)
                data = opened.read(block.end - block.start)
        except OSError as error:
            raise games_error(file.path, error) from error
        games = []
        for game in reader.games(data):
            at = int(np.searchsorted(places, block.start + game.offset, side="right")) - 1
            # What the base left out, or has from another file, is not among the places.
            if game.fault or at < 0 or places[at] != block.start + game.offset:
                continue
            moves = tuple(move for code in game.codes if (move := MOVES[code]) is not None)
            games.append(WholeGame(int(numbers[at]), moves))
        done = file.size if block.end >= file.size else 0
        yield Piece(file.path, block.last_start, tuple(games), done)
