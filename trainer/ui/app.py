"""Start-up in one place and in a readable order: the parts are built here and passed on."""

from __future__ import annotations

import random
import sys
from collections.abc import Callable, Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtGui import QIcon
from PySide6.QtWidgets import QApplication

from trainer import __version__
from trainer.resources import repertoire_path, resource_path
from trainer.storage.locations import Locations, find_locations
from trainer.storage.log import BugLog, install_excepthook
from trainer.storage.settings import load_settings, utc_now
from trainer.ui.appearance import Appearance
from trainer.ui.keeper import Keeper
from trainer.ui.main_window import DEMO, MainWindow

if TYPE_CHECKING:
    import chess

#: Seconds for which the window waits at most each time that a thread at work is to let it in;
#: Python's own 5 ms, some ten times in one paint, can be seen.
_SWITCH_S = 0.001


def build_application(argv: Sequence[str]) -> tuple[QApplication, MainWindow]:
    """The application and its window, not yet shown, with no repertoire read yet."""
    app = QApplication.instance() or QApplication(list(argv))
    assert isinstance(app, QApplication)
    app.setApplicationName("stemline")
    app.setApplicationVersion(__version__)
    app.setDesktopFileName("stemline")
    app.setStyle("Fusion")
    app.setWindowIcon(QIcon(str(resource_path("icons", "stemline.svg"))))
    locations = find_locations()
    return app, build_window(app, locations, BugLog(locations.log_file))


def build_window(
    app: QApplication,
    locations: Locations,
    log: BugLog,
    *,
    clock: Callable[[], datetime] = utc_now,
    rng: random.Random | None = None,
) -> MainWindow:
    """The window of one user, whose files lie in `locations`."""
    sys.setswitchinterval(_SWITCH_S)
    settings, notice = load_settings(locations.settings_file, clock=clock)
    keeper = Keeper(locations, clock=clock, rng=rng or random.Random())
    window = MainWindow(settings, Appearance(app), keeper, log)
    if notice:
        window.statusBar().showMessage(notice)
    return window


def first_file(window: MainWindow, path: Path | None) -> Path:
    """What to open at the start: the file asked for, the last one, or the demo."""
    if path is not None:
        return path
    last = window.settings.last_file
    return Path(last) if last and Path(last).is_file() else repertoire_path(DEMO)


def run(
    path: Path | None, *, drill_minutes: int | None = None, side: chess.Color | None = None
) -> int:
    """Open the window and stay until it is closed; the exit status.

    `drill_minutes` starts the drill as soon as the repertoire is read (0: as in the settings);
    `side` overrides what the file says.
    """
    app, window = build_application(sys.argv[:1])
    restore = install_excepthook(window.log, window.tell_later)
    # The player sees the window first; then the repertoire is read.
    window.painted.connect(
        lambda: window.open(first_file(window, path), drill_minutes=drill_minutes, side=side)
    )
    window.show()
    try:
        return app.exec()
    finally:
        restore()
