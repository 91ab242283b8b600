"""What an engine tells of one search, put together; the reports are in the order of Stockfish's.

From three seconds on Stockfish tells all its lines whenever one of them was searched, those that
were not yet with the depth before, and with bounds where a search failed high or low.
"""

from __future__ import annotations

import chess
import chess.engine

from trainer.engine.gathering import Gathered


def report(
    depth: int, number: int, move: str, cp: int = 20, *, bound: bool = False
) -> chess.engine.InfoDict:
    info = chess.engine.InfoDict(
        depth=depth,
        multipv=number,
        pv=[chess.Move.from_uci(move)],
        score=chess.engine.PovScore(chess.engine.Cp(cp), chess.WHITE),
        nodes=1_000 * depth,
    )
    if bound:
        info["lowerbound"] = True
    return info


def moves(gathered: Gathered) -> list[str]:
    return [str(line.move) for line in gathered.evaluation(None).lines]


def test_a_depth_is_whole_when_all_its_lines_were_told() -> None:
    gathered = Gathered(2)
    assert not gathered.take(report(5, 1, "e2e4"))
    assert gathered.take(report(5, 2, "d2d4", 10))
    assert moves(gathered) == ["e2e4", "d2d4"]
    assert not gathered.take(report(6, 1, "c2c4", 30))
    assert gathered.evaluation(None).depth == 6
    # What is newer counts first, and no move stands twice.
    assert moves(gathered) == ["c2c4", "e2e4"]


def test_lines_that_change_places_within_a_depth_lose_none() -> None:
    gathered = Gathered(3)
    for number, move in enumerate(("e2e4", "d2d4", "g1f3"), start=1):
        gathered.take(report(21, number, move, 40 - 10 * number))
    assert moves(gathered) == ["e2e4", "d2d4", "g1f3"]
    # At the next depth the first line fails high, and the others are told with the depth before,
    # each one place further down.
    gathered.take(report(22, 1, "c2c4", 50, bound=True))
    assert not gathered.take(report(21, 2, "e2e4", 30))
    assert moves(gathered) == ["e2e4", "d2d4", "g1f3"]
    assert not gathered.take(report(21, 3, "d2d4", 20))
    assert moves(gathered) == ["e2e4", "d2d4", "g1f3"]
    for number, move in enumerate(("c2c4", "e2e4", "d2d4"), start=1):
        whole = gathered.take(report(22, number, move, 60 - 10 * number))
        assert whole == (number == 3)
    assert moves(gathered) == ["c2c4", "e2e4", "d2d4"]


def test_the_move_that_is_played_stands_first() -> None:
    gathered = Gathered(2)
    gathered.take(report(5, 1, "e2e4", 20))
    gathered.take(report(5, 2, "d2d4", 10))
    best = gathered.evaluation(chess.Move.from_uci("d2d4"))
    assert [str(line.move) for line in best.lines] == ["d2d4", "e2e4"]
    other = gathered.evaluation(chess.Move.from_uci("a2a3"))
    assert [str(line.move) for line in other.lines] == ["a2a3", "e2e4"]
