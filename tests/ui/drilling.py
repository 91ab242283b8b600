"""The player's hands in a drill: what he does is on the disk before they let go."""

from __future__ import annotations

import sqlite3

from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from tests.ui.conftest import LONG_WAIT
from trainer.storage.locations import find_locations
from trainer.ui.drill.controller import Stage
from trainer.ui.main_window import MainWindow


def start(qtbot: QtBot, window: MainWindow) -> None:
    with qtbot.waitSignal(window.drills.controller.asked, timeout=LONG_WAIT):
        qtbot.mouseClick(window.today.start_button, Qt.MouseButton.LeftButton)


def go_on(qtbot: QtBot, window: MainWindow) -> None:
    """Leave the note behind; the next question opens."""
    with qtbot.waitSignal(window.drills.controller.asked, timeout=LONG_WAIT):
        press(qtbot, window, Qt.Key.Key_Space)


def logged() -> list[tuple[str, str, str]]:
    """What stands in the progress file: kind, prepared move, grade."""
    with sqlite3.connect(find_locations().progress_file) as connection:
        rows = connection.execute("SELECT kind, move, grade FROM answers ORDER BY id").fetchall()
    connection.close()
    return rows


def answer_typed(qtbot: QtBot, window: MainWindow, text: str) -> None:
    qtbot.keyClicks(window.drills.view.entry, text)
    press(qtbot, window, Qt.Key.Key_Return)


def press(qtbot: QtBot, window: MainWindow, key: Qt.Key | str) -> None:
    """A key, or the letter of a command."""
    if isinstance(key, str):
        qtbot.keyClicks(window.drills.view.entry, key)
    else:
        qtbot.keyClick(window.drills.view.entry, key)
    wait_until_kept(qtbot, window)


def wait_until_kept(qtbot: QtBot, window: MainWindow) -> None:
    assert window.drills.controller is not None
    qtbot.waitUntil(lambda: window.drills.controller.stage is not Stage.KEEPING, timeout=LONG_WAIT)


def stage_behind_a_box(window: MainWindow) -> Stage:
    """Show the keys of the drill for a while: what the drill does meanwhile."""
    assert window.drills.controller is not None
    stages: list[Stage] = []

    def close_box() -> None:
        stages.append(window.drills.controller.stage)
        QApplication.activeModalWidget().close()

    QTimer.singleShot(600, close_box)
    window.show_keys()
    (stage,) = stages
    return stage
