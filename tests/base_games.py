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

import chess
import chess.pgn

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


@dataclass
class GameMaker:
    """Makes games; `seed` decides everything."""

    seed: int = 1
    #: The share of positions in which the move that is tried first is played.
    habit: float = 0.45
    shortest: int = 20
    longest: int = 90
    openings: list[list[str]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.rng = random.Random(self.seed)
        self.openings = self.openings or opening_lines()

    def sans(self) -> list[str]:
        """The moves of a game."""
        rng = self.rng
        line = self.openings[min(int(rng.paretovariate(0.5)) - 1, len(self.openings) - 1)]
        board = FastBoard.from_board(chess.Board())
        sans = [board.play(san)[1] for san in line[: rng.randint(2, 20)]]
        length = rng.randint(self.shortest, self.longest)
        while len(sans) < length:
            san = self._move(board)
            if san is None:
                break
            sans.append(san)
        return sans

    def _move(self, board: FastBoard) -> str | None:
        nth = 0
        while self.rng.random() > self.habit:
            nth += 1
        chooser = random.Random(board.key + nth)
        for _ in range(200):
            word = _some_move(board, chooser)
            if word:
                try:
                    return board.play(word)[1]
                except ValueError:
                    continue
        return None

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
        return "".join(game_text(self.tags(number), self.sans()) for number in range(count))


def game_text(tags: dict[str, str], sans: list[str]) -> str:
    """One game as most programs write it, lines below 80 characters."""
    words = [word for ply, san in enumerate(sans) for word in _numbered(ply, san)]
    lines, line = [], ""
    for word in [*words, tags.get("Result", "*")]:
        if len(line) + 1 + len(word) > 79:
            lines.append(line)
            line = word
        else:
            line = f"{line} {word}" if line else word
    header = "".join(f'[{name} "{value}"]\n' for name, value in tags.items())
    return header + "\n" + "\n".join([*lines, line]) + "\n\n"


def _numbered(ply: int, san: str) -> list[str]:
    return [san] if ply % 2 else [f"{ply // 2 + 1}.", san]


def _some_move(board: FastBoard, rng: random.Random) -> str:
    own = list(chess.scan_forward(board.own))
    origin = rng.choice(own)
    bit = 1 << origin
    piece = next(kind for kind in chess.PIECE_TYPES if board.boards[kind] & bit)
    if piece == chess.PAWN:
        step = 8 if board.turn else -8
        target = origin + rng.choice((step, step, step, 2 * step, step - 1, step + 1))
        if not 0 <= target < 64:
            return ""
        promotion = "q" if target < 8 or target >= 56 else ""
        return chess.SQUARE_NAMES[origin] + chess.SQUARE_NAMES[target] + promotion
    attacks = board.board().attacks_mask(origin) & ~board.own
    if piece == chess.KING and rng.random() < 0.5:
        attacks |= 1 << (origin & 56) + rng.choice((2, 6))
    targets = list(chess.scan_forward(attacks))
    return chess.SQUARE_NAMES[origin] + chess.SQUARE_NAMES[rng.choice(targets)] if targets else ""


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
