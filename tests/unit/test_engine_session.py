"""Engine processes: the real one, and ones that hang, crash, flood and lie."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from threading import Event, Thread

import chess
import pytest

from tests.engines import HONEST, STOCKFISH, children, commands, fake_engine, is_running
from trainer.engine.evaluation import Evaluation, Limit, Standing
from trainer.engine.session import Engine, EngineOptions
from trainer.errors import EngineError, EngineStoppedError

SMALL = EngineOptions(hash_mb=16, threads=1)
FEW = Limit(nodes=2_000)


def zombies() -> dict[int, str]:
    return children(os.getpid(), zombies=True)


def test_the_real_engine_answers_and_ends() -> None:
    with Engine.start(STOCKFISH, SMALL) as engine:
        assert engine.name.startswith("Stockfish")
        pid = engine.pid
        assert is_running(pid)
        board = chess.Board()
        board.push_san("e4")
        found = engine.evaluate(board, Limit(nodes=20_000), lines=3)
        assert len(found.lines) == 3
        assert len({line.move for line in found.lines}) == 3
        assert abs(found.score.value) < 100
        assert found.nodes >= 20_000
        for line in found.lines:
            trial = board.copy()
            for move in line.moves:
                assert trial.is_legal(move)
                trial.push(move)
        assert board == chess.Board("rnbqkbnr/pppppppp/8/8/4P3/8/PPPP1PPP/RNBQKBNR b KQkq - 0 1")
    assert not is_running(pid)
    assert not zombies()
    engine.close()


def test_fixed_nodes_on_one_thread_give_the_same_answer_again() -> None:
    board = chess.Board("r1bqkbnr/pppp1ppp/2n5/4p3/2B1P3/5N2/PPPP1PPP/RNBQK2R b KQkq - 3 3")
    with Engine.start(STOCKFISH, SMALL) as engine:
        first = engine.evaluate(board, FEW, lines=2)
        engine.evaluate(chess.Board(), FEW)
        assert engine.evaluate(board, FEW, lines=2) == first
    with Engine.start(STOCKFISH, SMALL) as engine:
        assert engine.evaluate(board, FEW, lines=2) == first


def test_a_search_that_ends_within_a_depth_names_no_move_twice() -> None:
    board = chess.Board("r1bqkbnr/2p2ppp/p2p4/1p6/3pP3/1B6/PPP2PPP/RNBQK2R w KQkq - 0 8")
    with Engine.start(STOCKFISH, SMALL) as engine:
        for nodes in range(1_000, 60_000, 2_300):
            found = engine.evaluate(board, Limit(nodes=nodes), lines=4)
            moves = [line.move for line in found.lines]
            assert len(set(moves)) == len(moves) == 4
            values = [line.score.value for line in found.lines[1:]]
            assert values == sorted(values, reverse=True)


def test_named_moves_only() -> None:
    with Engine.start(STOCKFISH, SMALL) as engine:
        only = chess.Move.from_uci("a2a3")
        found = engine.evaluate(chess.Board(), FEW, lines=5, moves=[only])
        assert [line.move for line in found.lines] == [only]


def test_a_finished_game_needs_no_engine(tmp_path: Path) -> None:
    with Engine.start(fake_engine(tmp_path, "crash")) as engine:
        mated = chess.Board("rnb1kbnr/pppp1ppp/8/4p3/6Pq/5P2/PPPPP2P/RNBQKBNR w KQkq - 1 3")
        assert engine.evaluate(mated, FEW).score.standing is Standing.LOST
        stalemate = chess.Board("7k/5Q2/6K1/8/8/8/8/8 b - - 0 1")
        assert engine.evaluate(stalemate, FEW).score.standing is Standing.EVEN
        with pytest.raises(EngineError, match="can arise"):
            engine.evaluate(chess.Board("8/8/8/8/8/8/8/K7 w - - 0 1"), FEW)
        assert engine.alive


def test_cancel_keeps_the_engine() -> None:
    with Engine.start(STOCKFISH, SMALL) as engine:
        stop = Event()
        seen: list[Evaluation] = []

        def deeper(evaluation: Evaluation) -> None:
            seen.append(evaluation)
            stop.set()

        with pytest.raises(EngineStoppedError):
            engine.evaluate(
                chess.Board(), Limit(seconds=600), cancelled=stop.is_set, progress=deeper
            )
        assert seen
        assert engine.alive
        assert engine.evaluate(chess.Board(), FEW).lines


@pytest.mark.parametrize("way", ["silence", "deaf", "never done"])
def test_cancel_ends_an_engine_that_does_not_stop(tmp_path: Path, way: str) -> None:
    with Engine.start(fake_engine(tmp_path, way)) as engine:
        pid = engine.pid
        begun = time.monotonic()
        with pytest.raises(EngineStoppedError):
            engine.evaluate(chess.Board(), FEW, cancelled=lambda: time.monotonic() > begun + 0.2)
        with pytest.raises(EngineError, match="not running"):
            engine.evaluate(chess.Board(), FEW)
    assert not is_running(pid)


@pytest.mark.parametrize(
    ("way", "sentence"),
    [
        ("crash", "ended in the middle"),
        ("silence", "does not answer"),
        ("never done", "does not answer"),
        ("flood", "floods"),
        ("endless line", "does not end"),
        ("illegal best move", "was stopped"),
        ("illegal line", "not legal"),
        ("no move", "not legal"),
        ("garbage", "was stopped"),
    ],
)
def test_a_bad_engine_is_stopped_with_a_sentence(tmp_path: Path, way: str, sentence: str) -> None:
    with Engine.start(fake_engine(tmp_path, way), patience=2) as engine:
        assert engine.name == f"Fake {way}"
        pid = engine.pid
        with pytest.raises(EngineError, match=sentence) as raised:
            engine.evaluate(chess.Board(), FEW)
        assert f"The engine Fake {way}" in str(raised.value)
        assert "choose another" in str(raised.value)
        with pytest.raises(EngineError):
            engine.evaluate(chess.Board(), FEW)
    assert not is_running(pid)
    assert not zombies()


def test_an_engine_that_is_through_at_once_does_not_flood() -> None:
    # With so little left on the board Stockfish tells every depth that it has within a moment.
    board = chess.Board("8/8/8/8/8/2k5/2p5/2K5 w - - 0 1")
    mate = chess.Board("7k/8/5K2/8/8/8/8/6QR b - - 0 1")
    with Engine.start(STOCKFISH, SMALL) as engine:
        for _ in range(8):
            for position in (board, mate, chess.Board("8/8/4k3/8/8/4K3/4P3/8 w - - 0 1")):
                assert engine.evaluate(position, Limit(nodes=60_000), lines=5).lines


@pytest.mark.parametrize("way", ["no handshake", "ends at once", "flood at the handshake"])
def test_a_bad_handshake(tmp_path: Path, way: str) -> None:
    path = fake_engine(tmp_path, way)
    with pytest.raises(EngineError, match="choose another program") as raised:
        Engine.start(path, patience=2)
    assert str(path) in str(raised.value)
    assert not zombies()


def test_what_is_no_program(tmp_path: Path) -> None:
    text = tmp_path / "notes.txt"
    text.write_text("no program", encoding="utf-8")
    with pytest.raises(EngineError, match="cannot be started"):
        Engine.start(text)
    with pytest.raises(EngineError, match="cannot be started"):
        Engine.start(tmp_path / "nothing-here")
    with pytest.raises(EngineError, match="choose another program"):
        Engine.start(Path("/bin/true"))


@pytest.mark.parametrize("way", [HONEST, "grumbles"])
def test_an_honest_engine_with_few_options(tmp_path: Path, way: str) -> None:
    with Engine.start(fake_engine(tmp_path, way), EngineOptions(hash_mb=4096)) as engine:
        found = engine.evaluate(chess.Board(), FEW, lines=3)
        assert len(found.lines) == 1, "it has no option for more"
        assert found.score.value == 20
        assert found.best.move == chess.Move.from_uci("e2e4")


def test_a_script_takes_the_engine_that_it_starts_with_it(tmp_path: Path) -> None:
    script = tmp_path / "wrapped"
    script.write_text(f"#!/bin/sh\n{STOCKFISH}\nexit 0\n", encoding="utf-8")
    script.chmod(0o755)
    deaf = tmp_path / "deaf-wrapped"
    deaf.write_text(f"#!/bin/sh\n{fake_engine(tmp_path, 'deaf')}\nexit 0\n", encoding="utf-8")
    deaf.chmod(0o755)
    for path in (script, deaf):
        with Engine.start(path, SMALL) as engine:
            inner = list(children(engine.pid))
            assert len(inner) == 1
            begun = time.monotonic()
            with pytest.raises(EngineStoppedError):
                engine.evaluate(
                    chess.Board(),
                    Limit(seconds=600),
                    cancelled=lambda begun=begun: time.monotonic() > begun + 0.2,  # type: ignore[misc]
                )
        assert not any(is_running(pid) for pid in inner)
        assert not is_running(engine.pid)


def test_closing_from_another_thread_ends_a_question(tmp_path: Path) -> None:
    engine = Engine.start(fake_engine(tmp_path, "never done"))
    errors: list[Exception] = []

    def ask() -> None:
        try:
            engine.evaluate(chess.Board(), FEW)
        except EngineError as error:
            errors.append(error)

    asking = Thread(target=ask)
    asking.start()
    time.sleep(0.2)
    engine.close()
    asking.join()
    assert len(errors) == 1


@pytest.mark.parametrize("after", [0.0, 0.005, 0.02, 0.1])
def test_a_start_that_is_cancelled_leaves_nothing_behind(tmp_path: Path, after: float) -> None:
    path = fake_engine(tmp_path, "no handshake")
    begun = time.monotonic()
    with pytest.raises(EngineStoppedError):
        Engine.start(path, cancelled=lambda: time.monotonic() >= begun + after)
    assert not any(str(path) in command for command in commands())
    assert not zombies()


def killed_program(engine: Path) -> int:
    """Run a program that searches with `engine`, kill it, and tell the engine's process id."""
    program = (
        "import chess, sys\n"
        "from pathlib import Path\n"
        "from trainer.engine.session import Engine\n"
        "from trainer.engine.evaluation import Limit\n"
        f"engine = Engine.start(Path({str(engine)!r}))\n"
        "print(engine.pid, flush=True)\n"
        "while True:\n"
        "    engine.evaluate(chess.Board(), Limit(seconds=600))\n"
    )
    process = subprocess.Popen([sys.executable, "-c", program], stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    pid = int(process.stdout.readline())
    assert is_running(pid)
    time.sleep(0.3)
    assert len(children(process.pid)) == 2, "the engine, and what watches over it"
    process.send_signal(signal.SIGKILL)
    process.wait()
    process.stdout.close()
    return pid


def wait_until_gone(*pids: int) -> bool:
    until = time.monotonic() + 20
    while any(map(is_running, pids)) and time.monotonic() < until:
        time.sleep(0.02)
    return not any(map(is_running, pids))


def test_no_engine_outlives_a_killed_program() -> None:
    assert wait_until_gone(killed_program(STOCKFISH))


@pytest.mark.parametrize("wrapped", [False, True])
def test_not_even_one_that_ignores_quit_signals_and_the_end_of_its_input(
    tmp_path: Path, wrapped: bool
) -> None:
    path = fake_engine(tmp_path, "clings")
    if wrapped:
        script = tmp_path / "wrapped"
        script.write_text(f"#!/bin/sh\n{path}\nexit 0\n", encoding="utf-8")
        script.chmod(0o755)
        path = script
    assert wait_until_gone(killed_program(path))
    assert not any(str(tmp_path) in command for command in commands())


def test_what_an_engine_leaves_behind_is_ended_with_it(tmp_path: Path) -> None:
    # A script that starts the engine proper in the background and ends before it.
    script = tmp_path / "leaves"
    script.write_text(
        f"#!/bin/sh\nexec 3<&0\n{fake_engine(tmp_path, 'clings')} <&3 &\nexit 0\n",
        encoding="utf-8",
    )
    script.chmod(0o755)
    with Engine.start(script) as engine:
        assert engine.evaluate(chess.Board(), FEW).lines
        assert wait_until_gone(engine.pid)
        assert any(str(tmp_path) in command for command in commands())
    assert not any(str(tmp_path) in command for command in commands())
    assert not zombies()
