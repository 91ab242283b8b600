"""The player's hands in a drill: what he does is on the disk before they let go."""

from __future__ import annotations

from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from trainer.ui.drill.controller import Stage
from trainer.ui.main_window import MainWindow

LONG_WAIT = 20_000


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
