"""Setting up a position, sections and importing on a real display, with mouse and keys.

STEMLINE_KEEP_SHOTS=<folder> keeps the pictures that are taken on the way.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import chess.pgn
import pytest

from tests.journeys.test_real_window import Desk, Player, State, choose, desk, screen
from trainer.repertoire.reader import read_repertoire

__all__ = ["desk", "screen"]

TEXT = """[Event "First door"]
[RepertoireSide "White"]

1. d3 d5 (1... c5) 2. Nf3 Nf6 3. g3 c5 4. Bg2 *
"""
GAMES = (
    '[White "Ada"]\n[Black "Bo"]\n[Result "1-0"]\n\n1. c4 e5 2. g3 Nf6 3. Bg2 1-0\n\n'
    '[White "Cy"]\n[Black "Ada"]\n[Result "0-1"]\n\n1. e4 c6 2. Ke3 d5 0-1\n'
)


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "mine.pgn"
    path.write_text(TEXT, encoding="utf-8")
    choose(last_file=str(path))
    return path


def box(player: Player, what: str, holds: Callable[[State], object]) -> State:
    """Wait for a box, and give it the keyboard: no window manager does."""
    state = player.wait(what, lambda seen: seen["box_window"] and holds(seen))
    player.do("windowfocus", "--sync", state["box_window"])
    return state


def back(player: Player) -> None:
    """The keyboard goes back to the window once the box is closed."""
    state = player.wait("no box", lambda seen: not seen["box_window"])
    if not state["active"]:
        player.do("windowfocus", state["window"])
        player.wait("the keyboard", lambda seen: seen["active"])


def type_path(player: Player, path: Path) -> None:
    """Into the file dialog that is open."""
    box(player, "the file dialog", lambda seen: "Cancel" in seen["buttons"])
    player.do("type", "--delay", 4, str(path))
    player.key("Return")


def test_a_position_is_set_up_and_found_on_the_map(desk: Desk, file: Path, tmp_path: Path) -> None:
    assert file.exists()
    with desk.window() as player:
        player.wait_for_today()
        player.key("ctrl+2")
        player.wait("the map", lambda seen: "Reach 100 %" in seen["text"] and seen["ready"])
        player.key("ctrl+shift+f")
        state = box(player, "the board to set up", lambda seen: seen["set_up"])
        squares = state["set_up"]
        # 1 d3 d5: a pawn is dragged, another one taken off and brought from the box.
        player.drag(squares["d2"], squares["d3"])
        player.do("mousemove", *squares["d7"], "click", 3)
        player.drag(state["named"]["black pawn"], squares["d5"])
        player.take_picture("set-up", tmp_path)
        player.click(state["buttons"]["Find"])
        back(player)
        state = player.wait("the position", lambda seen: "1 d3 d5" in seen["text"])
        assert "1…d5" in state["text"]
        # With the other side to move it is not there: the nearest is shown, and that is said.
        player.key("ctrl+shift+f")
        state = box(player, "the board again", lambda seen: seen["set_up"])
        player.click(state["buttons"]["Black to move"])
        player.click(state["buttons"]["Find"])
        back(player)
        player.wait("what differs", lambda seen: "only with these pieces" in seen["text"])
        player.take_picture("set-up-nearest", tmp_path)
        player.quit()


def test_sections_by_keys_and_saved(desk: Desk, file: Path, tmp_path: Path) -> None:
    with desk.window() as player:
        player.wait_for_today()
        player.key("ctrl+shift+t")
        state = box(player, "the sections", lambda seen: "Introduction" in seen["box"])
        player.click(state["buttons"]["New"])
        player.do("type", "--delay", 4, "Second door")
        player.key("Return")
        player.key("Tab")
        player.do("type", "--delay", 4, "By the knight.")
        player.wait("the text", lambda seen: "By the knight." in seen["written"])
        player.take_picture("sections", tmp_path)
        player.key("Escape")  # out of the text, which is kept
        player.key("alt+Up")
        player.key("Escape")
        back(player)
        player.key("ctrl+s")
        player.wait("it to be saved", lambda seen: "not saved" not in seen["title"])
        player.quit()
    with file.open(encoding="utf-8") as stream:
        games = [chess.pgn.read_game(stream) for _ in range(2)]
    assert [game.headers["Event"] for game in games if game] == ["Second door", "First door"]
    assert games[0] is not None
    assert games[0].comment == "By the knight."


def test_games_are_imported_and_opened(desk: Desk, file: Path, tmp_path: Path) -> None:
    games, target = tmp_path / "games.pgn", tmp_path / "new.pgn"
    games.write_text(GAMES, encoding="utf-8")
    with desk.window() as player:
        player.wait_for_today()
        player.key("ctrl+i")
        state = box(player, "the import", lambda seen: "Add files …" in seen["buttons"])
        player.click(state["buttons"]["Add files …"])
        type_path(player, games)
        state = box(player, "the report", lambda seen: "2 of 2 games" in seen["written"])
        assert "games.pgn, game 2, line 11: “Ke3” is not a legal move" in state["written"]
        player.take_picture("import", tmp_path)
        player.click(state["buttons"]["Save …"])
        type_path(player, target)
        back(player)
        player.wait("the new one", lambda seen: seen["title"].startswith("New") and seen["ready"])
        player.take_picture("imported", tmp_path)
        player.quit()
    loaded = read_repertoire(target)
    assert not loaded.side_guessed
    assert loaded.repertoire.side
    assert file.read_text(encoding="utf-8") == TEXT
