"""What the window does a little at a time or leaves to others: nothing of it is lost or doubled.

The player may open something else, start or close at any moment in between.
"""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from tests.ui.conftest import LONG_WAIT, SMALL, NewWindow, open_file, stop_in_first_turn
from tests.ui.drilling import answer_typed
from trainer.storage.locations import find_locations
from trainer.storage.settings import load_settings
from trainer.ui.drill.controller import Stage
from trainer.ui.main_window import MainWindow


@pytest.fixture
def other(tmp_path: Path) -> Path:
    path = tmp_path / "other-system.pgn"
    path.write_text(SMALL.replace("The quiet system", "The other"), encoding="utf-8")
    return path


def sessions() -> list[tuple[bool, str | None]]:
    """Of each sitting, whether its end was noted, and with which summary."""
    connection = sqlite3.connect(find_locations().progress_file)
    try:
        rows = connection.execute("SELECT ended, summary FROM sessions ORDER BY id").fetchall()
    finally:
        connection.close()
    return [(ended is not None, summary) for ended, summary in rows]


def begin_entering(window: MainWindow) -> None:
    """Start a drill and stop in the turn in which the board comes on the screen."""
    window.start_drill()
    stop_in_first_turn(window.drills._entering)


def parts_built(window: MainWindow) -> list[object]:
    """What is there of the drill's page, its summary, its controller and the workshop."""
    drills = vars(window.drills)
    return [drills.get("view"), drills.get("summary"), drills.get("controller"), window.desk]


def answer_once(qtbot: QtBot, window: MainWindow) -> None:
    qtbot.mouseClick(window.today.start_button, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: window.drills.controller.stage is Stage.ASKING, timeout=LONG_WAIT)
    answer_typed(qtbot, window, "d3")


@pytest.mark.parametrize("steps", range(6))
def test_another_file_is_opened_while_the_window_is_still_being_built(
    qtbot: QtBot, new_window: NewWindow, small: Path, other: Path, steps: int
) -> None:
    window = new_window()
    window.open(small)
    qtbot.waitUntil(lambda: window._loader._building.active, timeout=LONG_WAIT)
    for _ in range(steps):
        window._loader._building._step()
    built = parts_built(window)
    open_file(qtbot, window, other)
    assert window.course is not None
    assert window.course.path == other
    # Nothing is built a second time.
    for before, after in zip(built, parts_built(window), strict=True):
        assert after is not None
        assert before in (None, after)
    answer_once(qtbot, window)
    window.close()
    assert [ended for ended, _ in sessions()] == [True]


@pytest.mark.parametrize("steps", range(6))
def test_the_window_is_closed_while_it_is_still_being_built(
    qtbot: QtBot, new_window: NewWindow, small: Path, steps: int
) -> None:
    window = new_window()
    window.open(small)
    qtbot.waitUntil(lambda: window._loader._building.active, timeout=LONG_WAIT)
    for _ in range(steps):
        window._loader._building._step()
    window.close()
    qtbot.wait(100)
    assert window.course is None


def test_the_window_is_closed_while_a_drill_comes_on_the_screen(
    qtbot: QtBot, new_window: NewWindow, small: Path
) -> None:
    window = open_file(qtbot, new_window(), small)
    begin_entering(window)
    window.close()
    qtbot.wait(100)
    assert window.drills.controller is not None
    assert window.drills.controller.stage is Stage.IDLE


def test_another_file_is_opened_while_a_drill_comes_on_the_screen(
    qtbot: QtBot, new_window: NewWindow, small: Path, other: Path
) -> None:
    window = open_file(qtbot, new_window(), small)
    begin_entering(window)
    window.drills._entering._step()
    open_file(qtbot, window, other)
    assert window.today.isVisible()
    answer_once(qtbot, window)
    # The board is painted again.
    assert window.drills.view.board.updatesEnabled()
    assert window.drills.view.board.isVisible()


def test_settings_changed_just_before_closing_are_there_at_the_next_start(
    qtbot: QtBot, new_window: NewWindow, small: Path
) -> None:
    window = open_file(qtbot, new_window(), small)
    for minutes in range(1, 40):
        window._change(minutes=minutes, coach=f"Coach {minutes}")
    window.close()
    saved, notice = load_settings(find_locations().settings_file)
    assert notice is None
    assert (saved.minutes, saved.coach, saved.last_file) == (39, "Coach 39", str(small))
    assert new_window().settings == window.settings


def test_settings_are_on_the_disk_without_closing(
    qtbot: QtBot, new_window: NewWindow, small: Path
) -> None:
    window = open_file(qtbot, new_window(), small)
    window._change(coach="Ash, Bo")
    qtbot.waitUntil(lambda: load_settings(find_locations().settings_file)[0].coach == "Ash, Bo")


def test_the_end_of_a_drill_is_noted_where_the_window_is_closed_in_it(
    qtbot: QtBot, new_window: NewWindow, small: Path
) -> None:
    window = open_file(qtbot, new_window(), small)
    answer_once(qtbot, window)
    window.close()
    ((ended, summary),) = sessions()
    assert ended
    assert summary is not None
    assert '"asked": 1' in summary


def test_the_end_of_each_drill_is_noted_with_its_own_summary(
    qtbot: QtBot, new_window: NewWindow, small: Path
) -> None:
    """The next drill may have begun before the end of the last one was written."""
    window = open_file(qtbot, new_window(), small)
    answer_once(qtbot, window)
    window.drills.controller.leave()
    window.start_drill()
    qtbot.waitUntil(lambda: window.drills.controller.stage is Stage.ASKING, timeout=LONG_WAIT)
    window.drills.controller.leave()
    window.close()
    found = sessions()
    assert [ended for ended, _ in found] == [True, True]
    assert ['"asked": 1' in str(summary) for _, summary in found] == [True, False]
