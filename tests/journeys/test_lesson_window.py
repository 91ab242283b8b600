"""Lesson on a real display, by keys alone: structures, an own plan, the break asked.

STEMLINE_KEEP_SHOTS=<folder> keeps the pictures that are taken on the way.
"""

from __future__ import annotations

import json
from pathlib import Path

from tests.journeys.test_real_window import Desk, choose, desk, screen
from trainer.resources import repertoire_path
from trainer.storage.locations import find_locations

__all__ = ["desk", "screen"]


def test_structures_plans_and_breaks_by_keys(desk: Desk, tmp_path: Path) -> None:
    mine = tmp_path / "mine.pgn"
    mine.write_bytes(repertoire_path("kings-indian-attack.pgn").read_bytes())
    choose(last_file=str(mine))
    with desk.window() as player:
        player.wait_for_today()
        player.key("ctrl+5")
        player.wait(
            "the structures",
            lambda seen: (
                seen["place"] == "LessonPlace"
                and seen["ready"]
                and "King's Indian Attack set-up" in seen["text"]
                and "Position 1 of" in seen["text"]
            ),
        )
        player.take_picture("lesson-structures", tmp_path)
        # Down the list, and on to the next position of that structure.
        player.key("Down")
        player.wait("the next structure", lambda seen: "closed (e5" in seen["text"])
        player.key("Tab", "alt+Right")
        player.wait("its next position", lambda seen: "Position 2 of" in seen["text"])
        # Alt and the letter of a label lead to the plan; it is kept by itself.
        player.key("alt+p")
        player.do("type", "--delay", 4, "Nf1 and h4.")
        plans = find_locations().data / "plans.json"
        player.wait("the plan on the disk", lambda _seen: plans.exists())
        player.wait(
            "the whole plan",
            lambda _seen: json.loads(plans.read_text("utf-8")) == {"attack-chain": "Nf1 and h4."},
        )
        player.key("alt+b")
        player.wait("the question", lambda seen: "play the break" in seen["text"])
        player.take_picture("lesson-break", tmp_path)
        player.key("alt+i")
        player.wait("a hint", lambda seen: "Look at the" in seen["text"])
        player.key("alt+a")
        player.wait("the answer", lambda seen: "The usual break: " in seen["text"])
        player.key("Escape")
        player.wait("the structure again", lambda seen: "Your own &plan" in seen["text"])
