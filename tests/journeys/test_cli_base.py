"""`stemline base` as its own process."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
from collections import Counter
from pathlib import Path

import chess
import chess.pgn
import pytest

from tests.base_games import GameMaker
from tests.process import RunStemline

DEMO_GAMES = Path(__file__).resolve().parents[2] / "repertoires" / "demo-games.pgn"
DEMO = DEMO_GAMES.with_name("kings-indian-attack.pgn")


def test_the_demo_games(stemline: RunStemline, tmp_path: Path) -> None:
    base = tmp_path / "demo.base"
    built = stemline("base", "build", base, DEMO_GAMES, "--json")
    assert built.returncode == 0
    report = json.loads(built.stdout)
    assert report["games"] == report["added"] > 200
    assert report["duplicates"] == 0
    assert report["unused"] == []
    assert built.stderr.splitlines()[-1] == "Building: 100%"

    moves: Counter[str] = Counter()
    results: Counter[tuple[str, str]] = Counter()
    with DEMO_GAMES.open(encoding="utf-8") as file:
        while (game := chess.pgn.read_game(file)) is not None:
            san = game.board().san(next(iter(game.mainline_moves())))
            moves[san] += 1
            results[san, game.headers["Result"]] += 1
    shown = stemline("base", "show", base, "--fen", chess.STARTING_FEN, "--json")
    assert (shown.returncode, shown.stderr) == (0, "")
    found = json.loads(shown.stdout)
    assert found["games"] == moves.total()
    assert {move["san"]: move["games"] for move in found["moves"]} == moves
    for move in found["moves"]:
        assert list(move) == [
            "san", "games", "white", "draws", "black", "mean_rating", "last_year", "first_game",
        ]  # fmt: skip
        assert move["white"] == results[move["san"], "1-0"]
        assert move["draws"] == results[move["san"], "1/2-1/2"]
        assert move["black"] == results[move["san"], "0-1"]
        assert " – " in move["first_game"]
    text = stemline("base", "show", base)
    assert f"{moves.total()} games: White won" in text.stdout
    unused = json.loads(stemline("base", "show", base, "--unused", "--json").stdout)
    assert unused["files"] == [str(DEMO_GAMES)]
    assert unused["plies"] == 40

    again = stemline("base", "build", base, DEMO_GAMES)
    assert again.returncode == 0
    assert "0 games added" in again.stdout
    assert "1 file has not changed since" in again.stdout

    games = stemline("games", DEMO, DEMO_GAMES, "--base", base, "--json")
    novelties = [game["novelty"] for game in json.loads(games.stdout)["games"]]
    assert any(novelty is not None for novelty in novelties)


def test_broken_games_are_named(stemline: RunStemline, tmp_path: Path) -> None:
    games = tmp_path / "games.pgn"
    games.write_text(
        '[Event "good"]\n\n1. e4 *\n\n[Event "bad"]\n\n1. e4 e5\n2. Ke3 *\n\n'
        '[Event "odd"]\n[Variant "Atomic"]\n\n1. e4 *\n'
    )
    built = stemline("base", "build", tmp_path / "base", games)
    assert built.returncode == 1
    assert "1 game added" in built.stdout
    assert "1 game of another kind of chess, 1 broken game" in built.stdout
    line = f"stemline: {games}: game 2, line 8: “Ke3” is not a legal move after e5"
    assert line in built.stderr.splitlines()
    shown = stemline("base", "show", tmp_path / "base", "--unused")
    assert f"{games}: game 3, line 10: it is not standard chess but “Atomic”" in shown.stdout


@pytest.mark.parametrize(
    ("arguments", "status", "words"),
    [
        (("show", "no.base"), 1, "There is no reference base"),
        (("show", "games.pgn"), 1, "is no reference base"),
        (("build", "new.base", "missing.pgn"), 1, "There is no file"),
        (("build", "games.pgn", "games.pgn"), 1, "is no reference base"),
        (("show", "no.base", "--fen", "rubbish"), 2, "is not a FEN"),
        (("build", "new.base", "games.pgn", "--plies", "0"), 2, "no whole number"),
        (("build", "new.base"), 2, "required"),
        ((), 2, "required"),
    ],
)
def test_errors_are_one_sentence(
    stemline: RunStemline, tmp_path: Path, arguments: tuple[str, ...], status: int, words: str
) -> None:
    (tmp_path / "games.pgn").write_text("1. e4 *\n")
    done = stemline("base", *arguments)
    assert done.returncode == status
    assert words in done.stderr
    assert "Traceback" not in done.stderr
    assert done.stdout == ""
    assert (tmp_path / "games.pgn").read_text() == "1. e4 *\n"


def test_stopped_with_the_keyboard(tmp_path: Path, process_environment: dict[str, str]) -> None:
    games, base = tmp_path / "games.pgn", tmp_path / "base"
    text = GameMaker(seed=41).text(400)
    games.write_text("".join(text.replace("Quay", f"Quay {number}") for number in range(100)))
    command = [sys.executable, "-P", "-m", "trainer", "base", "build", str(base), str(games)]
    with subprocess.Popen(
        command, stderr=subprocess.PIPE, text=True, env=process_environment, cwd=tmp_path
    ) as process:
        assert process.stderr is not None
        assert process.stderr.readline().startswith("Building: ")
        process.send_signal(signal.SIGINT)
        rest = process.stderr.read()
        assert process.wait() == 1
    assert rest.splitlines()[-1] == (
        f"stemline: Stopped; {base} is as it was, and the same command goes on from here."
    )
    assert "Traceback" not in rest
    assert not base.exists()
    assert list((tmp_path / "base.building").glob("*.shard"))
