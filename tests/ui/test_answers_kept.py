"""While an answer is on its way to the disk the window goes on, and nothing of it is lost.

The disk is made to wait for real: another connection holds the progress file's write lock.
"""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QToolButton
from pytestqt.qtbot import QtBot

from tests.ui.boxes import BoxPresser
from tests.ui.conftest import LONG_WAIT, MakeWindow
from tests.ui.drilling import (
    answer_typed,
    logged,
    press,
    stage_behind_a_box,
    start,
    wait_until_kept,
)
from trainer.storage.locations import find_locations
from trainer.ui.drill.controller import Stage
from trainer.ui.main_window import MainWindow


class SlowDisk:
    """Nothing can be written to the progress file as long as it is `busy`."""

    def __init__(self) -> None:
        self._connection = sqlite3.connect(
            find_locations().progress_file, isolation_level=None, check_same_thread=False
        )

    def busy(self) -> None:
        self._connection.execute("BEGIN IMMEDIATE")

    def idle(self) -> None:
        self._connection.execute("ROLLBACK")

    def soon_idle(self) -> None:
        threading.Timer(0.2, self.idle).start()

    def close(self) -> None:
        self._connection.close()


@pytest.fixture
def window(qtbot: QtBot, make_window: MakeWindow, small: Path) -> MainWindow:
    window = make_window(small)
    start(qtbot, window)
    return window


@pytest.fixture
def disk(window: MainWindow) -> Iterator[SlowDisk]:
    disk = SlowDisk()
    yield disk
    disk.close()


def answer_and_wait_for_the_disk(qtbot: QtBot, window: MainWindow, text: str) -> None:
    qtbot.keyClicks(window.drills.view.entry, text)
    qtbot.keyClick(window.drills.view.entry, Qt.Key.Key_Return)
    assert window.drills.controller.stage is Stage.KEEPING


def test_the_window_goes_on_and_takes_no_second_answer(
    qtbot: QtBot, window: MainWindow, disk: SlowDisk
) -> None:
    disk.busy()
    answer_and_wait_for_the_disk(qtbot, window, "d3")
    ticks: list[int] = []
    timer = QTimer(window)
    timer.timeout.connect(lambda: ticks.append(1))
    timer.start(5)
    qtbot.waitUntil(lambda: len(ticks) > 20, timeout=LONG_WAIT)
    assert window.drills.view.board.board.piece_at(19) is not None, "the pawn stands on d3"
    window.drills.view.typed.emit("e4")
    window.drills.view.board.move_made.emit(next(iter(window.drills.view.board.board.legal_moves)))
    for command in ("hint", "left", "skip", "flag", "undo", "pause"):
        window.drills.view.command.emit(command)
    window.drills.view.proceed.emit()
    assert window.drills.controller.stage is Stage.KEEPING
    assert window.drills.view.panel.verdict.text() == ""
    disk.idle()
    wait_until_kept(qtbot, window)
    assert window.drills.controller.stage is Stage.READING
    assert window.drills.view.panel.verdict.text() == "Right."
    assert logged() == [("drill", "d2d3", "clean")]


def test_a_missed_move_is_shown_and_a_slip_taken_back_when_they_are_kept(
    qtbot: QtBot, window: MainWindow, disk: SlowDisk
) -> None:
    disk.busy()
    answer_and_wait_for_the_disk(qtbot, window, "e4")
    disk.idle()
    wait_until_kept(qtbot, window)
    assert window.drills.controller.stage is Stage.CORRECTING
    disk.busy()
    window.drills.view.command.emit("undo")
    assert window.drills.controller.stage is Stage.KEEPING
    disk.idle()
    wait_until_kept(qtbot, window)
    assert window.drills.controller.stage is Stage.ASKING
    answer_typed(qtbot, window, "d3")
    assert [kind for kind, _, _ in logged()] == ["drill", "retraction", "drill"]
    assert logged()[-1] == ("drill", "d2d3", "clean")


def test_escape_keeps_the_answer_that_is_being_written(
    qtbot: QtBot, window: MainWindow, disk: SlowDisk
) -> None:
    disk.busy()
    answer_and_wait_for_the_disk(qtbot, window, "d3")
    disk.soon_idle()
    qtbot.keyClick(window.drills.view.entry, Qt.Key.Key_Escape)
    assert window.drills.summary.isVisible()
    assert logged() == [("drill", "d2d3", "clean")]


def test_closing_keeps_the_answer_that_is_being_written(
    qtbot: QtBot, window: MainWindow, disk: SlowDisk
) -> None:
    disk.busy()
    answer_and_wait_for_the_disk(qtbot, window, "d3")
    disk.soon_idle()
    assert window.close()
    assert logged() == [("drill", "d2d3", "clean")]


def test_a_box_opens_when_the_answer_is_kept(
    qtbot: QtBot, window: MainWindow, disk: SlowDisk
) -> None:
    disk.busy()
    answer_and_wait_for_the_disk(qtbot, window, "d3")
    disk.soon_idle()
    assert stage_behind_a_box(window) is Stage.PAUSED
    assert window.drills.controller.stage is Stage.READING
    assert logged() == [("drill", "d2d3", "clean")]


@pytest.mark.parametrize("what", ["d3", "e4", "l", "s", "m"])
def test_what_cannot_be_kept_is_told_and_changes_nothing(
    qtbot: QtBot, window: MainWindow, what: str
) -> None:
    progress = sqlite3.connect(find_locations().progress_file, isolation_level=None)
    table = "flags" if what == "m" else "answers"
    progress.execute(f"ALTER TABLE {table} RENAME TO elsewhere")
    before = window.drills.view.board.board
    press(qtbot, window, what) if len(what) == 1 else answer_typed(qtbot, window, what)
    said = window.drills.view.message.text()
    assert "progress.sqlite" in said
    assert said.endswith("The question is still open.") is (what != "m")
    assert window.drills.controller.stage is Stage.ASKING
    assert window.drills.view.board.board == before
    progress.execute(f"ALTER TABLE elsewhere RENAME TO {table}")
    progress.close()
    answer_typed(qtbot, window, "d3")
    assert window.drills.view.panel.verdict.text() == "Right."
    assert logged() == [("drill", "d2d3", "clean")]


def test_taking_off_a_flag_waits_for_the_disk_and_the_window_does_not(
    qtbot: QtBot, window: MainWindow, disk: SlowDisk, boxes: BoxPresser
) -> None:
    press(qtbot, window, "m")
    wait_until_kept(qtbot, window)
    with qtbot.waitSignal(window.ready, timeout=LONG_WAIT):
        window.drills.leave()
        window.show_today()
    qtbot.waitUntil(window.today.flagged.isVisible, timeout=LONG_WAIT)
    flagged = window.today.flagged.findChildren(QToolButton)[0]
    disk.busy()
    boxes.press("Take the flag off")
    qtbot.mouseClick(flagged, Qt.MouseButton.LeftButton)
    ticks: list[int] = []
    timer = QTimer(window)
    timer.timeout.connect(lambda: ticks.append(1))
    timer.start(5)
    qtbot.waitUntil(lambda: len(ticks) > 20, timeout=LONG_WAIT)
    assert window.today.flagged.isVisible()
    with qtbot.waitSignal(window.ready, timeout=LONG_WAIT):
        disk.idle()
    qtbot.waitUntil(lambda: not window.today.flagged.isVisible(), timeout=LONG_WAIT)
