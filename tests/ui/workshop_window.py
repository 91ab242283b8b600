"""The real window in the workshop: what the tests of the workshop have in common."""

from __future__ import annotations

import random
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from tests.ui.boxes import BoxPresser
from tests.ui.plain_settings import save_plain_settings
from trainer.storage.locations import find_locations
from trainer.storage.log import BugLog
from trainer.storage.settings import utc_now
from trainer.ui.app import build_window
from trainer.ui.main_window import MainWindow
from trainer.ui.workshop.desk import Desk

LONG_WAIT = 20_000

#: Two doors to one position: 1 d3 d5 2 Nf3 Nf6 3 g3 and 1 Nf3 d5 2 g3 Nf6 3 d3; a hole after
#: 1 d3 c5.
CROSSED = """[Event "First door"]
[RepertoireSide "White"]

1. d3 {The modest start.

Plan: Nf3, g3 and Bg2.} d5 (1... c5) 2. Nf3 (2. g3) 2... Nf6 3. g3 $1 {To g2.} c5 4. Bg2 *

[Event "Second door"]
[RepertoireSide "White"]

1. d3 Nf6 2. Nf3 d5 3. g3 *
"""


class Player:
    """Opens windows and does in them what a player does."""

    def __init__(self, qtbot: QtBot, app: QApplication, boxes: BoxPresser) -> None:
        self.qtbot, self.app, self.boxes = qtbot, app, boxes
        self.windows: list[MainWindow] = []
        self.window: MainWindow
        #: How far the clock of the windows is ahead.
        self.later = timedelta()

    def start(self, path: Path, **changes: object) -> MainWindow:
        """A new window on a file."""
        locations = find_locations()
        save_plain_settings(**changes)
        log = BugLog(locations.log_file)
        window = build_window(
            self.app, locations, log, rng=random.Random(1), clock=lambda: utc_now() + self.later
        )
        self.windows.append(window)
        self.qtbot.addWidget(window, before_close_func=_let_go)
        window.show()
        self.window = window
        with self.qtbot.waitSignal(window.ready, timeout=LONG_WAIT):
            window.open(path)
        self.rest()
        return window

    @property
    def desk(self) -> Desk:
        assert self.window.desk is not None
        return self.window.desk

    @property
    def page(self):
        return self.desk.page

    @property
    def repertoire(self):
        return self.window.course.repertoire

    def rest(self) -> None:
        """Until nothing is under way."""
        self.qtbot.waitUntil(lambda: not self.window._runner.busy(), timeout=LONG_WAIT)

    def edit(self, *typed: str) -> None:
        """Go to the workshop and to the position after some moves."""
        self.window.edit_here()
        self.key(Qt.Key.Key_Home)
        for text in typed:
            self.type(text)

    def type(self, text: str) -> None:
        """Type a move on the page and press Enter."""
        self.qtbot.keyClicks(self.page.entry, text)
        self.qtbot.keyClick(self.page.entry, Qt.Key.Key_Return)
        self.rest()

    def key(self, key: Qt.Key, modifier=Qt.KeyboardModifier.NoModifier) -> None:
        """Press a key where the keys go on the page."""
        widget = self.page.lines if self.page.lines.isVisible() else self.page.entry
        self.qtbot.keyClick(widget, key, modifier)
        self.rest()

    def letter(self, letter: str) -> None:
        """Press a letter that is a command."""
        widget = self.page.lines if self.page.lines.isVisible() else self.page.entry
        self.qtbot.keyClicks(widget, letter)
        self.rest()

    def write(self, text: str) -> None:
        """Type into the note, with Enter at the end of a line."""
        for number, line in enumerate(text.split("\n")):
            if number:
                self.qtbot.keyClick(self.page.note, Qt.Key.Key_Return)
            self.qtbot.keyClicks(self.page.note, line)

    def click(self, square: int) -> None:
        """Click on a square of the page's board."""
        self.qtbot.mouseClick(self.page.board, Qt.MouseButton.LeftButton, pos=self.point(square))
        self.rest()

    def point(self, square: int) -> QPoint:
        geometry = self.page.board.geometry_now()
        x, y = geometry.centre(square)
        return QPoint(round(x / geometry.ratio), round(y / geometry.ratio))

    def menu(self, name: str) -> None:
        """Choose an entry of the workshop's menu."""
        action = self.window._workshop.actions[name]
        assert action.isEnabled(), name
        action.trigger()
        self.rest()

    def lines(self) -> list[str]:
        """The moves that the page shows."""
        shown = self.page.lines
        return [shown.line(row).move for row in range(shown.count())]

    def save(self) -> None:
        """Save, by the menu."""
        self.menu("save")


def _let_go(window: MainWindow) -> None:
    """Nobody is asked about what a test did not save."""
    if window.desk is not None:
        window.desk.clear()


@pytest.fixture
def player(qtbot: QtBot, qapp: QApplication, tmp_path: Path) -> Iterator[Player]:
    qapp.setStyle("Fusion")
    boxes = BoxPresser()
    player = Player(qtbot, qapp, boxes)
    yield player
    for window in player.windows:
        window.close()
    boxes.deleteLater()
    qapp.setStyleSheet("")
    log = find_locations().log_file
    assert not log.exists(), log.read_text()
    assert boxes.unexpected == []
    assert boxes.waiting == []


@pytest.fixture
def crossed(tmp_path: Path) -> Path:
    path = tmp_path / "two-doors.pgn"
    path.write_text(CROSSED, encoding="utf-8")
    return path
