"""Move orders on a real display: walked through and edited with mouse and keys.

STEMLINE_KEEP_SHOTS=<folder> keeps the pictures that are taken on the way.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Any

from tests.journeys.test_real_window import Desk, Player, State, choose, desk, screen
from trainer.repertoire.reader import read_repertoire
from trainer.storage.locations import find_locations

__all__ = ["desk", "screen"]

#: A crossing, a conflict (2 Nf3 or 2 c3), a shortcut (2…Nf6 after 1 d3 d5 2 g3), look-alikes.
TEXT = """[Event "By the knight"]
[RepertoireSide "White"]

1. d3 d5 (1... Nf6 2. Nf3 d5) 2. Nf3 (2. g3 e5 3. Nf3) 2... Nf6 (2... a6 3. g3) (2... a5 3. c3)
3. g3 *

[Event "By the pawn"]
[RepertoireSide "White"]

1. d3 d5 2. c3 *
"""


def orders(player: Player, what: str, holds: Callable[[dict[str, Any]], object]) -> State:
    """Wait until all is found and something holds of the place."""
    state = player.wait(
        what,
        lambda seen: (
            seen["orders"] and seen["orders"]["still"] and seen["ready"] and holds(seen["orders"])
        ),
    )
    found = state["orders"]
    assert isinstance(found, dict)
    return found


def go(player: Player, word: str) -> State:
    """Press the word of a list."""
    player.click(player.look()["orders"]["words"][word])
    section = word.upper().replace(" ", "_")
    return orders(player, word, lambda seen: seen["section"] == section)


def test_walked_through_and_edited(desk: Desk, tmp_path: Path) -> None:
    path = tmp_path / "mine.pgn"
    path.write_text(TEXT, encoding="utf-8")
    choose(last_file=str(path))
    with desk.window() as player:
        player.wait_for_today()
        player.key("ctrl+3")
        seen = orders(player, "the crossings", lambda seen: seen["title"])
        assert seen["counts"][0] == "Crossings 1"
        assert seen["rows"][0].startswith("1…d5 or Nf6 meet after ")
        player.take_picture("orders-crossings", tmp_path)
        # Into the entry and along it, by keys.
        player.click(seen["row_points"][0])
        orders(player, "the orders", lambda seen: seen["keys_on_orders"])
        player.key("Home", "Right", "Right")
        orders(player, "a move on the board", lambda seen: seen["where"].startswith("1…"))
        player.key("Escape")
        orders(player, "the list again", lambda seen: seen["keys_in_list"])

        # A conflict is settled by its number; the other move stays.
        seen = go(player, "Conflicts")
        assert seen["rows"][0].startswith("Nf3 or c3")
        player.click(seen["row_points"][0])
        player.key("Escape")
        orders(player, "the list", lambda seen: seen["keys_in_list"])
        player.key("2")
        orders(player, "no conflict", lambda seen: seen["counts"][3] == "Conflicts 0")

        # A shortcut is added with one press of a key, another with the mouse.
        seen = go(player, "Shortcuts")
        first = seen["rows"][0]
        before = len(seen["rows"])
        player.click(seen["row_points"][0])
        player.key("Escape")
        orders(player, "the list", lambda seen: seen["keys_in_list"])
        player.take_picture("orders-shortcuts", tmp_path)
        player.key("Insert")
        seen = orders(player, "it to be gone", lambda seen: first not in seen["rows"])
        assert before > 1 or seen["sentence"]
        player.key("ctrl+z")
        player.wait("where it was", lambda seen: seen["workshop"])
        player.key("Escape")
        seen = orders(player, "it again", lambda seen: first in seen["rows"])
        # What came in its place is chosen still.
        second = seen["rows"][seen["chosen"]]
        assert second != first
        player.click(seen["buttons"]["Add to the repertoire  [Ins]"])
        orders(player, "the second to be gone", lambda seen: second not in seen["rows"])

        # What tells two look-alikes apart.
        seen = go(player, "Near misses")
        assert seen["note"] == ""
        player.click(seen["note_point"])
        player.do("type", "--delay", 4, "With a5 the knight has no b5.")
        orders(player, "the note to be kept", lambda seen: seen["note_said"] == "Kept.")
        player.take_picture("orders-note", tmp_path)
        assert "(not saved)" in player.look()["title"]
        player.key("ctrl+s")
        player.wait("the file to be saved", lambda seen: "(not saved)" not in seen["title"])
        player.quit()
    saved = read_repertoire(path).repertoire
    assert saved.conflicts() == []
    connection = sqlite3.connect(find_locations().progress_file)
    notes = connection.execute("SELECT note FROM pair_notes").fetchall()
    connection.close()
    assert notes == [("With a5 the knight has no b5.",)]
