"""Reading, writing and checking a repertoire of 10,000 lines, about 100,000 positions.

The same tree of random legal lines is read as one game with nested variations and as 10,000
games, each time against what `chess.pgn.read_game` alone needs for that file. Each reading runs
in a process of its own, so that its peak memory is its own; the two readers take turns.
"""

from __future__ import annotations

import random
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from statistics import median

import chess

from tests.benchmarks.figures import Figure
from trainer.position import position_key
from trainer.repertoire.audit import audit
from trainer.repertoire.reader import read_repertoire, read_repertoire_text
from trainer.repertoire.writer import repertoire_pgn

RUNS = 1
ROUNDS = 3
LINES = 10_000
NEW_PLIES = 10
NESTED = 5_000
MOST_MEGABYTES = 400

_REPORT = """
import sys, time
from pathlib import Path
path = Path(sys.argv[1])
{imports}
start = time.perf_counter()
{work}
seconds = time.perf_counter() - start
try:
    status = Path("/proc/self/status").read_text()
    peak = int(status.split("VmHWM:")[1].split()[0]) / 1024
except OSError:
    peak = 0.0
print(seconds, peak)
"""
# Both with all their imports done; ours leaves numpy, for large files, until it is needed.
OURS = _REPORT.format(
    imports="import trainer.repertoire.moves_ahead\n"
    "from trainer.repertoire.reader import read_repertoire",
    work="loaded = read_repertoire(path)\nassert not loaded.skipped",
)
LIBRARY = _REPORT.format(
    imports="import chess.pgn",
    work="stream = path.open(encoding='utf-8')\nwhile chess.pgn.read_game(stream): pass",
)


class Tree:
    """Random legal lines without repeated positions; the player has one move everywhere."""

    def __init__(self, seed: int) -> None:
        self.rng = random.Random(seed)
        self.sans: list[str] = [""]
        self.parents: list[int] = [-1]
        self.children: list[list[int]] = [[]]
        self.depths: list[int] = [0]
        self._seen = {position_key(chess.Board())}
        branching = [0]
        self.ends: list[int] = []
        while len(self.ends) < LINES:
            start = self.rng.choice(branching)
            node, board = start, self._board(start)
            for _ in range(NEW_PLIES):
                move = self._new_move(board)
                if move is None:
                    break
                node = self._add(node, board.san(move))
                board.push(move)
                if self.depths[node] % 2 and self.depths[node] < 20:
                    branching.append(node)
            if node != start:
                self.ends.append(node)

    def _board(self, node: int) -> chess.Board:
        board = chess.Board()
        for san in self.line(node):
            board.push_san(san)
        return board

    def _new_move(self, board: chess.Board) -> chess.Move | None:
        moves = list(board.legal_moves)
        self.rng.shuffle(moves)
        for move in moves:
            board.push(move)
            key = position_key(board)
            board.pop()
            if key not in self._seen:
                self._seen.add(key)
                return move
        return None

    def _add(self, parent: int, san: str) -> int:
        self.sans.append(san)
        self.parents.append(parent)
        self.children.append([])
        self.depths.append(self.depths[parent] + 1)
        self.children[parent].append(len(self.sans) - 1)
        return len(self.sans) - 1

    def line(self, node: int) -> list[str]:
        """The moves from the start to a node."""
        sans = []
        while node:
            sans.append(self.sans[node])
            node = self.parents[node]
        return sans[::-1]

    def as_one_game(self) -> str:
        """One game with nested variations."""
        return f'[Event "One"]\n[RepertoireSide "White"]\n\n{_filled(self._words())} *\n'

    def _words(self) -> Iterator[str]:
        # Below a node: its first child, the others in brackets, then what follows the first.
        stack: list[int | str] = [0]
        while stack:
            item = stack.pop()
            if isinstance(item, str):
                yield item
            elif item < 0:
                yield from self._named(-item)
                stack.append(-item)
            elif self.children[item]:
                main, *others = self.children[item]
                yield from self._named(main)
                stack.append(main)
                for other in reversed(others):
                    stack += (")", -other, "(")

    def _named(self, node: int) -> tuple[str, ...]:
        ply = self.depths[node] - 1
        if ply % 2 and self.children[self.parents[node]][0] == node:
            return (self.sans[node],)
        return f"{ply // 2 + 1}{'...' if ply % 2 else '.'}", self.sans[node]

    def as_games(self) -> str:
        """One game for each line."""
        return "\n".join(
            f'[Event "Line {number}"]\n[RepertoireSide "White"]\n\n'
            f"{_filled(_numbered(self.line(end)))} *\n"
            for number, end in enumerate(self.ends, start=1)
        )


def _numbered(sans: list[str]) -> Iterator[str]:
    for ply, san in enumerate(sans):
        if ply % 2 == 0:
            yield f"{ply // 2 + 1}."
        yield san


def _filled(words: Iterator[str]) -> str:
    lines, line = [], ""
    for word in words:
        if len(line) + len(word) > 78:
            lines.append(line)
            line = word
        else:
            line = f"{line} {word}" if line else word
    return "\n".join([*lines, line])


@cache
def tree() -> Tree:
    return Tree(1)


def measure() -> list[Figure]:
    """Loading in two shapes of file, its memory, and what follows loading."""
    with tempfile.TemporaryDirectory(prefix="stemline-reading-") as folder:
        nested, games = Path(folder, "nested.pgn"), Path(folder, "games.pgn")
        nested.write_text(tree().as_one_game(), encoding="utf-8")
        games.write_text(tree().as_games(), encoding="utf-8")
        return [
            *_loading("one game, nested", nested),
            *_loading("10,000 games", games),
            *_afterwards(nested),
            _deep_nesting(),
        ]


def _loading(name: str, path: Path) -> list[Figure]:
    times: dict[str, list[float]] = {OURS: [], LIBRARY: []}
    peak = 0.0
    for number in range(ROUNDS):
        for script in (OURS, LIBRARY) if number % 2 else (LIBRARY, OURS):
            seconds, megabytes = _run(script, path)
            times[script].append(seconds)
            if script is OURS:
                peak = max(peak, megabytes)
    value, baseline = median(times[OURS]), median(times[LIBRARY])
    return [
        Figure(
            name=f"load 10,000 lines: {name}",
            value=value,
            unit="s",
            goal="≤ 1/3",
            baseline_name="chess.pgn.read_game",
            baseline_value=baseline,
            met=value <= baseline / 3,
        ),
        Figure(
            name=f"peak memory of that process: {name}",
            value=peak,
            unit="MB",
            goal=f"≤ {MOST_MEGABYTES} MB",
            met=peak <= MOST_MEGABYTES,
        ),
    ]


def _run(script: str, path: Path) -> tuple[float, float]:
    done = subprocess.run(
        [sys.executable, "-c", script, str(path)], check=True, capture_output=True, text=True
    )
    seconds, megabytes = done.stdout.split()
    return float(seconds), float(megabytes)


def _afterwards(path: Path) -> list[Figure]:
    repertoire = read_repertoire(path).repertoire
    positions = len(repertoire.nodes)
    start = time.perf_counter()
    text = repertoire_pgn(repertoire)
    written = time.perf_counter()
    audit(repertoire)
    checked = time.perf_counter()
    return [
        Figure(f"write {positions:,} positions ({len(text) // 1000:,} kB)", written - start, "s"),
        Figure(f"check {positions:,} positions", checked - written, "s"),
    ]


def _deep_nesting() -> Figure:
    text = "1. e4 " + "(1. d4 d5 (1... Nf6 2. c4) " * NESTED + ")" * NESTED + " *"
    start = time.perf_counter()
    read_repertoire_text(text)
    return Figure(f"read {NESTED:,} nested variations", time.perf_counter() - start, "s")
