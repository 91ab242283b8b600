"""A small repertoire on disk, and the real window on it with its files in the test's own home."""

from __future__ import annotations

import gc
import random
import time
from collections.abc import Callable, Iterator
from importlib import import_module
from pathlib import Path

import pytest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from tests.ui.boxes import BoxPresser
from tests.ui.plain_settings import save_plain_settings
from tests.ui.workshop_window import crossed, player  # noqa: F401 - fixtures for all
from trainer.storage.locations import find_locations
from trainer.storage.log import BugLog
from trainer.ui import rooms
from trainer.ui.app import build_window
from trainer.ui.main_window import MainWindow
from trainer.ui.turns import Turns

#: Three decisions on one line, an accepted alternative at the second, a promotion in a section
#: of its own.
SMALL = """[Event "The quiet system"]
[RepertoireSide "White"]
[Result "*"]

1. d3 {The modest start.} d5 2. Nf3 {Develops; g3 is fine as well.} (2. g3 {Also.} 2... Nf6)
2... Nf6 3. g3 {The bishop goes to g2.} *
"""

LONG_WAIT = 20_000

MakeWindow = Callable[..., MainWindow]
NewWindow = Callable[..., MainWindow]


@pytest.fixture
def boxes(qapp: QApplication) -> Iterator[BoxPresser]:
    """Presses buttons of boxes; at the end none was unexpected and none is waited for."""
    presser = BoxPresser()
    yield presser
    presser.deleteLater()
    assert presser.unexpected == []
    assert presser.waiting == []


@pytest.fixture(autouse=True)
def garbage_is_collected_here() -> Iterator[None]:
    """As in the program (`trainer/ui/garbage.py`): never in a worker, where it destroys widgets.

    A test of a dialog has no window that sees to that.
    """
    gc.disable()
    yield
    gc.enable()


@pytest.fixture(autouse=True, scope="session")
def places_are_imported() -> None:
    """As in a window that has stood for a moment; `test_later_parts` is about those moments."""
    for name in rooms._LATER_PARTS:
        import_module(name)


@pytest.fixture
def small(tmp_path: Path) -> Path:
    path = tmp_path / "quiet-system.pgn"
    path.write_text(SMALL, encoding="utf-8")
    return path


@pytest.fixture
def new_window(qtbot: QtBot, qapp: QApplication) -> Iterator[NewWindow]:
    """Makes windows as the program does at its start, with nothing opened."""
    windows: list[MainWindow] = []
    qapp.setStyle("Fusion")
    save_plain_settings()
    locations = find_locations()

    def make(rng: random.Random | None = None) -> MainWindow:
        window = build_window(qapp, locations, BugLog(locations.log_file), rng=rng)
        windows.append(window)
        qtbot.addWidget(window)
        window.show()
        return window

    yield make
    for window in windows:
        window.close()
    qapp.setStyleSheet("")
    assert not locations.log_file.exists(), locations.log_file.read_text()


@pytest.fixture
def make_window(qtbot: QtBot, new_window: NewWindow) -> MakeWindow:
    """Opens the real window on a file and waits until Today stands on the screen."""

    def make(path: Path, *, rng: random.Random | None = None, **changes: object) -> MainWindow:
        save_plain_settings(**changes)
        return open_file(qtbot, new_window(rng), path)

    return make


def open_file(qtbot: QtBot, window: MainWindow, path: Path) -> MainWindow:
    """The window with that file open."""
    with qtbot.waitSignal(window.ready, timeout=LONG_WAIT):
        window.open(path)
    return window


def stop_in_first_turn(turns: Turns) -> None:
    """Let the window work until something is done in turns, and not a step further."""
    end = time.monotonic() + LONG_WAIT / 1000
    while not turns.active:
        assert time.monotonic() < end
        QApplication.processEvents()
        time.sleep(0.0005)
