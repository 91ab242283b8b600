"""What a place needs is imported before the player goes there."""

from __future__ import annotations

import importlib
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel
from pytestqt.qtbot import QtBot

from tests.ui.conftest import MakeWindow, stop_in_first_turn
from trainer.ui import rooms
from trainer.ui.games.place import GamesPlace
from trainer.ui.orders.place import OrdersPlace

_PART = "a_part_for_later"
#: A chain of pawns, which is a structure with a name; the starting position has none.
CHAIN = """[Event "Chain"]
[RepertoireSide "White"]

1. e4 e6 2. d4 d5 3. e5 c5 4. c3 Nc6 5. Nf3 Qb6 6. a3 *
"""


def test_parts_are_imported_once_the_window_is_at_rest(
    qtbot: QtBot,
    make_window: MakeWindow,
    small: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    Path(tmp_path, f"{_PART}.py").write_text("", encoding="utf-8")
    monkeypatch.syspath_prepend(str(tmp_path))
    monkeypatch.setattr(rooms, "_LATER_PARTS", (_PART,))
    make_window(small)
    assert _PART not in sys.modules
    try:
        qtbot.waitUntil(lambda: _PART in sys.modules)
    finally:
        sys.modules.pop(_PART, None)


@pytest.fixture
def slow_part(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """The map needs something whose import ends when a file is there."""
    go_on = tmp_path / "go-on"
    text = f"import os, time\nwhile not os.path.exists({str(go_on)!r}):\n    time.sleep(0.005)\n"
    Path(tmp_path, f"{_PART}.py").write_text(text, encoding="utf-8")
    monkeypatch.syspath_prepend(str(tmp_path))
    needed = {**rooms._NEEDED_AT, 1: (*rooms._NEEDED_AT[1], _PART)}
    monkeypatch.setattr(rooms, "_NEEDED_AT", needed)
    yield go_on
    go_on.touch()
    sys.modules.pop(_PART, None)


def test_a_place_comes_by_itself_once_its_parts_are_there(
    qtbot: QtBot, make_window: MakeWindow, small: Path, slow_part: Path
) -> None:
    window = make_window(small)
    for _ in range(2):
        qtbot.keyClick(window, Qt.Key.Key_2, Qt.KeyboardModifier.ControlModifier)
    waiting = window.places.current()
    assert isinstance(waiting, QLabel)
    assert waiting.text() == "One moment …"
    qtbot.wait(50)
    assert window.rooms.map is None
    slow_part.touch()
    qtbot.waitUntil(lambda: window.rooms.map is not None and window.rooms.map.isVisible())
    qtbot.waitUntil(lambda: window.rooms.map.chosen_node is not None, timeout=20_000)


def test_a_position_whose_structure_is_wanted_is_shown_once_lesson_is_there(
    qtbot: QtBot, make_window: MakeWindow, small: Path, slow_part: Path
) -> None:
    small.write_text(CHAIN, encoding="utf-8")
    window = make_window(small)
    slow_part.touch()
    window.places.go(1)
    qtbot.waitUntil(lambda: window.rooms.map is not None and window.rooms.map.isVisible())
    qtbot.waitUntil(lambda: window.rooms.map.chosen_node is not None, timeout=20_000)
    slow_part.unlink()
    sys.modules.pop(_PART)
    rooms._NEEDED_AT[4] = (*rooms._NEEDED_AT[4], _PART)
    control = Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier
    qtbot.keyClick(window, Qt.Key.Key_L, control)
    assert isinstance(window.places.current(), QLabel)
    slow_part.touch()
    qtbot.waitUntil(lambda: window.places.current() is window.rooms.lesson, timeout=20_000)
    # The starting position has no named structure, and that is said.
    said = window.statusBar().currentMessage
    qtbot.waitUntil(lambda: "no named structure" in said(), timeout=20_000)


def test_move_orders_stand_ready_once_the_window_is_at_rest(
    qtbot: QtBot, make_window: MakeWindow, small: Path
) -> None:
    crossing = "1. d3 d5 (1... Nf6 2. Nf3 d5 3. g3) 2. Nf3 Nf6 3. g3 *"
    small.write_text(f'[RepertoireSide "White"]\n\n{crossing}\n', encoding="utf-8")
    window = make_window(small)
    assert window.rooms.orders is None
    qtbot.waitUntil(lambda: window.rooms.orders is not None, timeout=20_000)
    built = window.rooms.orders
    assert not built.seeker.unfinished
    # It shows what was opened meanwhile, and the look that was chosen meanwhile.
    window._change(appearance="dark")
    window._apply_settings()
    window.places.go(2)
    assert window.places.current() is built
    qtbot.waitUntil(lambda: not built.seeker.unfinished and not window._runner.busy())
    assert built.list.model().rowCount() > 0
    assert built._look.theme.name == "dark"


def test_games_stand_ready_once_the_window_is_at_rest(
    qtbot: QtBot, make_window: MakeWindow, small: Path
) -> None:
    window = make_window(small)
    assert window.rooms.games is None
    qtbot.waitUntil(lambda: window.rooms.games is not None, timeout=20_000)
    built = window.rooms.games
    assert window.places.current() is not built
    # It shows what was opened meanwhile, and the look that was chosen meanwhile.
    window._change(appearance="dark")
    window._apply_settings()
    window.places.go(3)
    assert window.places.current() is built
    assert built._course is window.course
    assert built._look.theme.name == "dark"
    assert len(window.findChildren(GamesPlace)) == 1


def test_move_orders_are_built_once_where_they_are_gone_to_meanwhile(
    qtbot: QtBot, make_window: MakeWindow, small: Path
) -> None:
    window = make_window(small)
    stop_in_first_turn(window.rooms._building)
    window.places.go(2)
    gone_to = window.rooms.orders
    assert window.places.current() is gone_to
    qtbot.waitUntil(lambda: not window.rooms._building.active)
    assert window.rooms.orders is gone_to
    assert [place is gone_to for place in window.findChildren(OrdersPlace)] == [True]


def test_move_orders_are_there_where_building_them_was_given_up(
    qtbot: QtBot, make_window: MakeWindow, small: Path
) -> None:
    window = make_window(small)
    stop_in_first_turn(window.rooms._building)
    window.rooms._building._step()
    window.rooms._building.cancel()
    window.places.go(2)
    assert window.places.current() is window.rooms.orders


def test_the_player_is_not_brought_back_to_a_place_he_has_left(
    qtbot: QtBot, make_window: MakeWindow, small: Path, slow_part: Path
) -> None:
    window = make_window(small)
    qtbot.keyClick(window, Qt.Key.Key_2, Qt.KeyboardModifier.ControlModifier)
    qtbot.keyClick(window, Qt.Key.Key_3, Qt.KeyboardModifier.ControlModifier)
    assert window.places.current() is window.rooms.orders
    slow_part.touch()
    qtbot.waitUntil(lambda: not window.rooms._importer.busy())
    assert window.places.current() is window.rooms.orders
    assert window.rooms.map is None


def test_a_window_is_closed_while_a_place_is_waited_for(
    qtbot: QtBot, make_window: MakeWindow, small: Path, slow_part: Path
) -> None:
    window = make_window(small)
    qtbot.keyClick(window, Qt.Key.Key_2, Qt.KeyboardModifier.ControlModifier)
    slow_part.touch()
    window.close()
    qtbot.wait(50)
    assert window.rooms.map is None


def test_the_names_of_later_parts_are_true() -> None:
    for name in rooms._LATER_PARTS:
        importlib.import_module(name)
