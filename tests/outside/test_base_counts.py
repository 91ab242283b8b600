"""A reference base of every possible short game, against published counts.

OEIS A048987, games of n half-moves: 20, 400, 8902. OEIS A083276, distinct positions after n
half-moves, en passant only where the capture is legal: 1, 20, 400, 5362.
"""

from __future__ import annotations

from pathlib import Path

import chess

from tests.outside.test_pgn_standard import SAMPLE
from trainer.games.base.builder import build_base
from trainer.games.base.reader import GameReader
from trainer.games.base.store import ReferenceBase
from trainer.position import position_key

GAMES = (1, 20, 400, 8902)
POSITIONS = (1, 20, 400, 5362)


def all_games(plies: int) -> list[list[str]]:
    found: list[tuple[chess.Board, list[str]]] = [(chess.Board(), [])]
    for _ in range(plies):
        longer = []
        for board, sans in found:
            for move in board.legal_moves:
                after = board.copy(stack=False)
                after.push(move)
                longer.append((after, [*sans, board.san(move)]))
        found = longer
    return [sans for _, sans in found]


def test_every_game_of_three_half_moves(tmp_path: Path) -> None:
    games = all_games(3)
    assert len(games) == GAMES[3]
    file = tmp_path / "all.pgn"
    file.write_text(
        "".join(f'[Event "every game"]\n\n1. {a} {b} 2. {c} *\n\n' for a, b, c in games)
    )
    report = build_base(tmp_path / "base", [file], jobs=1)
    assert (report.added, report.duplicates) == (GAMES[3], 0)
    with ReferenceBase(tmp_path / "base") as base:
        assert base.summary().positions == sum(POSITIONS)
        start = base.position(chess.Board())
        assert start.games == GAMES[3]
        assert len(start.moves) == GAMES[1]
        assert sum(one.games for one in start.moves) == GAMES[3]
        replies = 0
        for move in chess.Board().legal_moves:
            board = chess.Board()
            board.push(move)
            replies += len(base.position(board).moves)
        assert replies == GAMES[2]


def test_the_sample_game_of_the_pgn_standard() -> None:
    """PGN Standard (Edwards, 1994-03-12), section 2.3: 85 half-moves."""
    (game,) = GameReader(plies=200).games(SAMPLE.encode())
    assert len(game.keys) == 85
    end = chess.Board("8/8/4R1p1/2k3p1/1p4P1/1P1b1P2/3K1n2/8 b - - 2 43")
    assert game.keys[-1] == position_key(end)
    assert game.tags["Event"] == "Sample"
    assert game.result == 1
