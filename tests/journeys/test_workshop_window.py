"""The workshop on a real display: edited with mouse and keys, killed, started again, saved.

STEMLINE_KEEP_SHOTS=<folder> keeps the pictures that are taken on the way.
"""

from __future__ import annotations

import os
import random
import signal
from pathlib import Path

import chess
import chess.pgn
import pytest

from tests.benchmarks.bench_window import write_repertoire
from tests.journeys.test_real_window import Desk, Player, State, choose, desk, screen
from trainer.position import position_key
from trainer.repertoire.reader import read_repertoire
from trainer.storage.locations import find_locations

__all__ = ["desk", "screen"]

TEXT = """[Event "First door"]
[RepertoireSide "White"]

1. d3 {The modest start.} d5 (1... c5) 2. Nf3 Nf6 3. g3 c5 4. Bg2 *
"""


def positions_by_python_chess(path: Path) -> set[int]:
    """The keys of all positions that python-chess 1.11.2 finds in a file."""
    found: set[int] = set()
    with path.open(encoding="utf-8") as stream:
        while (game := chess.pgn.read_game(stream)) is not None:
            assert game.errors == []
            found.add(position_key(game.board()))
            stack: list[chess.pgn.GameNode] = [game]
            while stack:
                node = stack.pop()
                found.add(position_key(node.board()))
                stack += node.variations
    return found


def enter(player: Player) -> State:
    """From wherever it is, to the page of the workshop."""
    player.key("ctrl+e")
    return player.wait(
        "the workshop", lambda seen: seen["workshop"] and seen["workshop"]["keys_on_lines"]
    )


def at(player: Player, heading: str) -> State:
    return player.wait(
        f"the page of {heading}",
        lambda seen: seen["workshop"] and seen["workshop"]["heading"] == heading and seen["ready"],
    )


def move(player: Player, uci: str, *, drag: bool = False) -> None:
    squares = player.look()["workshop"]["squares"]
    if drag:
        player.drag(squares[uci[:2]], squares[uci[2:4]])
    else:
        player.click(squares[uci[:2]])
        player.click(squares[uci[2:4]])


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "mine.pgn"
    path.write_text(TEXT, encoding="utf-8")
    return path


def test_edited_killed_brought_back_and_saved(desk: Desk, file: Path, tmp_path: Path) -> None:
    choose(last_file=str(file))
    with desk.window() as player:
        player.wait_for_today()
        enter(player)
        at(player, "First door")
        player.key("Right")  # by keys
        at(player, "1 d3")
        player.type("e5")
        at(player, "1…e5")
        move(player, "e2e4")  # by two clicks
        at(player, "2 e4")
        move(player, "g8f6", drag=True)
        at(player, "2…Nf6")
        player.key("w")
        player.wait("the note", lambda seen: seen["workshop"]["writing"])
        player.do("type", "--delay", 4, "Plan: Be7 and castles.")
        player.take_picture("workshop-note", tmp_path)
        player.wait("it to be kept", lambda seen: not seen["workshop"]["dirty"])
        player.key("Escape")
        # The same position by another door.
        player.key("Home")
        at(player, "First door")
        player.type("Nf3")
        at(player, "1 Nf3")
        player.type("d5")
        at(player, "1…d5")
        player.type("d3")
        state = at(player, "2 d3")
        assert state["workshop"]["remark"] == "This is the position after 1 d3 d5 2 Nf3."
        player.take_picture("workshop-joined", tmp_path)
        player.key("ctrl+z")
        at(player, "1…d5")
        player.key("ctrl+shift+z")
        at(player, "2 d3")
        # Deleted by the mouse.
        player.key("Home")
        at(player, "First door")
        player.key("Up", "Right")
        state = at(player, "1 d3")
        assert state["workshop"]["lines"] == ["1…d5", "1…c5", "1…e5"]
        player.key("Down")
        player.click(state["workshop"]["points"]["delete"])
        player.wait("it to be gone", lambda seen: "1…c5" not in seen["workshop"]["lines"])
        assert file.read_text() == TEXT
        os.kill(player.process.pid, signal.SIGKILL)
        player.process.wait()

    with desk.window() as player:
        state = player.wait("the offer", lambda seen: "not saved" in seen["box"])
        assert "8 edits of mine.pgn were not saved when Stemline ended." in state["box"]
        player.take_picture("workshop-offer", tmp_path)
        player.click(state["buttons"]["Bring back"])
        state = player.wait_for_today()
        assert state["title"] == "Mine (not saved) — Stemline"
        enter(player)
        player.key("Right")
        state = at(player, "1 d3")
        assert state["workshop"]["lines"] == ["1…d5", "1…e5"]
        player.key("Down", "Right", "Right", "Right")
        state = at(player, "2…Nf6")
        assert state["workshop"]["note"] == "Plan: Be7 and castles."
        player.take_picture("workshop-back", tmp_path)
        player.key("ctrl+s")
        player.wait("it to be saved", lambda seen: not seen["workshop"]["unsaved"])
        player.key("Escape")
        player.wait_for_today()
        player.quit()
    assert not find_locations().journal_file(file).exists()
    expected = set(read_repertoire(file).repertoire.nodes)
    assert positions_by_python_chess(file) == expected
    board = chess.Board()
    for san in ("d3", "e5", "e4", "Nf6"):
        board.push_san(san)
    assert position_key(board) in expected
    board = chess.Board()
    for san in ("d3", "c5"):
        board.push_san(san)
    assert position_key(board) not in expected


def test_closing_by_keys_asks(desk: Desk, file: Path, tmp_path: Path) -> None:
    choose(last_file=str(file), appearance="dark")
    with desk.window() as player:
        player.wait_for_today()
        enter(player)
        player.type("e4")
        at(player, "1 e4")
        player.take_picture("workshop-dark", tmp_path)
        player.key("ctrl+q")
        state = player.wait("the question", lambda seen: "edits that are not saved" in seen["box"])
        player.do("windowfocus", state["box_window"])
        player.key("Escape")
        # What was seen of the first question must not be taken for the second.
        player.wait("no question", lambda seen: not seen["box"])
        at(player, "1 e4")
        player.do("windowfocus", state["window"])
        player.key("ctrl+q")
        state = player.wait("the question", lambda seen: "edits that are not saved" in seen["box"])
        player.click(state["buttons"]["Save"])
        assert player.process.wait(30) == 0
    assert "e4" in file.read_text()


@pytest.mark.parametrize("positions", [5, 500, 5_000])
def test_small_and_large_repertoires(desk: Desk, positions: int, tmp_path: Path) -> None:
    path = tmp_path / f"of-{positions}.pgn"
    if positions == 5:
        path.write_text(
            '[Event "Five"]\n[RepertoireSide "White"]\n\n1. e4 e5 2. Nf3 Nc6 *\n', encoding="utf-8"
        )
    else:
        write_repertoire(path, positions)
    choose(last_file=str(path))
    before = set(read_repertoire(path).repertoire.nodes)
    rng = random.Random(1)
    with desk.window() as player:
        player.wait_for_today()
        state = enter(player)
        first = state["workshop"]["lines"][0].split()[-1]
        new = next(san for san in ("a3", "h3") if san != first)
        player.type(new)
        at(player, f"1 {new}")
        player.type("Nh6")
        at(player, "1…Nh6")
        player.take_picture(f"workshop-{positions}", tmp_path)
        player.key("ctrl+z")
        at(player, f"1 {new}")
        for _ in range(3):
            player.key("Home")
            for _ in range(rng.randrange(1, 4)):
                player.key("Right")
        player.key("ctrl+r")
        player.wait("the list", lambda seen: seen["place"] == "PutRightPage" and seen["ready"])
        player.take_picture(f"put-right-{positions}", tmp_path)
        player.key("Return")
        player.wait("the board", lambda seen: seen["workshop"])
        player.take_picture(f"put-right-{positions}-there", tmp_path)
        player.key("ctrl+s")
        player.wait("it to be saved", lambda seen: not seen["workshop"]["unsaved"])
        player.quit()
    after = positions_by_python_chess(path)
    assert before < after
    assert len(after) == len(before) + 1
    assert set(read_repertoire(path).repertoire.nodes) == after
