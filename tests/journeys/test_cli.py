"""The command line as a process: what it prints, its exit status, and never a traceback."""

from __future__ import annotations

import json
import os
import random
import subprocess
import sys
from pathlib import Path

import pytest
from PIL import Image

from tests.process import RunStemline
from trainer import __version__

DEMO = Path(__file__).resolve().parents[2] / "repertoires" / "kings-indian-attack.pgn"
EMPTY_BOARD = "8/8/8/8/8/8/8/8 w - - 0 1"

SOUND = """[Event "The quiet system"]
[RepertoireSide "White"]

1. d3 d5 (1... e5 2. Nf3) 2. Nf3 Nf6 3. g3 *
"""
BROKEN = """[Event "One"]
[RepertoireSide "White"]

1. d3 d5 2. Nf3 Nf6
3. Qh7 *

[Event "Two"]

1. d3 e5 2. Ke3 *
"""


@pytest.fixture
def sound(tmp_path: Path) -> Path:
    path = tmp_path / "sound.pgn"
    path.write_text(SOUND)
    return path


@pytest.fixture
def broken(tmp_path: Path) -> Path:
    path = tmp_path / "broken.pgn"
    path.write_text(BROKEN)
    return path


def one_sentence(stderr: str) -> str:
    """The one line on standard error, without the program's name in front."""
    lines = stderr.splitlines()
    assert len(lines) == 1, stderr
    assert lines[0].startswith("stemline: ")
    assert lines[0].endswith((".", ")"))
    return lines[0].removeprefix("stemline: ")


def test_version_and_help(stemline: RunStemline) -> None:
    assert stemline("--version").stdout == f"stemline {__version__}\n"
    done = stemline("--help")
    assert done.returncode == 0
    for command in ("drill", "check", "picture"):
        assert command in done.stdout
        assert stemline(command, "--help").returncode == 0


# -- check ---------------------------------------------------------------------------------------


def test_check_in_words(stemline: RunStemline, sound: Path) -> None:
    done = stemline("check", sound)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("A repertoire for White.\n")
    counts = dict(line.rsplit(maxsplit=1) for line in done.stdout.splitlines()[2:11])
    # Counted by hand: the root, and behind it d3, d5, Nf3, Nf6, g3 and e5, Nf3.
    assert counts["positions"] == "8"
    assert counts["moves"] == "7"
    assert counts["decisions"] == "4"
    assert counts["replies"] == "3"


def test_check_for_machines(stemline: RunStemline) -> None:
    done = stemline("check", DEMO, "--json")
    assert (done.returncode, done.stderr) == (0, "")
    report = json.loads(done.stdout)
    numbers = ["sections", "positions", "moves", "decisions", "replies", "crossings"]
    numbers += ["conflicts", "holes", "dead_ends"]
    assert list(report) == ["side", *numbers, "skipped"]
    assert report["side"] == "white"
    assert all(type(report[name]) is int for name in numbers)
    assert report["skipped"] == []


def test_check_names_file_game_and_line(stemline: RunStemline, broken: Path) -> None:
    done = stemline("check", broken)
    assert done.returncode == 1
    first, second = done.stderr.splitlines()
    assert first.startswith(f"stemline: {broken}: game 1, line 5: ")
    assert "Qh7" in first
    assert second.startswith(f"stemline: {broken}: game 2, line 9: ")
    assert "Ke3" in second
    assert "A repertoire for White." in done.stdout
    report = json.loads(stemline("check", "--json", broken).stdout)
    assert [(entry["game"], entry["line"]) for entry in report["skipped"]] == [(1, 5), (2, 9)]
    for entry in report["skipped"]:
        assert list(entry) == ["game", "line", "reason"]
        assert type(entry["reason"]) is str


@pytest.mark.parametrize(("side", "decisions"), [("white", 4), ("Black", 2)])
def test_check_for_either_side(
    stemline: RunStemline, sound: Path, side: str, decisions: int
) -> None:
    report = json.loads(stemline("check", sound, "--json", "--side", side).stdout)
    assert report["side"] == side.lower()
    assert report["decisions"] == decisions


def test_what_is_no_repertoire(stemline: RunStemline, tmp_path: Path) -> None:
    missing = tmp_path / "missing.pgn"
    done = stemline("check", missing)
    assert done.returncode == 1
    assert one_sentence(done.stderr) == (
        f"There is no file {missing}; check the name or choose another file."
    )
    done = stemline("check", tmp_path)
    assert done.returncode == 1
    assert one_sentence(done.stderr) == f"{tmp_path} is a folder; choose a PGN file in it."
    binary = tmp_path / "binary.pgn"
    binary.write_bytes(bytes(range(256)))
    for command in (["check"], ["check", "--json"], ["drill", "--terminal"]):
        done = stemline(*command, binary)
        assert (done.returncode, done.stdout) == (1, "")
        assert one_sentence(done.stderr).startswith(f"{binary} is not a text file; ")


def test_an_empty_file_is_a_repertoire_of_nothing(stemline: RunStemline, tmp_path: Path) -> None:
    path = tmp_path / "empty.pgn"
    path.write_text("")
    done = stemline("check", path, "--json")
    assert done.returncode == 0
    assert json.loads(done.stdout)["positions"] == 0


PIECES = [b"[Event", b'"]', b"1. e4", b"(", b")", b"{", b"}", b"\n\n", b"*", b"1-0", b"$300"]
PIECES += [b";", b"%", b"O-O", b"e8=Q", b"[FEN ", b'"', b"\\", b"\xef\xbb\xbf", b"\xff\xfe", b"--"]


@pytest.mark.parametrize("seed", range(40))
def test_garbage_never_ends_in_a_traceback(
    stemline: RunStemline, tmp_path: Path, seed: int
) -> None:
    rng = random.Random(seed)
    parts = []
    for _ in range(rng.randrange(1, 60)):
        # Half of it looks like PGN, a quarter is text, a quarter any bytes.
        kind = rng.random()
        if kind < 0.5:
            parts.append(rng.choice(PIECES))
        elif kind < 0.75:
            parts.append(bytes(rng.choices(range(32, 127), k=rng.randrange(1, 30))))
        else:
            low = 0 if seed % 2 else 1
            parts.append(bytes(rng.choices(range(low, 256), k=rng.randrange(1, 30))))
    path = tmp_path / "garbage.pgn"
    path.write_bytes(rng.choice([b"", b" ", b"\n"]).join(parts))
    done = stemline("check", path, "--json")
    assert done.returncode in (0, 1)
    assert "Traceback" not in done.stderr
    assert "mistake" not in done.stderr
    assert (done.returncode == 1) == bool(done.stderr)
    if done.stdout:
        json.loads(done.stdout)


# -- wrong usage ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["frobnicate"], "invalid choice: 'frobnicate'"),
        (["check"], "the following arguments are required: REP"),
        (["check", "x.pgn", "--side", "green"], "invalid choice: 'green'"),
        (["drill", "x.pgn", "--minutes", "abc"], "“abc” is no whole number from 1 to 240"),
        (["drill", "x.pgn", "--minutes", "0"], "“0” is no whole number from 1 to 240"),
        (["drill", "x.pgn", "--minutes", "241"], "“241” is no whole number from 1 to 240"),
        (["drill", "x.pgn", "--minutes", "-3"], "“-3” is no whole number from 1 to 240"),
        (["picture", "--fen", EMPTY_BOARD], "required: --out"),
    ],
)
def test_wrong_usage(stemline: RunStemline, arguments: list[str], said: str) -> None:
    done = stemline(*arguments)
    assert (done.returncode, done.stdout) == (2, "")
    assert said in done.stderr
    assert "Traceback" not in done.stderr


# -- picture -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("suffix", "beginning"), [("svg", b"<svg"), ("png", b"\x89PNG"), ("pdf", b"%PDF")]
)
def test_pictures(stemline: RunStemline, tmp_path: Path, suffix: str, beginning: bytes) -> None:
    fen = "rnbqkbnr/pppppppp/8/8/4P3/8/PPPP1PPP/RNBQKBNR b KQkq e3 0 1"
    out = tmp_path / f"diagram.{suffix}"
    done = stemline("picture", "--fen", fen, "--out", out, "--flip", "--size", "320")
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
    assert out.read_bytes().lstrip().startswith(beginning)
    if suffix == "png":
        with Image.open(out) as image:
            assert image.width == 320
            assert len(image.convert("RGB").getcolors(1 << 20) or []) > 2


def test_a_picture_of_no_position(stemline: RunStemline, tmp_path: Path) -> None:
    out = tmp_path / "x.svg"
    done = stemline("picture", "--fen", "nonsense", "--out", out)
    assert done.returncode == 2
    assert one_sentence(done.stderr).startswith("“nonsense” is not a FEN: ")
    assert not out.exists()


@pytest.mark.parametrize("out", ["x.bmp", "nowhere/x.png", "x.pdf"])
def test_a_picture_that_cannot_be_written(stemline: RunStemline, tmp_path: Path, out: str) -> None:
    (tmp_path / "x.pdf").mkdir()
    done = stemline("picture", "--fen", EMPTY_BOARD, "--out", tmp_path / out)
    assert done.returncode == 1
    assert out in one_sentence(done.stderr)


# -- the other end of the pipe -------------------------------------------------------------------


@pytest.mark.parametrize("command", [["check", "--json"], ["check"], ["drill", "--terminal"]])
def test_nobody_reads_the_output(process_environment: dict[str, str], command: list[str]) -> None:
    read_end, write_end = os.pipe()
    os.close(read_end)
    try:
        done = subprocess.run(
            [sys.executable, "-P", "-m", "trainer", *command, DEMO],
            stdin=subprocess.DEVNULL,
            stdout=write_end,
            stderr=subprocess.PIPE,
            env=process_environment,
            encoding="utf-8",
            timeout=60,
            check=False,
        )
    finally:
        os.close(write_end)
    assert (done.returncode, done.stderr) == (0, "")


def test_a_terminal_that_knows_few_characters(stemline: RunStemline, tmp_path: Path) -> None:
    path = tmp_path / "accents.pgn"
    path.write_text('[Event "é"]\n[RepertoireSide "White"]\n\n1. d3 {é} e5 2. Kéx *\n')
    narrow = {"PYTHONUTF8": "0", "PYTHONIOENCODING": "ascii"}
    done = stemline("check", path, "--json", env=narrow)
    assert done.returncode == 1
    assert "mistake" not in done.stderr
    assert done.stdout.isascii()
