"""`stemline engine-check` as its own process, with the real engine."""

from __future__ import annotations

import contextlib
import json
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import chess
import pytest

from tests.engines import STOCKFISH, fake_engine
from tests.memory_graphs import node_after
from tests.process import RunStemline
from trainer.repertoire.reader import read_repertoire
from trainer.storage.locations import find_locations
from trainer.storage.reply_counts import ReplyCounts, save_reply_counts

DEMO = Path(__file__).resolve().parents[2] / "repertoires" / "kings-indian-attack.pgn"

TEXT = """\
[Event "One blunder"]
[RepertoireSide "White"]

1. e4 e5 2. Nf3 Nc6 3. Nxe5 (3. Bb5 a6 4. Ba4) 3... Nxe5 *
"""


@pytest.fixture
def small(tmp_path: Path) -> Path:
    path = tmp_path / "blunder.pgn"
    path.write_text(TEXT, encoding="utf-8")
    return path


def test_json(stemline: RunStemline, small: Path) -> None:
    done = stemline("engine-check", small, "--engine", STOCKFISH, "--nodes", "20000", "--json")
    assert (done.returncode, done.stderr) == (0, "")
    report = json.loads(done.stdout)
    assert report["engine"].startswith("Stockfish")
    assert (report["nodes"], report["margin"], report["complete"]) == (20_000, 100, True)
    assert report["positions"] == report["total"] == 10
    found = {(entry["kind"], entry["move"]): entry for entry in report["findings"]}
    blunder = found["loses", "Nxe5"]
    assert list(blunder) == ["fen", "move", "kind", "loss_cp", "best", "line", "reach"]
    assert blunder["loss_cp"] >= 200
    assert blunder["line"][:2] == ["Nxe5", "Nxe5"]
    assert blunder["reach"] == 1.0
    board = chess.Board(blunder["fen"])
    assert board.turn is chess.WHITE
    board.parse_san(blunder["best"])
    for san in blunder["line"]:
        board.push_san(san)
    weights = [entry["loss_cp"] * entry["reach"] for entry in report["findings"]]
    assert weights == sorted(weights, reverse=True)
    assert not any(entry["move"] in ("e4", "Nf3", "Bb5", "Ba4") for entry in report["findings"])


def test_reach_is_measured_as_in_the_window_or_as_games_say(
    stemline: RunStemline, tmp_path: Path
) -> None:
    path = tmp_path / "two.pgn"
    path.write_text(
        '[RepertoireSide "White"]\n\n1. e4 e5 (1... f6 2. d4 g5 3. Nc3) 2. Nf3 Nc6 3. Nxe5 *\n',
        encoding="utf-8",
    )
    games = tmp_path / "games.pgn"
    games.write_text(
        "".join(
            f'[White "Linden, Mara"]\n[Black "Ash, Bo"]\n[Result "1-0"]\n\n1. e4 {move} 1-0\n\n'
            for move in ("f6", "f6", "f6", "e5", "f6")
        ),
        encoding="utf-8",
    )
    arguments = ("engine-check", path, "--engine", STOCKFISH, "--nodes", "5000")

    def shares(*options: str | Path) -> tuple[dict[str, float], str]:
        done = stemline(*arguments, "--json", *options)
        assert done.returncode == 0
        findings = json.loads(done.stdout)["findings"]
        loses = {f["move"]: f["reach"] for f in findings if f["kind"] == "loses"}
        return loses, done.stderr

    assert shares() == ({"Nxe5": 0.5, "Nc3": 0.5}, "")
    first = node_after(read_repertoire(path).repertoire, "e4").key
    locations = find_locations()
    counts = ReplyCounts({first: {"f7f6": 4, "e7e5": 1}}, {})
    save_reply_counts(locations.replies_file(path), counts)
    # Four and one, and ten games of the base, shared equally: 9 and 6 of 15.
    measured, said = shares()
    assert measured == {"Nxe5": 0.4, "Nc3": 0.6}
    assert "in your own games, as the window counted them." in said
    assert shares("--equal") == ({"Nxe5": 0.5, "Nc3": 0.5}, "")
    by_games, said = shares("--games", games, "--player", "Linden, Mara")
    assert by_games == measured
    assert "in your own games." in said
    words = stemline(*arguments)
    assert words.stdout.splitlines()[-1].endswith("as the window counted them.")


def test_words_and_the_engine_on_the_path(stemline: RunStemline, small: Path) -> None:
    path = f"{STOCKFISH.parent}:/usr/bin:/bin"
    done = stemline("engine-check", small, "--nodes", "20000", env={"PATH": path})
    assert (done.returncode, done.stderr) == (0, "")
    assert "10 of 10 positions looked at" in done.stdout
    assert "Nxe5 loses" in done.stdout
    assert "3 Nxe5 Nxe5 4" in done.stdout


def test_only_so_many_positions_of_the_demo(stemline: RunStemline) -> None:
    done = stemline(
        "engine-check",
        DEMO,
        "--engine",
        STOCKFISH,
        "--nodes",
        "20000",
        "--positions",
        "8",
        "--json",
    )
    assert (done.returncode, done.stderr) == (0, "")
    report = json.loads(done.stdout)
    assert (report["total"], report["findings"]) == (8, [])


def test_a_second_run_is_read_from_the_cache(
    stemline: RunStemline, small: Path, stemline_home: Path
) -> None:
    arguments = ("engine-check", small, "--engine", STOCKFISH, "--nodes", "5000", "--json")
    first = stemline(*arguments)
    kept = stemline_home / "cache" / "evaluations.sqlite"
    assert kept.is_file()
    assert stemline(*arguments).stdout == first.stdout


def kept(path: Path) -> int:
    """How many evaluations are in the file, which another process writes."""
    try:
        with contextlib.closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as connection:
            return int(connection.execute("SELECT COUNT(*) FROM evaluation").fetchone()[0])
    except sqlite3.OperationalError:
        return 0


def test_ctrl_c_keeps_what_was_evaluated(
    small: Path, tmp_path: Path, process_environment: dict[str, str], stemline_home: Path
) -> None:
    process = subprocess.Popen(
        [
            sys.executable,
            "-P",
            "-m",
            "trainer",
            "engine-check",
            str(DEMO),
            "--engine",
            str(STOCKFISH),
            "--nodes",
            "200000",
            "--json",
        ],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env=process_environment,
        cwd=tmp_path,
        text=True,
    )
    until = time.monotonic() + 60
    while time.monotonic() < until and kept(stemline_home / "cache" / "evaluations.sqlite") < 6:
        time.sleep(0.05)
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=60)
    assert process.returncode == 1
    report = json.loads(out)
    assert not report["complete"]
    assert 0 < report["positions"] < report["total"]
    assert f"stopped after {report['positions']} of {report['total']} positions" in err
    assert "Traceback" not in err


def test_errors_are_one_sentence(stemline: RunStemline, small: Path, tmp_path: Path) -> None:
    for engine in (tmp_path / "none", small, fake_engine(tmp_path, "ends at once")):
        done = stemline("engine-check", small, "--engine", engine)
        assert done.returncode == 1
        assert done.stdout == ""
        assert done.stderr.startswith("stemline: ")
        assert len(done.stderr.splitlines()) == 1
        assert str(engine) in done.stderr
    crash = stemline("engine-check", small, "--engine", fake_engine(tmp_path, "crash"))
    assert crash.returncode == 1
    assert "The engine Fake crash ended in the middle of its work" in crash.stderr
    for way in ("flood", "illegal line", "garbage"):
        done = stemline(
            "engine-check", small, "--engine", fake_engine(tmp_path, way), "--nodes", "2000"
        )
        assert (done.returncode, done.stdout) == (1, "")
        assert len(done.stderr.splitlines()) == 1
    missing = stemline("engine-check", tmp_path / "none.pgn", "--engine", STOCKFISH)
    assert missing.returncode == 1
    for wrong in (("--nodes", "0"), ("--nodes", "many"), ("--margin", "-5"), ("--hash", "x")):
        done = stemline("engine-check", small, *wrong)
        assert done.returncode == 2
        assert "Traceback" not in done.stderr
