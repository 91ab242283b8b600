"""`stemline import` as its own process."""

from __future__ import annotations

import json
import os
import shlex
import subprocess
import sys
from pathlib import Path

import chess
import chess.pgn
import pytest

from tests.process import RunStemline


def game(moves: str, white: str = "Ada", black: str = "Bo", result: str = "1-0") -> str:
    return f'[White "{white}"]\n[Black "{black}"]\n[Result "{result}"]\n\n{moves} {result}\n\n'


GAMES = (
    game("1. Nf3 d5 2. g3 Nf6 3. Bg2 e6 4. O-O") * 4
    + game("1. Nf3 d5 2. d4 Nf6 3. c4", result="0-1") * 5
    + game("1. Nf3 c5 2. g3 Nc6 3. Bg2", result="1/2-1/2")
    + game("1. e4 e5 2. Nf3 Nc6", white="Cy", black="Ada", result="0-1") * 3
)


@pytest.fixture
def games(tmp_path: Path) -> Path:
    path = tmp_path / "games.pgn"
    path.write_text(GAMES, encoding="utf-8")
    return path


def main_line(path: Path) -> str:
    with path.open(encoding="utf-8") as stream:
        first = chess.pgn.read_game(stream)
    assert first is not None
    assert first.errors == []
    return first.board().variation_san(first.mainline_moves())


def test_the_new_file_is_written_told_and_can_be_checked(
    stemline: RunStemline, games: Path, tmp_path: Path
) -> None:
    out = tmp_path / "new.pgn"
    done = stemline("import", games, "--side", "white", "--out", out)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.splitlines()[:2] == [
        f"{out}:",
        "  13 of 13 games count, giving 2 lines.",
    ]
    assert main_line(out) == "1. Nf3 d5 2. d4 Nf6 3. c4"
    checked = stemline("check", out, "--json")
    assert checked.returncode == 0
    assert json.loads(checked.stdout)["side"] == "white"


def test_every_choice_counts(stemline: RunStemline, games: Path, tmp_path: Path) -> None:
    out = tmp_path / "new.pgn"
    choices = ["--best-score", "3", "--plies", "5", "--share", "50", "--title", "Mine"]
    done = stemline("import", games, "--side", "white", "--out", out, *choices, "--json")
    assert (done.returncode, done.stderr) == (0, "")
    assert main_line(out) == "1. Nf3 d5 2. g3 Nf6 3. Bg2"
    assert '[Event "Mine"]' in out.read_text(encoding="utf-8")
    report = json.loads(done.stdout)
    assert list(report) == ["repertoires", "left"]
    (made,) = report["repertoires"]
    assert list(made) == [
        "file",
        "side",
        "games",
        "used",
        "lines",
        "positions",
        "moves",
        "decisions",
        "replies",
        "crossings",
        "other_player",
        "own_moves",
        "rare_replies",
        "unanswered",
        "over_limit",
    ]
    assert (made["file"], made["side"], made["games"], made["lines"]) == (
        str(out),
        "white",
        13,
        1,
    )
    assert made["rare_replies"] == 1
    # One game of ten with 1…c5 is below the share, and kept where one game is enough.
    choices += ["--or-games", "1", "--replace"]
    done = stemline("import", games, "--side", "white", "--out", out, *choices, "--json")
    assert json.loads(done.stdout)["repertoires"][0]["lines"] == 2
    assert report["left"] == []


def test_both_colours_of_a_player_make_two_files(
    stemline: RunStemline, games: Path, tmp_path: Path
) -> None:
    out = tmp_path / "ada.pgn"
    done = stemline("import", games, "--side", "both", "--player", "ada", "--out", out, "--json")
    assert (done.returncode, done.stderr) == (0, "")
    sides = {one["side"]: Path(one["file"]) for one in json.loads(done.stdout)["repertoires"]}
    assert {side: path.name for side, path in sides.items()} == {
        "white": "ada-white.pgn",
        "black": "ada-black.pgn",
    }
    assert main_line(sides["black"]) == "1. e4 e5 2. Nf3 Nc6"
    assert not out.exists()
    nobody = stemline("import", games, "--side", "both", "--out", out)
    assert nobody.returncode == 1
    assert "Choose the player" in nobody.stderr


def test_a_player_with_one_colour_gets_the_file_of_that_colour(
    stemline: RunStemline, games: Path, tmp_path: Path
) -> None:
    out = tmp_path / "cy.pgn"
    done = stemline("import", games, "--side", "both", "--player", "Cy", "--out", out)
    assert done.returncode == 0
    assert (tmp_path / "cy-white.pgn").exists()
    assert not (tmp_path / "cy-black.pgn").exists()


def test_faults_are_named_and_the_rest_is_taken(
    stemline: RunStemline, games: Path, tmp_path: Path
) -> None:
    broken = tmp_path / "broken.pgn"
    broken.write_text(game("1. Nf3 d5") + game("1. Nf3 d5 2. Ke4 d4"), encoding="utf-16")
    out = tmp_path / "new.pgn"
    done = stemline("import", broken, games, "--side", "white", "--out", out, "--json")
    assert done.returncode == 1
    assert done.stderr == (
        f"stemline: {broken}: game 2, line 11: “Ke4” is not a legal move after d5; "
        "the rest of the game is left out\n"
    )
    (left,) = json.loads(done.stdout)["left"]
    assert (left["file"], left["game"], left["line"]) == (str(broken), 2, 11)
    assert out.exists()


def test_nothing_is_written_over_unasked(
    stemline: RunStemline, games: Path, tmp_path: Path
) -> None:
    out = tmp_path / "mine.pgn"
    out.write_text("kept", encoding="utf-8")
    done = stemline("import", games, "--side", "white", "--out", out)
    assert done.returncode == 1
    assert "already" in done.stderr
    assert out.read_text(encoding="utf-8") == "kept"
    done = stemline("import", games, "--side", "white", "--out", out, "--replace")
    assert done.returncode == 0
    assert (tmp_path / "mine.pgn.bak").read_text(encoding="utf-8") == "kept"
    done = stemline("import", games, "--side", "white", "--out", games, "--replace")
    assert done.returncode == 1
    assert games.read_text(encoding="utf-8") == GAMES


@pytest.mark.parametrize(
    ("extra", "status", "said"),
    [
        (["--side", "white", "--plies", "0"], 1, "at least one half-move"),
        (["--side", "white", "--share", "120"], 1, "between 0 and 100"),
        (["--side", "white", "--player", "Nobody"], 1, "No game in these files"),
        (["--side", "green"], 2, "invalid choice"),
        (["--side", "white", "--plies", "many"], 2, "invalid int"),
        ([], 2, "--side"),
    ],
)
def test_what_cannot_be_meant_is_one_sentence(
    stemline: RunStemline,
    games: Path,
    tmp_path: Path,
    extra: list[str],
    status: int,
    said: str,
) -> None:
    out = tmp_path / "new.pgn"
    done = stemline("import", games, "--out", out, *extra)
    assert done.returncode == status
    assert said in done.stderr
    assert "Traceback" not in done.stderr
    assert not out.exists()


@pytest.mark.parametrize("data", [b"", b"no chess here\n", b"\x00\xff\x00" * 40])
def test_files_without_games(stemline: RunStemline, tmp_path: Path, data: bytes) -> None:
    path, out = tmp_path / "odd.pgn", tmp_path / "new.pgn"
    path.write_bytes(data)
    done = stemline("import", path, "--side", "black", "--out", out)
    assert done.returncode == 1
    assert done.stdout == ""
    assert len(done.stderr.splitlines()) == 1
    assert not out.exists()
    gone = stemline("import", tmp_path / "gone.pgn", "--side", "black", "--out", out)
    assert "There is no file" in gone.stderr


def test_a_folder_that_is_not_there(stemline: RunStemline, games: Path, tmp_path: Path) -> None:
    done = stemline("import", games, "--side", "white", "--out", tmp_path / "none" / "new.pgn")
    assert done.returncode == 1
    assert "could not be saved" in done.stderr
    assert len(done.stderr.splitlines()) == 1


def test_no_room_for_the_new_file(games: Path, tmp_path: Path) -> None:
    out = tmp_path / "new.pgn"
    # A limit of no blocks on what may be written stands for a full disk.
    python = shlex.quote(sys.executable)
    command = f"ulimit -f 0; exec {python} -m trainer import {shlex.quote(str(games))}"
    done = subprocess.run(
        ["/bin/sh", "-c", f"{command} --side white --out {shlex.quote(str(out))}"],
        capture_output=True,
        text=True,
        encoding="utf-8",
        env=os.environ | {"PYTHONDONTWRITEBYTECODE": "1"},
        check=False,
    )
    assert done.returncode == 1
    assert "could not be saved" in done.stderr
    assert len(done.stderr.splitlines()) == 1
    assert sorted(path.name for path in tmp_path.glob("*.pgn*")) == ["games.pgn"]
    assert not list(tmp_path.glob(".stemline-*"))
