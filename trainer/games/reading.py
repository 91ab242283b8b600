"""Games as they were played, from PGN files, small enough to keep ten thousand of them."""

from __future__ import annotations

from array import array
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Final

import chess

from trainer.games.when import GameIdentity, GameWhen, game_identity
from trainer.notation.fastboard import FastBoard
from trainer.repertoire.workshop.games import Game, games_in

RESULTS: Final = frozenset({"1-0", "0-1", "1/2-1/2", "*"})
_ALL_PLIES: Final = 1 << 30


@dataclass(frozen=True, eq=False, slots=True)
class PlayedGame:
    """One game of a file. `number` and `line` are where it stands there, both from 1.

    `white` and `black` are names, "" where they are not given; `event`, `site`, `date` and
    `round` the tags; the ratings are 0 where unknown. `start` is the position it begins from,
    packed, and `first_number` the number of its first move. `keys` (n + 1) are the keys of its
    positions, the first included, and `sans` the n moves in one text with a space between.
    `fault` says why its rest, or all of it, was not read, in the line `fault_line`.
    """

    path: Path
    number: int
    line: int
    white: str
    black: str
    result: str
    event: str
    site: str
    date: str
    round: str
    when: GameWhen
    white_rating: int
    black_rating: int
    identity: GameIdentity
    start: bytes
    first_number: int
    keys: array[int]
    sans: str
    fault: str = ""
    fault_line: int = 0

    @property
    def plies(self) -> int:
        """How many half-moves were played."""
        return len(self.keys) - 1

    @property
    def first_turn(self) -> chess.Color:
        """Who makes the first move."""
        return bool(self.start[64])

    def mover(self, ply: int) -> chess.Color:
        """Who makes the half-move `ply`, from 1."""
        return self.first_turn if ply % 2 else not self.first_turn

    def moves(self) -> list[str]:
        """The moves in SAN."""
        return self.sans.split()

    def boards(self) -> Iterator[tuple[FastBoard, chess.Move | None]]:
        """Each position with the move that led there; one and the same board moves on."""
        board = FastBoard(self.start, self.keys[0])
        yield board, None
        for san in self.moves():
            move, _ = board.play(san)
            yield board, move

    def packed_at(self, ply: int) -> bytes:
        """The position after `ply` half-moves, packed."""
        board = FastBoard(self.start, self.keys[0])
        for san in self.moves()[:ply]:
            board.play(san)
        return board.pack()

    def number_of(self, ply: int) -> int:
        """The number of the move that the half-move `ply`, from 1, belongs to."""
        return self.first_number + (ply - (1 if self.first_turn else 0)) // 2

    def name(self, side: chess.Color) -> str:
        """The name of the player of a side."""
        return self.white if side == chess.WHITE else self.black

    def rating(self, side: chess.Color) -> int:
        """The rating of the player of a side, 0 unknown."""
        return self.white_rating if side == chess.WHITE else self.black_rating

    def score(self, side: chess.Color) -> float | None:
        """Points of a side: 1, 0.5 or 0; None where the result is not known."""
        white = {"1-0": 1.0, "0-1": 0.0, "1/2-1/2": 0.5}.get(self.result)
        return white if white is None or side == chess.WHITE else 1.0 - white


def read_games(
    paths: Sequence[Path],
    *,
    progress: Callable[[float], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> Iterator[PlayedGame]:
    """All games of some files, in their order; variations are passed over.

    A game that cannot be read to its end comes as far as it goes, with its `fault`. `progress`
    is called with the share of the files that was read, 0 to 1.

    Raises `RepertoireFileError` where a file cannot be read, and `ImportCancelledError`.
    """
    for index, path in enumerate(paths):
        part = None
        if progress is not None:
            part = partial(_part, progress, index, len(paths))
        for game in games_in(path, _ALL_PLIES, any_start=True, progress=part, cancelled=cancelled):
            yield _played(path, game)
    if progress is not None:
        progress(1.0)


def _part(progress: Callable[[float], None], index: int, count: int, share: float) -> None:
    progress((index + share) / count)


def _played(path: Path, game: Game) -> PlayedGame:
    tags = game.tags
    when = GameWhen.of(tags)
    white, black = game.name(chess.WHITE), game.name(chess.BLACK)
    tagged = tags.get("Result", "*").strip()
    start, key = game.start
    return PlayedGame(
        path=path,
        number=game.number,
        line=game.first_line,
        white=white,
        black=black,
        result=tagged if tagged in RESULTS and tagged != "*" else _known_result(game.result),
        event=_known(tags, "Event"),
        site=_known(tags, "Site"),
        date=_known(tags, "Date"),
        round=_known(tags, "Round"),
        when=when,
        white_rating=_rating(tags.get("WhiteElo", "")),
        black_rating=_rating(tags.get("BlackElo", "")),
        identity=game_identity(white, black, when, [move for move, _, _ in game.moves[:40]]),
        start=start,
        first_number=_first_number(tags),
        keys=array("Q", (key, *(key for _, _, key in game.moves))),
        sans=" ".join(san for _, san, _ in game.moves),
        fault=game.fault,
        fault_line=game.line if game.fault else 0,
    )


def _first_number(tags: dict[str, str]) -> int:
    fen = next((value for name, value in tags.items() if name.lower() == "fen"), "")
    number = fen.split()[5:6]
    return int(number[0]) if number and number[0].isdecimal() and len(number[0]) < 5 else 1


def _known(tags: dict[str, str], name: str) -> str:
    value = tags.get(name, "").strip()
    return "" if value in ("?", "-") else value


def _known_result(result: str) -> str:
    return result if result in RESULTS else "*"


def _rating(text: str) -> int:
    text = text.strip()
    return int(text) if text.isascii() and text.isdecimal() and len(text) <= 4 else 0
