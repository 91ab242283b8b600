"""Evaluations are paid for once, survive a kill, and a bad file costs nothing but time."""

from __future__ import annotations

import signal
import sqlite3
import subprocess
import sys
from pathlib import Path

import chess
import pytest

from tests.engines import STOCKFISH, fake_engine
from trainer.engine.cache import EvaluationCache
from trainer.engine.discover import engine_to_use, installed_engines
from trainer.engine.evaluation import Evaluation, Line, Score
from trainer.engine.evaluator import CachedEvaluator
from trainer.engine.session import Engine, EngineOptions
from trainer.errors import EngineError

E4 = chess.Move.from_uci("e2e4")
FOUND = Evaluation(
    (Line((E4, chess.Move.from_uci("e7e5")), Score(31)), Line((), Score(mate=-3))), 9, 1234
)


def test_what_is_kept_is_found_by_the_same_question_only(tmp_path: Path) -> None:
    path = tmp_path / "deep" / "evaluations.sqlite"
    board = chess.Board()
    cache = EvaluationCache(path)
    cache.keep(board, "One", FOUND, nodes=1000, lines=2)
    cache.close()
    cache = EvaluationCache(path)
    assert cache.notice == ""
    assert cache.find(board, "One", nodes=1000, lines=2) == FOUND
    assert cache.find(board, "One", nodes=500, lines=2) == FOUND
    assert cache.find(board, "One", nodes=1001, lines=2) is None
    assert cache.find(board, "Two", nodes=1000, lines=2) is None
    assert cache.find(board, "One", nodes=1000, lines=1) is None
    assert cache.find(board, "One", nodes=1000, lines=2, moves=[E4]) is None
    assert cache.known_lines(board) == FOUND
    board.push(E4)
    assert cache.find(board, "One", nodes=1000, lines=2) is None
    assert cache.known_lines(board) is None
    cache.close()


def test_move_counters_are_no_part_of_a_position() -> None:
    cache = EvaluationCache(None)
    cache.keep(chess.Board(), "One", FOUND, nodes=1, lines=2)
    later = chess.Board("rnbqkbnr/pppppppp/8/8/8/8/PPPPPPPP/RNBQKBNR w KQkq - 8 5")
    assert cache.find(later, "One", nodes=1, lines=2) == FOUND
    cache.close()


def test_a_damaged_file_is_begun_anew(tmp_path: Path) -> None:
    path = tmp_path / "evaluations.sqlite"
    path.write_bytes(b"no database at all" * 100)
    cache = EvaluationCache(path)
    cache.keep(chess.Board(), "One", FOUND, nodes=1, lines=2)
    cache.close()
    cache = EvaluationCache(path)
    assert cache.find(chess.Board(), "One", nodes=1, lines=2) == FOUND
    cache.close()
    with sqlite3.connect(path) as connection:
        connection.execute("UPDATE evaluation SET result = '[1, 2, [[0, null, \"e2e5\"]]]'")
    connection.close()
    cache = EvaluationCache(path)
    assert cache.find(chess.Board(), "One", nodes=1, lines=2) is None
    cache.close()


def test_a_file_of_another_layout_is_begun_anew(tmp_path: Path) -> None:
    path = tmp_path / "evaluations.sqlite"
    connection = sqlite3.connect(path)
    connection.execute("PRAGMA user_version = 99")
    connection.execute("CREATE TABLE evaluation (something TEXT)")
    connection.close()
    cache = EvaluationCache(path)
    cache.keep(chess.Board(), "One", FOUND, nodes=1, lines=2)
    assert cache.find(chess.Board(), "One", nodes=1, lines=2) == FOUND
    cache.close()


def test_where_no_file_can_be_made_memory_does(tmp_path: Path) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("", encoding="utf-8")
    cache = EvaluationCache(blocked / "evaluations.sqlite")
    assert "cannot be used" in cache.notice
    cache.keep(chess.Board(), "One", FOUND, nodes=1, lines=2)
    assert cache.find(chess.Board(), "One", nodes=1, lines=2) == FOUND
    cache.close()


def test_an_evaluator_asks_the_engine_once(tmp_path: Path) -> None:
    cache = EvaluationCache(tmp_path / "evaluations.sqlite")
    with Engine.start(STOCKFISH, EngineOptions(16)) as engine:
        evaluate = CachedEvaluator(engine, cache)
        first = evaluate(chess.Board(), nodes=2000, lines=2)
        assert evaluate(chess.Board(), nodes=2000, lines=2) == first
        assert evaluate.asked == 1
        assert evaluate.engine_name.startswith("Stockfish")
        mated = chess.Board("rnb1kbnr/pppp1ppp/8/4p3/6Pq/5P2/PPPPP2P/RNBQKBNR w KQkq - 1 3")
        assert evaluate(mated, nodes=2000).score.mate == 0
        assert evaluate.asked == 1
    cache.close()


def test_evaluations_survive_a_kill(tmp_path: Path) -> None:
    path = tmp_path / "evaluations.sqlite"
    program = f"""
import chess, time
from pathlib import Path
from trainer.engine.cache import EvaluationCache
from trainer.engine.evaluator import CachedEvaluator
from trainer.engine.session import Engine, EngineOptions
evaluate = CachedEvaluator(
    Engine.start(Path({str(STOCKFISH)!r}), EngineOptions(16)), EvaluationCache(Path({str(path)!r}))
)
board = chess.Board()
for move in ("e2e4", "c7c5", "g1f3"):
    board.push_uci(move)
    evaluate(board, nodes=2000)
print("done", flush=True)
time.sleep(60)
"""
    process = subprocess.Popen([sys.executable, "-c", program], stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    assert process.stdout.readline() == "done\n"
    process.send_signal(signal.SIGKILL)
    process.wait()
    process.stdout.close()
    cache = EvaluationCache(path)
    with Engine.start(STOCKFISH, EngineOptions(16)) as engine:
        evaluate = CachedEvaluator(engine, cache)
        board = chess.Board()
        for move in ("e2e4", "c7c5", "g1f3"):
            board.push_uci(move)
            assert evaluate(board, nodes=2000).lines
        assert evaluate.asked == 0
    cache.close()


def test_engines_are_found_and_not_started(tmp_path: Path) -> None:
    program = fake_engine(tmp_path, "crash").rename(tmp_path / "stockfish")
    environ = {"PATH": str(tmp_path)}
    assert installed_engines(environ)[0] == program
    assert engine_to_use(None, environ) == program
    assert engine_to_use("stockfish", environ) == program
    assert engine_to_use(str(program), {}) == program
    with pytest.raises(EngineError, match="no engine at"):
        engine_to_use(str(tmp_path / "none"), environ)
