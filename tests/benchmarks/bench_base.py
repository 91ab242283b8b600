"""The reference base: reading against the plain loop, building, look-ups, appending.

The plain loop is `chess.pgn.read_game`, `push` and the library's Zobrist key of each of the first
40 half-moves. Both read the same games in small lots, turn and turn about.
"""

from __future__ import annotations

import io
import math
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import chess.pgn
import chess.polyglot

from tests.base_games import GameMaker
from tests.benchmarks.base_scale import scale_figures
from tests.benchmarks.figures import Figure
from trainer.games.base.builder import build_base
from trainer.games.base.reader import USUAL_PLIES, GameReader

RUNS = 1
LOTS, LOT = 12, 150
GAMES = 20_000
TURNS = 3
LEAST_TIMES = 12


def measure() -> list[Figure]:
    """Reading, building in one and in several processes, and the figures of a small base."""
    figures = [_reading()]
    with tempfile.TemporaryDirectory(prefix="stemline-base-") as name:
        folder = Path(name)
        games = folder / "games.pgn"
        games.write_text(GameMaker(seed=9, shortest=40).text(GAMES), encoding="utf-8")
        figures.append(_building(folder, games))
        figures += scale_figures(folder / "1.base", games, GAMES, folder)
    return figures


def _building(folder: Path, games: Path) -> Figure:
    """Both ways in turns, the best of each: others work on this machine, and two cores are few."""
    best = {1: math.inf, 2: math.inf}
    for _ in range(TURNS):
        for jobs in (1, 2):
            base = folder / f"{jobs}.base"
            base.unlink(missing_ok=True)
            taken = _seconds(
                lambda jobs=jobs, base=base: build_base(
                    base, [games], jobs=jobs, block_bytes=1 << 20
                )
            )
            best[jobs] = min(best[jobs], taken)
    return Figure(
        f"build a base of {GAMES:,} games in two processes",
        best[2],
        "s",
        "",
        "in one",
        best[1],
    )


def _reading() -> Figure:
    maker = GameMaker(seed=8, shortest=50, longest=120)
    lots = [maker.text(LOT) for _ in range(LOTS)]
    reader = GameReader()
    fast = plain = 0.0
    list(reader.games(lots[0].encode()))
    for lot in lots:
        data = lot.encode()
        fast += _seconds(lambda data=data: sum(len(game.keys) for game in reader.games(data)))
        plain += _seconds(lambda lot=lot: _plain(lot))
    return Figure(
        f"read {LOTS * LOT:,} games, one process",
        fast,
        "s",
        goal=f"≤ 1/{LEAST_TIMES} of the plain loop",
        baseline_name="read_game, push, key",
        baseline_value=plain,
        met=fast * LEAST_TIMES <= plain,
    )


def _plain(text: str) -> int:
    handle, held = io.StringIO(text), 0
    while (game := chess.pgn.read_game(handle)) is not None:
        board = game.board()
        for ply, move in enumerate(game.mainline_moves()):
            if ply == USUAL_PLIES:
                break
            board.push(move)
            held += chess.polyglot.zobrist_hash(board) > 0
    return held


def _seconds(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start
