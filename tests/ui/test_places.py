from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QPoint, Qt, QTimer
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from tests.ui.conftest import MakeWindow
from tests.ui.drilling import wait_until_kept
from trainer.resources import repertoire_path
from trainer.ui.drill.controller import Stage
from trainer.ui.main_window import DEMO, MainWindow
from trainer.ui.position_dialog import PositionDialog


def click_place(qtbot: QtBot, window: MainWindow, number: int) -> None:
    centre: QPoint = window.places.bar.tabRect(number).center()
    qtbot.mouseClick(window.places.bar, Qt.MouseButton.LeftButton, pos=centre)


def go_to_map(qtbot: QtBot, window: MainWindow) -> None:
    click_place(qtbot, window, 1)
    assert window.rooms.map is not None
    qtbot.waitUntil(lambda: window.rooms.map.chosen_node is not None, timeout=20_000)


def settle(qtbot: QtBot, window: MainWindow) -> None:
    """Wait until all work in the background is done."""
    qtbot.waitUntil(
        lambda: (
            not window._runner.busy()
            and (window.rooms.orders is None or not window.rooms.orders.seeker.unfinished)
        ),
        timeout=20_000,
    )


def test_places_are_chosen_with_the_mouse(
    qtbot: QtBot, make_window: MakeWindow, small: Path
) -> None:
    window = make_window(small)
    go_to_map(qtbot, window)
    assert window.rooms.map.isVisible()
    assert not window.today.isVisible()
    with qtbot.waitSignal(window.ready, timeout=10_000):
        click_place(qtbot, window, 0)
    assert window.today.isVisible()


def test_places_are_chosen_with_the_keyboard(
    qtbot: QtBot, make_window: MakeWindow, small: Path
) -> None:
    window = make_window(small)
    window.activateWindow()
    qtbot.keyClick(window, Qt.Key.Key_2, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: window.rooms.map is not None and window.rooms.map.isVisible())
    qtbot.keyClick(window, Qt.Key.Key_1, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(window.today.isVisible)


def test_a_drill_takes_the_whole_window(
    qtbot: QtBot, make_window: MakeWindow, small: Path
) -> None:
    window = make_window(small)
    go_to_map(qtbot, window)
    with qtbot.waitSignal(window.drills.controller.asked, timeout=10_000):
        window.start_drill()
    assert not window.places.bar.isVisible()
    window.places.go(1)
    assert window.drills.view.isVisible()
    qtbot.keyClick(window.drills.view.entry, Qt.Key.Key_Escape)
    assert window.drills.summary.isVisible()
    qtbot.mouseClick(window.drills.summary.back_button, Qt.MouseButton.LeftButton)
    assert window.places.bar.isVisible()
    assert window.places.bar.currentIndex() == 0


def test_another_file_clears_the_map(qtbot: QtBot, make_window: MakeWindow, small: Path) -> None:
    window = make_window(small)
    go_to_map(qtbot, window)
    with qtbot.waitSignal(window.ready, timeout=20_000):
        window.open(repertoire_path(DEMO))
    assert window.today.isVisible()
    assert window.rooms.map.chosen_node is None
    go_to_map(qtbot, window)
    assert window.rooms.map.chosen_node in window.course.repertoire.roots


def test_enter_on_the_map_shows_the_position_with_its_note(
    qtbot: QtBot, make_window: MakeWindow, small: Path
) -> None:
    window = make_window(small)
    go_to_map(qtbot, window)
    shown: list[str] = []

    def close_dialog() -> None:
        dialog = QApplication.activeModalWidget()
        assert isinstance(dialog, PositionDialog)
        shown.append(dialog.windowTitle())
        dialog.reject()

    QTimer.singleShot(200, close_dialog)
    qtbot.keyClick(window.rooms.map.canvas, Qt.Key.Key_Return)
    assert shown == ["A position of the repertoire"]


def test_the_map_follows_changed_settings(
    qtbot: QtBot, make_window: MakeWindow, small: Path
) -> None:
    window = make_window(small)
    go_to_map(qtbot, window)
    light = window.rooms.map.grab().toImage()
    window._change(appearance="dark")
    window._apply_settings()
    assert window.rooms.map.grab().toImage() != light


def test_move_orders_are_looked_for_once(
    qtbot: QtBot, make_window: MakeWindow, small: Path
) -> None:
    window = make_window(small)
    qtbot.keyClick(window, Qt.Key.Key_3, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: window.rooms.orders is not None and window.rooms.orders.isVisible())
    settle(qtbot, window)
    words = window.rooms.orders.words
    click_place(qtbot, window, 0)
    settle(qtbot, window)
    click_place(qtbot, window, 2)
    assert not window.rooms.orders.seeker.unfinished
    assert window.rooms.orders.words is words


def test_a_confused_pair_is_drilled_from_its_place(qtbot: QtBot, make_window: MakeWindow) -> None:
    window = make_window(repertoire_path(DEMO))
    click_place(qtbot, window, 2)
    settle(qtbot, window)
    assert window.rooms.orders is not None
    pair = window.course.repertoire.decisions()[5:9:3]
    with qtbot.waitSignal(window.drills.controller.asked, timeout=20_000):
        window.rooms.orders.drill_wanted.emit(pair)
    assert window.drills.view.isVisible()
    assert not window.places.bar.isVisible()
    asked = []
    for _ in pair:
        qtbot.waitUntil(lambda: window.drills.controller.stage is Stage.ASKING)
        prompt = window.drills.controller._prompt
        asked.append(prompt.node)
        window.drills.view.board.move_made.emit(prompt.node.edges[0].move)
        wait_until_kept(qtbot, window)
        window.drills.view.proceed.emit()
    assert asked == pair
    qtbot.waitUntil(window.drills.summary.isVisible)


def test_another_file_clears_the_move_orders(
    qtbot: QtBot, make_window: MakeWindow, small: Path
) -> None:
    window = make_window(repertoire_path(DEMO))
    click_place(qtbot, window, 2)
    # In the middle of the search: the repertoire is taken apart only once it has ended.
    with qtbot.waitSignal(window.ready, timeout=20_000):
        window.open(small)
    click_place(qtbot, window, 2)
    settle(qtbot, window)
    assert window.rooms.orders.isVisible()
    assert window.rooms.orders_of is window.course
