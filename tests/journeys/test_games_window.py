"""Games on a real display: the list, a game walked through, a watched folder, a remedy.

STEMLINE_KEEP_SHOTS=<folder> keeps the pictures that are taken on the way.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from tests.journeys.test_real_window import Desk, Player, State, choose, desk, screen
from trainer.resources import repertoire_path

__all__ = ["desk", "screen"]

NEW_GAME = """[Event "Club evening"]
[Date "2026.11.20"]
[White "Linden, Mara"]
[Black "Newcomer, Ned"]
[Result "1-0"]

1. Nf3 a5 2. g3 a4 1-0
"""


def games(player: Player, what: str, holds: Callable[[dict[str, Any]], object]) -> State:
    """Wait until all is read and something holds of the place."""
    state = player.wait(
        what,
        lambda seen: (
            seen["games"] and seen["games"]["still"] and seen["ready"] and holds(seen["games"])
        ),
    )
    found = state["games"]
    assert isinstance(found, dict)
    return found


def test_from_the_list_to_the_workshop(desk: Desk, tmp_path: Path) -> None:
    folder = tmp_path / "my games"
    folder.mkdir()
    demo = repertoire_path("demo-games.pgn")
    (folder / "old.pgn").write_bytes(demo.read_bytes())
    mine = tmp_path / "mine.pgn"
    mine.write_bytes(repertoire_path("kings-indian-attack.pgn").read_bytes())
    choose(last_file=str(mine), games_folders=(str(folder),))
    with desk.window() as player:
        player.wait_for_today()
        player.key("ctrl+4")
        seen = games(player, "the games", lambda seen: seen["count"] == 152)
        assert seen["status"].startswith("152 games, 92 of other players left aside.")
        assert seen["keys_in_list"]
        player.take_picture("games-list", tmp_path)
        # One game by keys: opened where it was left, then step by step.
        player.key("Down", "Down", "Return")
        seen = games(player, "a game", lambda seen: seen["page"] and seen["keys_on_ribbon"])
        ply = seen["ply"]
        assert "not in the repertoire" in seen["where"]
        player.key("Left")
        seen = games(player, "a step back", lambda seen: seen["ply"] == ply - 1)
        assert seen["where"].endswith(", known")
        player.key("n")
        games(player, "the junction", lambda seen: seen["ply"] == ply)
        player.take_picture("games-one", tmp_path)
        player.key("Escape")
        games(player, "the list", lambda seen: not seen["page"] and seen["keys_in_list"])
        for word, section in (("Where they leave", "PLACES"), ("Depth", "DEPTH")):
            player.click(player.look()["games"]["words"][word])
            games(player, word, lambda seen, section=section: seen["section"] == section)
            player.take_picture(f"games-{section.lower()}", tmp_path)
        player.click(player.look()["games"]["words"]["Games"])
        # A new game in the watched folder appears by itself.
        (folder / "new.pgn").write_text(NEW_GAME, encoding="utf-8")
        seen = games(player, "the new game", lambda seen: seen["count"] == 153)
        assert seen["rows"][0].endswith("opponent: 1…a5")
        player.click(seen["row_points"][0])
        player.key("Return")
        answer = "Add 1…a5"
        seen = games(player, "the remedy", lambda seen: answer in seen["buttons"])
        player.click(seen["buttons"][answer])
        state = player.wait("the workshop", lambda seen: seen["workshop"])
        assert state["games"] is None
        player.wait("the move in it", lambda seen: "a5" in str(seen["workshop"]))
        player.take_picture("games-workshop", tmp_path)
