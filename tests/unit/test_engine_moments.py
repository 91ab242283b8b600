"""Critical moments of a game, with the real engine and few nodes."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from pathlib import Path

import chess
import pytest

from tests.engines import STOCKFISH
from trainer.engine.cache import EvaluationCache
from trainer.engine.evaluation import Evaluation
from trainer.engine.evaluator import CachedEvaluator
from trainer.engine.kept_moments import keep_moments, known_moments
from trainer.engine.moments import MomentKind, find_moments
from trainer.engine.session import Engine, EngineOptions


@pytest.fixture
def evaluate() -> Iterator[CachedEvaluator]:
    with (
        Engine.start(STOCKFISH, EngineOptions(hash_mb=16)) as engine,
        EvaluationCache(None) as cache,
    ):
        yield CachedEvaluator(engine, cache)


def moves_of(text: str) -> list[chess.Move]:
    board = chess.Board()
    return [board.push_san(san) for san in text.split()]


def test_a_blunder_turns_the_game_and_the_answer_is_the_only_move(
    evaluate: CachedEvaluator,
) -> None:
    # White gives a knight for a pawn at half-move 5; Black must take it at once.
    moves = moves_of("e4 e5 Nf3 Nc6 Nxe5 Nxe5 d4 Ng6 Bc4 Nf6")
    shares: list[float] = []
    found = find_moments(chess.Board(), moves, evaluate, total_nodes=400_000, told=shares.append)
    assert [(moment.ply, moment.kind) for moment in found][:1] == [(5, MomentKind.TURN)]
    turn = found[0]
    assert turn.side is chess.WHITE
    assert turn.loss > 150
    assert not turn.found
    assert chess.Board(turn.fen).is_legal(chess.Move.from_uci(turn.best))
    assert turn.after.standing < turn.before.standing
    assert shares == sorted(shares)
    assert shares[-1] == pytest.approx(1.0)


def test_a_mate_that_was_missed_and_one_that_was_played(evaluate: CachedEvaluator) -> None:
    missed = find_moments(
        chess.Board(), moves_of("f3 e5 g4 Nc6 h3 Qh4#"), evaluate, total_nodes=200_000
    )
    by_ply = {moment.ply: moment for moment in missed}
    assert by_ply[4].kind is MomentKind.TURN
    assert by_ply[4].best == "d8h4"
    # Légal's mate: all but the check on f7 leaves White a queen down.
    played = find_moments(
        chess.Board(),
        moves_of("e4 e5 Nf3 d6 Bc4 Bg4 Nc3 g6 Nxe5 Bxd1 Bxf7+ Ke7 Nd5#"),
        evaluate,
        total_nodes=400_000,
    )
    by_ply = {moment.ply: moment for moment in played}
    assert by_ply[10].kind is MomentKind.TURN
    assert by_ply[11].kind is MomentKind.ONLY_MOVE
    assert by_ply[11].found


def test_a_quiet_game_has_no_moments(evaluate: CachedEvaluator) -> None:
    moves = moves_of("Nf3 d5 g3 Nf6 Bg2 e6 O-O Be7 d3 O-O Nbd2 c5 e4 Nc6 Re1")
    assert find_moments(chess.Board(), moves, evaluate, total_nodes=600_000) == ()
    assert find_moments(chess.Board(), [], evaluate) == ()


def test_nodes_are_bounded_and_known_moves_are_passed_by(evaluate: CachedEvaluator) -> None:
    moves = moves_of("e4 e5 Nf3 Nc6 Nxe5 Nxe5 d4 Ng6 Bc4 Nf6")
    spent: list[int] = []

    def counted(
        board: chess.Board, *, nodes: int, lines: int = 1, moves: Sequence[chess.Move] = ()
    ) -> Evaluation:
        spent.append(nodes)
        return evaluate(board, nodes=nodes, lines=lines, moves=moves)

    found = find_moments(chess.Board(), moves, counted, total_nodes=500_000, first_ply=6)
    assert sum(spent) <= 500_000
    assert all(moment.ply >= 6 for moment in found)


def test_moments_are_kept_with_their_game(tmp_path: Path, evaluate: CachedEvaluator) -> None:
    moves = moves_of("f3 e5 g4 Nc6 h3 Qh4#")
    found = find_moments(chess.Board(), moves, evaluate, total_nodes=100_000)
    assert found
    path = tmp_path / "evaluations.sqlite"
    with EvaluationCache(path) as cache:
        assert known_moments(cache, chess.Board(), moves) is None
        keep_moments(cache, chess.Board(), moves, found)
        keep_moments(cache, chess.Board(), moves[:2], ())
    with EvaluationCache(path) as cache:
        assert known_moments(cache, chess.Board(), moves) == found
        # That nothing was found is known as well; of other games nothing is.
        assert known_moments(cache, chess.Board(), moves[:2]) == ()
        assert known_moments(cache, chess.Board(), moves[:4]) is None
        other = chess.Board()
        other.remove_piece_at(chess.A1)
        assert known_moments(cache, other, moves) is None


@pytest.mark.parametrize("text", ["", "{}x", "[1]", '[{"fen": "x"}]', '[{"fen": 3}]', "null"])
def test_moments_that_are_broken_are_looked_for_again(tmp_path: Path, text: str) -> None:
    path, moves = tmp_path / "evaluations.sqlite", moves_of("e4 e5")
    with EvaluationCache(path) as cache:
        keep_moments(cache, chess.Board(), moves, ())
    with sqlite3.connect(path) as connection:
        connection.execute("UPDATE moments SET found = ?", (text,))
    connection.close()
    with EvaluationCache(path) as cache:
        assert known_moments(cache, chess.Board(), moves) is None
