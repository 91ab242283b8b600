"""A small repertoire on disk, and the real window on it with its files in the test's own home."""

from __future__ import annotations

import gc
import random
from collections.abc import Callable, Iterator
from importlib import import_module
from pathlib import Path

import pytest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from tests.ui.workshop_window import crossed, player  # noqa: F401 - fixtures for all
from trainer.storage.locations import find_locations
from trainer.storage.log import BugLog
from trainer.storage.settings import Settings, save_settings
from trainer.ui import rooms
from trainer.ui.app import build_window
from trainer.ui.main_window import MainWindow

#: Three decisions on one line, an accepted alternative at the second, a promotion in a section
#: of its own.
SMALL = """[Event "The quiet system"]
[RepertoireSide "White"]
[Result "*"]

1. d3 {The modest start.} d5 2. Nf3 {Develops; g3 is fine as well.} (2. g3 {Also.} 2... Nf6)
2... Nf6 3. g3 {The bishop goes to g2.} *
"""

MakeWindow = Callable[..., MainWindow]


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
def make_window(qtbot: QtBot, qapp: QApplication) -> Iterator[MakeWindow]:
    """Opens the real window on a file and waits until Today stands on the screen."""
    windows: list[MainWindow] = []
    qapp.setStyle("Fusion")

    def make(path: Path, *, rng: random.Random | None = None, **changes: object) -> MainWindow:
        locations = find_locations()
        defaults = {"pace_seconds": 0.0, "reduced_motion": True, "strangers": False}
        save_settings(locations.settings_file, Settings(**{**defaults, **changes}))
        window = build_window(qapp, locations, BugLog(locations.log_file), rng=rng)
        windows.append(window)
        qtbot.addWidget(window)
        window.show()
        with qtbot.waitSignal(window.ready, timeout=20_000):
            window.open(path)
        return window

    yield make
    for window in windows:
        window.close()
    qapp.setStyleSheet("")
