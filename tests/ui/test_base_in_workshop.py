"""What the reference base played, beside the position that is edited."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from tests.memory_graphs import node_after
from tests.ui.conftest import MakeWindow
from trainer.games.base.builder import build_base
from trainer.ui.base.panel import PositionPanel
from trainer.ui.main_window import MainWindow

GAMES = """[Date "2025.01.01"]
[White "Ash, Bo"]
[Black "Elm, Fay"]
[Result "1-0"]

1. d3 d5 2. Nf3 c5 3. g3 1-0

[Date "2025.01.02"]
[White "Fir, Gus"]
[Black "Oak, Hal"]
[Result "0-1"]

1. d3 d5 2. Nf3 c5 3. c4 0-1

[Date "2025.01.03"]
[White "Yew, Ida"]
[Black "Box, Jo"]
[Result "0-1"]

1. d3 d5 2. Nf3 Nf6 0-1
"""


def panel_of(window: MainWindow) -> PositionPanel | None:
    assert window.desk is not None
    return window.desk.page.findChild(PositionPanel)


def test_a_move_of_the_base_is_taken_over(
    qtbot: QtBot, make_window: MakeWindow, small: Path, tmp_path: Path
) -> None:
    games = tmp_path / "games.pgn"
    games.write_text(GAMES, encoding="utf-8")
    build_base(tmp_path / "games.base", [games])
    window = make_window(small, base_file=str(tmp_path / "games.base"))
    assert window.course is not None
    node = node_after(window.course.repertoire, "d3 d5 Nf3")
    window.edit_at(node)
    panel = panel_of(window)
    assert panel is not None
    qtbot.waitUntil(panel.isVisible)
    qtbot.waitUntil(lambda: panel.found is not None and panel.found.games == 3)
    assert [row.san for row in panel.found.moves] == ["c5", "Nf6"]
    panel.moves.selectRow(0)
    qtbot.keyClick(panel.moves, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: "c5" in [edge.san for edge in node.edges])
    # The page has gone there, and so has the panel: now the answer is to be chosen.
    qtbot.waitUntil(lambda: panel.found is not None and panel.found.games == 2)
    assert {row.san for row in panel.found.moves} == {"g3", "c4"}
    assert window.desk is not None
    window.desk.undo()
    qtbot.waitUntil(lambda: not window.desk.engaged)


def test_without_a_base_the_page_is_the_players_own(
    qtbot: QtBot, make_window: MakeWindow, small: Path
) -> None:
    window = make_window(small)
    window.edit_here()
    assert window.desk is not None
    qtbot.waitUntil(window.desk.page.isVisible)
    assert panel_of(window) is None
