"""`stemline orders` as its own process."""

from __future__ import annotations

import io
import json
from pathlib import Path

import chess
import chess.pgn
import pytest

from tests.process import RunStemline

DEMO = Path(__file__).resolve().parents[2] / "repertoires" / "kings-indian-attack.pgn"

TEXT = """\
[Event "Two doors"]
[RepertoireSide "White"]

1. d4 Nf6 (1... d5 2. Nc3 Nf6 3. Bf4) 2. Nf3 g6 3. Nc3 d5 4. Bf4 *

[Event "Another plan"]
[RepertoireSide "White"]

1. d4 Nf6 2. c4 *
"""


@pytest.fixture
def small(tmp_path: Path) -> Path:
    path = tmp_path / "doors.pgn"
    path.write_text(TEXT, encoding="utf-8")
    return path


def test_json_of_the_demo(stemline: RunStemline) -> None:
    done = stemline("orders", DEMO, "--json")
    assert (done.returncode, done.stderr) == (0, "")
    report = json.loads(done.stdout)
    assert list(report) == ["crossings", "shortcuts", "conflicts"]
    assert len(report["crossings"]) == 80
    assert report["conflicts"] == []
    roots = {chess.STARTING_FEN}
    known: set[str] = set()
    with DEMO.open(encoding="utf-8") as file:
        while (game := chess.pgn.read_game(file)) is not None:
            roots.add(game.board().fen())
            stack: list[chess.pgn.GameNode] = [game]
            while stack:
                node = stack.pop()
                known.add(node.board().epd(en_passant="legal"))
                stack += node.variations
    for crossing in report["crossings"]:
        assert list(crossing) == ["fen", "orders", "order_count"]
        assert len(crossing["orders"]) == min(20, crossing["order_count"])
        assert len({tuple(order) for order in crossing["orders"]}) == len(crossing["orders"])
        for order in crossing["orders"]:
            assert any(leads(root, order, crossing["fen"]) for root in roots)
    for shortcut in report["shortcuts"]:
        assert list(shortcut) == ["from_fen", "move", "to_fen", "via"]
        moves = [shortcut["move"], *([shortcut["via"]] if shortcut["via"] else [])]
        assert leads(shortcut["from_fen"], moves, shortcut["to_fen"])
        assert chess.Board(shortcut["to_fen"]).epd(en_passant="legal") in known
    assert any(shortcut["via"] is None for shortcut in report["shortcuts"])
    assert any(shortcut["via"] for shortcut in report["shortcuts"])


def leads(start: str, sans: list[str], end: str) -> bool:
    board = chess.Board(start)
    for san in sans:
        try:
            board.push_san(san)
        except ValueError:
            return False
    board.halfmove_clock, board.fullmove_number = 0, 1
    return board.fen(en_passant="legal") == end


def test_a_small_repertoire(stemline: RunStemline, small: Path) -> None:
    done = stemline("orders", small, "--json")
    assert done.returncode == 0
    report = json.loads(done.stdout)
    # The second door stops short of the crossing, so there is none yet.
    assert report["crossings"] == []
    assert [conflict["moves"] for conflict in report["conflicts"]] == [["Nf3", "c4"]]
    after = "rnbqkb1r/pppppppp/5n2/8/3P4/8/PPP1PPPP/RNBQKBNR w KQkq - 0 1"
    assert report["conflicts"][0]["fen"] == after
    met = {
        "from_fen": "rnbqkb1r/ppp1pppp/5n2/3p4/3P1B2/2N5/PPP1PPPP/R2QKBNR b KQkq - 0 1",
        "move": "g6",
        "to_fen": "rnbqkb1r/ppp1pp1p/5np1/3p4/3P1B2/2N2N2/PPP1PPPP/R2QKB1R b KQkq - 0 1",
        "via": "Nf3",
    }
    assert met in report["shortcuts"]


def test_words(stemline: RunStemline, small: Path) -> None:
    done = stemline("orders", small)
    assert (done.returncode, done.stderr) == (0, "")
    assert "Move orders of a repertoire for White." in done.stdout
    assert "Nf3 in “Two doors”" in done.stdout
    assert "c4 in “Another plan”" in done.stdout
    assert "1 d4 d5 2 Nc3 Nf6 3 Bf4 g6, met by Nf3" in done.stdout
    assert "is known from 1 d4 Nf6 2 Nf3 g6 3 Nc3 d5 4 Bf4" in done.stdout
    demo = stemline("orders", DEMO)
    assert demo.returncode == 0
    assert "Crossings, which several moves enter: 80" in demo.stdout
    assert "King's Indian Attack" in demo.stdout
    assert "Doors into " in demo.stdout


def test_the_side_can_be_said(stemline: RunStemline, small: Path) -> None:
    done = stemline("orders", small, "--side", "black", "--json")
    assert json.loads(done.stdout)["conflicts"] == []
    wrong = stemline("orders", small, "--side", "green")
    assert wrong.returncode == 2
    assert "Traceback" not in wrong.stderr


def test_an_unreadable_move_is_named_and_the_rest_is_told(
    stemline: RunStemline, tmp_path: Path
) -> None:
    path = tmp_path / "bad.pgn"
    path.write_text('[RepertoireSide "White"]\n\n1. d4 d5 2. Ke4 (2. c4 e6) *\n', encoding="utf-8")
    done = stemline("orders", path, "--json")
    assert done.returncode == 1
    assert list(json.loads(done.stdout)) == ["crossings", "shortcuts", "conflicts"]
    assert "game 1, line 3" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_missing_file_is_one_sentence(stemline: RunStemline, tmp_path: Path) -> None:
    done = stemline("orders", tmp_path / "none.pgn")
    assert done.returncode == 1
    assert done.stdout == ""
    assert done.stderr.startswith("stemline: ")
    assert len(done.stderr.splitlines()) == 1
    assert stemline("orders").returncode == 2


def test_an_empty_file(stemline: RunStemline, tmp_path: Path) -> None:
    path = tmp_path / "empty.pgn"
    path.write_text("", encoding="utf-8")
    done = stemline("orders", path, "--json")
    assert done.returncode == 0
    assert json.loads(done.stdout) == {"crossings": [], "shortcuts": [], "conflicts": []}
    assert stemline("orders", path).returncode == 0


def test_the_text_is_read_by_python_chess() -> None:
    # The example above is sound: both games are read without an error.
    stream = io.StringIO(TEXT)
    games = list(iter(lambda: chess.pgn.read_game(stream), None))
    assert [game.errors for game in games if game is not None] == [[], []]
