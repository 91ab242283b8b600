"""`stemline orders` as its own process."""

from __future__ import annotations

import io
import json
from pathlib import Path

import chess
import chess.pgn
import pytest

from tests.memory_graphs import node_after
from tests.process import RunStemline
from trainer.repertoire.reader import read_repertoire
from trainer.storage.locations import find_locations
from trainer.storage.progress import ProgressStore
from trainer.storage.settings import utc_now

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
    assert list(report) == ["crossings", "shortcuts", "conflicts", "notes"]
    assert len(report["crossings"]) == 80
    assert report["conflicts"] == report["notes"] == []
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
        assert list(crossing) == ["fen", "orders", "order_count", "most_seen"]
        assert crossing["most_seen"] is None
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
    assert list(json.loads(done.stdout)) == ["crossings", "shortcuts", "conflicts", "notes"]
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
    nothing = {"crossings": [], "shortcuts": [], "conflicts": [], "notes": []}
    assert json.loads(done.stdout) == nothing
    assert stemline("orders", path).returncode == 0


def test_the_text_is_read_by_python_chess() -> None:
    # The example above is sound: both games are read without an error.
    stream = io.StringIO(TEXT)
    games = list(iter(lambda: chess.pgn.read_game(stream), None))
    assert [game.errors for game in games if game is not None] == [[], []]


ALIKE = """[Event "Look-alikes"]
[RepertoireSide "White"]

1. Nf3 d5 (1... Nf6 2. g3 d5) 2. g3 a6 (2... a5 3. c4) (2... Nf6 3. Bg2) 3. Bg2 *
"""


def test_what_the_progress_file_knows(stemline: RunStemline, tmp_path: Path) -> None:
    path = tmp_path / "look-alikes.pgn"
    path.write_text(ALIKE, encoding="utf-8")
    # Answers by which 2…Nf6 is met, and a note on 2…a6 and 2…a5.
    drilled = stemline("drill", path, "--terminal", input="nf3\ng3\nbg2\ng3\nbg2\nc4\nbg2\nc4\n")
    assert drilled.returncode == 0
    loaded = read_repertoire(path)
    first, second = (node_after(loaded.repertoire, f"Nf3 d5 g3 {m}") for m in ("a6", "a5"))
    with ProgressStore.open(find_locations().progress_file, clock=utc_now) as store:
        store.tell_apart(1, second.key, first.key, "With a5 there is no b5.\nTake the centre.")
    done = stemline("orders", path, "--json")
    assert (done.returncode, done.stderr) == (0, "")
    report = json.loads(done.stdout)
    (note,) = report["notes"]
    assert note["note"] == "With a5 there is no b5.\nTake the centre."
    assert {" ".join(fen.split()[:4]) for fen in note["fens"]} == {
        node.board().epd() for node in (first, second)
    }
    (crossing,) = report["crossings"]
    seen = crossing["most_seen"]
    assert seen["order"] in crossing["orders"]
    assert (seen["drills"], seen["games"]) == (1, 0)
    words = stemline("orders", path).stdout
    assert "    With a5 there is no b5. Take the centre." in words
    assert "– met once in drills" in words
    # It follows the file, and a reader changes nothing.
    moved = path.rename(tmp_path / "renamed.pgn")
    assert json.loads(stemline("orders", moved, "--json").stdout)["notes"] == report["notes"]
    locked = find_locations().progress_file
    locked.write_bytes(b"no database")
    told = stemline("orders", moved, "--json")
    assert told.returncode == 0
    assert json.loads(told.stdout)["notes"] == []
    assert str(locked) in told.stderr


def test_what_an_order_allows_in_words(stemline: RunStemline) -> None:
    words = stemline("orders", DEMO).stdout
    # ECO has 1 Nf3 Nf6 2 g3 b5 as a system of its own (A05; from memory).
    named = "Only this order lets Black play 2…b5 (King's Indian Attack: Spassky Variation), and "
    assert named in words
    assert " less notable." in words
