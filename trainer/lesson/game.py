"""A game as a lesson looks at it: its positions, its moves, who played."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import chess

from trainer.errors import RepertoireFileError
from trainer.position import unpack_position
from trainer.repertoire.workshop.games import games_in

_ALL_PLIES = 1 << 30


@dataclass(frozen=True, eq=False)
class LessonGame:
    """`boards` (n + 1) are the positions, `moves` and `sans` (n) what was played between them.

    Names are "" where unknown. `fault` says in a sentence why the rest was not read.
    """

    boards: tuple[chess.Board, ...]
    moves: tuple[chess.Move, ...]
    sans: tuple[str, ...]
    white: str = ""
    black: str = ""
    event: str = ""
    date: str = ""
    result: str = "*"
    fault: str = ""

    @classmethod
    def of(cls, start: chess.Board, moves: list[chess.Move], **names: str) -> LessonGame:
        """The game of `moves` from `start`; `names` are the other fields."""
        boards, sans = [start.copy(stack=False)], []
        for move in moves:
            sans.append(boards[-1].san(move))
            board = boards[-1].copy(stack=False)
            board.push(move)
            boards.append(board)
        return cls(tuple(boards), tuple(moves), tuple(sans), **names)

    @property
    def title(self) -> str:
        """`Linden – Sandlewick, 0-1`, or the event, or a plain word where nothing is known."""
        if self.white or self.black:
            players = f"{self.white or 'White'} – {self.black or 'Black'}"
            return f"{players}, {self.result}" if self.result != "*" else players
        return self.event or "A game"

    def numbered(self, ply: int) -> str:
        """The half-move `ply`, from 1, with its number: `12…Bb7`."""
        before = self.boards[ply - 1]
        dots = " " if before.turn else "…"
        return f"{before.fullmove_number}{dots}{self.sans[ply - 1]}"


def read_game(path: Path, number: int = 1) -> LessonGame:
    """Game `number` (from 1) of a PGN file; variations in it are passed over.

    Raises `RepertoireFileError` where the file cannot be read or has no such game, or where
    nothing of the game can be read.
    """
    count = 0
    for game in games_in(path, _ALL_PLIES, any_start=True):
        count = game.number
        if game.number != number:
            continue
        fault = f"{path}: game {number}, line {game.line}: {game.fault}" if game.fault else ""
        if not game.moves:
            raise RepertoireFileError(
                fault or f"{path}: game {number} holds no moves; choose another one."
            )
        tags = {name: value.strip() for name, value in game.tags.items()}
        start = unpack_position(game.start[0])
        fen = tags.get("FEN", "")
        if fen:
            start.fullmove_number = chess.Board(fen).fullmove_number
        return LessonGame.of(
            start,
            [move for move, _, _ in game.moves],
            white=_known(tags.get("White", "")),
            black=_known(tags.get("Black", "")),
            event=_known(tags.get("Event", "")),
            date=_known(tags.get("Date", "")),
            result=tags.get("Result", "*") or "*",
            fault=fault,
        )
    raise RepertoireFileError(
        f"{path} has no game {number}: it holds {count}; choose one of them."
    )


def _known(name: str) -> str:
    return "" if name.startswith("?") else name
