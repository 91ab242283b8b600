"""`stemline handout` and `stemline structure` as real processes."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.process import RunStemline
from trainer.resources import repertoire_path

REPERTOIRE = repertoire_path("kings-indian-attack.pgn")
GAMES = repertoire_path("demo-games.pgn")
SCHLECHTER = "rnbq1rk1/pp2ppbp/2p2np1/3p4/3P1B2/2N1PN2/PPP1BPPP/R2Q1RK1 b - - 0 7"


def test_the_structure_of_a_position(stemline: RunStemline) -> None:
    done = stemline("structure", "--fen", SCHLECHTER, "--json")
    assert done.returncode == 0, done.stderr
    report = json.loads(done.stdout)
    found = {one["id"]: one for one in report["structures"]}
    assert found["schlechter"]["breaks"]["black"] == ["e5", "c5"]
    assert found["schlechter"]["source"] == "common practice, no source"
    targets = {one["to"] for one in report["sides"]["black"]["breaks"] if one["now"]}
    assert {"e5", "c5"} <= targets
    text = stemline("structure", "--fen", SCHLECHTER)
    assert "Schlechter form of the Slav structure" in text.stdout
    wrong = stemline("structure", "--fen", "nonsense")
    assert wrong.returncode == 2
    assert "is not a FEN" in wrong.stderr


@pytest.mark.parametrize(
    "words",
    [
        ("--section", "1", "--out", "l.pdf"),
        ("--structure", "kings-indian-attack", "--out", "l.pdf", "--paper", "letter"),
        ("--section", "1", "--out", "l.pgn"),
        ("--section", "1", "--out", "l.epd"),
    ],
)
def test_a_handout_of_a_repertoire(
    stemline: RunStemline, tmp_path: Path, words: tuple[str, ...]
) -> None:
    name = words[words.index("--out") + 1]
    out = tmp_path / name
    words = tuple(str(out) if word == name else word for word in words)
    done = stemline("handout", REPERTOIRE, *words, "--date", "2026-11-25")
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == str(out)
    assert out.stat().st_size > 100


def test_a_handout_of_a_game(stemline: RunStemline, tmp_path: Path) -> None:
    out = tmp_path / "game.pgn"
    done = stemline(
        "handout", GAMES, "--game", "2", "--against", REPERTOIRE, "--moments", "12w", "--out", out
    )
    assert done.returncode == 0, done.stderr
    text = " ".join(out.read_text(encoding="utf-8").split())
    assert "Here the opponent leaves the repertoire" in text
    assert "White to move: find the move." in text


@pytest.mark.parametrize(
    ("words", "status", "reason"),
    [
        (("--out", "l.doc"), 1, "end its name in"),
        (("--out", "l.pdf", "--section", "99"), 1, "no section “99”"),
        (("--out", "l.pdf", "--moments", "3w"), 2, "say which one with --game"),
        (("--out", "l.pdf", "--date", "soon"), 2, "is no date"),
        (("--out", "/nowhere/l.pdf", "--section", "1"), 1, "cannot be written"),
    ],
)
def test_what_is_wrong_is_told_in_a_sentence(
    stemline: RunStemline, words: tuple[str, ...], status: int, reason: str
) -> None:
    done = stemline("handout", REPERTOIRE, *words)
    assert done.returncode == status
    assert reason in done.stderr
    assert "Traceback" not in done.stderr
