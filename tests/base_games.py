"""Generated games for the reference base, and the plain loop that everything is held to.

The games are legal and, in their openings, plausible: a line of the opening table, some far more
often than others, then in each position the same few moves again and again. Players, clubs and
dates are invented.
"""

from __future__ import annotations

import io
import random
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache
from operator import add

import chess
import chess.pgn
import numpy as np

from tests.many_games import NONE, Array, ManyGames, san
from trainer.notation.fastboard import FastBoard
from trainer.position import position_key
from trainer.resources import resource_path

NAMES = (
    "Alder",
    "Birch",
    "Cairn",
    "Dunmore",
    "Eddy",
    "Fennel",
    "Garth",
    "Holm",
    "Inver",
    "Jessop",
)
RESULTS = ("1-0", "1/2-1/2", "0-1")
LINE = 79


#: Games that are played at once; with more it gets no quicker.
AT_ONCE = 8192
#: So many are played ahead where they are asked for one by one.
AHEAD = 64
OPENING_PLIES = 20


@dataclass
class GameMaker:
    """Makes games; `seed`, and what is asked for in which order, decide everything."""

    seed: int = 1
    #: The share of positions in which the move that is tried first is played.
    habit: float = 0.45
    shortest: int = 20
    longest: int = 90
    openings: list[list[str]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.rng = random.Random(self.seed)
        self.numbers = np.random.default_rng(self.seed)
        self.openings = self.openings or opening_lines()
        self._ahead: list[list[str]] = []

    def sans(self) -> list[str]:
        """The moves of a game."""
        if not self._ahead:
            self._ahead = self._games(AHEAD)
        return self._ahead.pop()

    def _games(self, count: int) -> list[list[str]]:
        """The moves of so many games, played at once."""
        begun = np.full((count, OPENING_PLIES), -1)
        lengths = np.zeros(count, np.int64)
        for game in range(count):
            line = self._opening()
            begun[game, : len(line)] = line
            lengths[game] = max(len(line), self.rng.randint(self.shortest, self.longest))
        boards = ManyGames(count)
        texts = np.zeros((count, lengths.max(initial=0)), np.int64)
        for ply in range(texts.shape[1]):
            games = np.flatnonzero(lengths > ply)
            known = begun[games, ply] if ply < OPENING_PLIES else np.full(len(games), -1)
            origins, targets = self._moves(boards, games, known)
            lengths[games[origins == NONE]] = ply
            fits = origins != NONE
            games, origins, targets = games[fits], origins[fits], targets[fits]
            texts[games, ply] = boards.play(games, origins, targets)
        found = [
            [san(number) for number in row[:length]]
            for row, length in zip(texts.tolist(), lengths.tolist(), strict=True)
        ]
        for game in np.flatnonzero(boards.checked).tolist():
            if boards.board(game).is_checkmate():
                found[game][-1] = found[game][-1].replace("+", "#")
        return found

    def _opening(self) -> list[int]:
        rng = self.rng
        line = self.openings[min(int(rng.paretovariate(0.5)) - 1, len(self.openings) - 1)]
        return _squares(" ".join(line))[: rng.randint(2, OPENING_PLIES)]

    def _moves(self, boards: ManyGames, games: Array, known: Array) -> tuple[Array, Array]:
        """Origins and targets: of the moves that are known (else -1), and of moves of habit."""
        origins, targets = known >> 6, known & 63
        free = np.flatnonzero(known < 0)
        numbers = self.numbers.geometric(self.habit, len(free)) - 1
        origins[free], targets[free] = boards.choose(games[free], numbers)
        return origins, targets

    def tags(self, number: int) -> dict[str, str]:
        """The tags of a game; some dates and ratings are not known."""
        rng = self.rng
        white, black = rng.sample(range(400), 2)
        date = f"{rng.randint(1990, 2025)}.{rng.randint(1, 12):02}.{rng.randint(1, 28):02}"
        if rng.random() < 0.1:
            date = rng.choice(("????.??.??", date[:4] + ".??.??", date[:7] + ".??"))
        tags = {
            "Event": f"Quay league {date[:4]}",
            "Site": "Lantern Quay",
            "Date": date,
            "Round": str(number % 9 + 1),
            "White": f"{NAMES[white % 10]}, {NAMES[white // 10 % 10]} {white // 100}",
            "Black": f"{NAMES[black % 10]}, {NAMES[black // 10 % 10]} {black // 100}",
            "Result": rng.choice(RESULTS),
        }
        for color in ("White", "Black"):
            if rng.random() < 0.9:
                tags[f"{color}Elo"] = str(rng.randint(1500, 2600))
        return tags

    def text(self, count: int) -> str:
        """A PGN file of `count` games."""
        return "".join(self.texts(count))

    def texts(self, count: int) -> Iterator[str]:
        """The same, game by game."""
        for first in range(0, count, AT_ONCE):
            games = self._games(min(AT_ONCE, count - first))
            for number, sans in enumerate(games, first):
                yield game_text(self.tags(number), sans)


def game_text(tags: dict[str, str], sans: list[str]) -> str:
    """One game as most programs write it, lines below 80 characters."""
    words = " ".join([*map(add, _numbers(len(sans)), sans), tags.get("Result", "*")])
    lines, at = [], 0
    while len(words) - at > LINE:
        end = words.rindex(" ", at, at + LINE + 1)
        lines.append(words[at:end])
        at = end + 1
    header = "".join([f'[{name} "{value}"]\n' for name, value in tags.items()])
    return header + "\n" + "\n".join([*lines, words[at:]]) + "\n\n"


@cache
def _numbers(plies: int) -> tuple[str, ...]:
    """What stands before each move."""
    return tuple("" if ply % 2 else f"{ply // 2 + 1}. " for ply in range(plies))


@cache
def _squares(line: str) -> list[int]:
    """Origin and target of each move of a line, as 64 · origin + target."""
    board = FastBoard.from_board(chess.Board())
    moves = [board.play(word)[0] for word in line.split()]
    return [move.from_square << 6 | move.to_square for move in moves]


def opening_lines() -> list[list[str]]:
    """Lines of the opening table that is shipped, in an order of their own."""
    lines = []
    for letter in "abcde":
        path = resource_path("openings", f"{letter}.tsv")
        for row in path.read_text(encoding="utf-8").splitlines()[1:]:
            words = row.split("\t")[2].split()
            lines.append([word for word in words if not word[0].isdecimal()])
    random.Random(5).shuffle(lines)
    return lines


# -- the plain loop ------------------------------------------------------------------------------


@dataclass
class PlainGame:
    """What the plain loop makes of one game: keys after each move, moves, its error."""

    tags: dict[str, str]
    keys: list[int]
    moves: list[chess.Move]
    error: bool


class _MainLine(chess.pgn.GameBuilder):
    """The library's reader without variations, and without its log."""

    def begin_variation(self) -> chess.pgn.SkipType:
        return chess.pgn.SKIP

    def end_variation(self) -> None:
        """Nothing was begun."""

    def handle_error(self, error: Exception) -> None:
        self.game.errors.append(error)


def plain_loop(text: str, plies: int = 40) -> Iterator[PlainGame]:
    """`chess.pgn.read_game`, `push` and the key, for the first moves of each game."""
    handle = io.StringIO(text)
    while (game := chess.pgn.read_game(handle, Visitor=_MainLine)) is not None:
        keys, moves = [], []
        board = game.board()
        for move in game.mainline_moves():
            if len(moves) == plies:
                break
            board.push(move)
            moves.append(move)
            keys.append(position_key(board))
        yield PlainGame(dict(game.headers), keys, moves, bool(game.errors) and len(moves) < plies)
