"""`stemline handout` and `stemline structure` as real processes."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.engines import STOCKFISH
from tests.process import RunStemline
from trainer.resources import repertoire_path
from trainer.storage.locations import find_locations

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


def test_since_when_a_structure_stands_and_what_changed_it(stemline: RunStemline) -> None:
    moves = "1 e4 e6 2 d4 d5 3 e5 c5 4 c3 cxd4 5 cxd4"
    done = stemline("structure", "--moves", moves, "--json", "--no-engine")
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["stretches"] == [
        {"id": "french-advance", "since": 5, "until": 8},
        {"id": "french-advance", "since": 9, "until": None},
    ]
    text = stemline("structure", "--moves", moves, "--no-engine").stdout
    assert "French advance chain since 3 e5, until 4…cxd4" in text
    assert "French advance chain since 5 cxd4" in text
    wrong = stemline("structure", "--moves", "e4 e6 Qh9")
    assert wrong.returncode == 2
    assert "“Qh9” cannot be played after 2 half-moves" in wrong.stderr
    assert stemline("structure").returncode == 2


def test_a_trick_has_the_word_of_the_engine(stemline: RunStemline) -> None:
    moves = "d4 d5 Nc3 Nf6 Bf4 c6 e3 Qb6 a3"
    asked = stemline("structure", "--moves", moves, "--json", "--engine", STOCKFISH)
    (trick,) = json.loads(asked.stdout)["tricks"]
    assert (trick["kind"], trick["taking"], trick["confirmed"]) == ("trapped", "b6b2", True)
    text = stemline("structure", "--moves", moves, "--engine", STOCKFISH).stdout
    assert "has no safe square. (The engine agrees.)" in text
    silent = stemline("structure", "--moves", moves, "--json", "--no-engine")
    assert json.loads(silent.stdout)["tricks"][0]["confirmed"] is None
    missing = stemline("structure", "--moves", moves, "--engine", "/nowhere/engine")
    assert missing.returncode == 1
    assert "There is no engine at /nowhere/engine" in missing.stderr


def test_model_games_of_a_whole_base(stemline: RunStemline, tmp_path: Path) -> None:
    base = tmp_path / "games.base"
    assert stemline("base", "build", base, GAMES).returncode == 0
    done = stemline("structure", "--base", base, "--named", "isolated-queen-pawn", "--json")
    assert done.returncode == 0, done.stderr
    report = json.loads(done.stdout)
    assert (report["games"], report["looked"]) == (244, 244)
    counts = {one["id"]: one["games"] for one in report["structures"]}
    assert len(report["model_games"]) == counts["isolated-queen-pawn"] > 1
    plies = [one["plies"] for one in report["model_games"]]
    assert plies == sorted(plies, reverse=True)
    assert len({one["opening"] for one in report["model_games"]}) > 1
    for one in report["model_games"]:
        found = stemline("structure", "--fen", one["fen"], "--json", "--no-engine")
        names = [each["id"] for each in json.loads(found.stdout)["structures"]]
        assert "isolated-queen-pawn" in names
        break
    text = stemline("structure", "--base", base)
    assert "244 of 244 games were looked through." in text.stdout
    wrong = stemline("structure", "--base", base, "--named", "nonsense")
    assert (wrong.returncode, "no structure “nonsense”" in wrong.stderr) == (2, True)
    alone = stemline("structure", "--fen", SCHLECHTER, "--named", "slav")
    assert alone.returncode == 2


def test_an_own_plan_stands_in_the_handout_of_its_structure(
    stemline: RunStemline, tmp_path: Path
) -> None:
    plans = find_locations().data / "plans.json"
    plans.parent.mkdir(parents=True)
    plans.write_text('{"kings-indian-attack": "Nf1 and h4."}', encoding="utf-8")
    out = tmp_path / "kia.html"
    done = stemline("handout", REPERTOIRE, "--structure", "kings-indian-attack", "--out", out)
    assert done.returncode == 0, done.stderr
    assert "Nf1 and h4." in out.read_text(encoding="utf-8")


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
