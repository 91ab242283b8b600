"""Light, dark or as the system, and how large."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QPalette
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from trainer.storage.settings import Settings
from trainer.ui.appearance import Appearance
from trainer.ui.theme import DARK, LIGHT, Theme, application_stylesheet


@pytest.fixture
def appearance(qapp: QApplication) -> Iterator[Appearance]:
    palette = qapp.palette()
    appearance = Appearance(qapp)
    yield appearance
    appearance.deleteLater()
    qapp.setStyleSheet("")
    qapp.setPalette(palette)


@pytest.mark.parametrize(("name", "theme"), [("light", LIGHT), ("dark", DARK)])
def test_chosen_by_the_player(
    qapp: QApplication, appearance: Appearance, name: str, theme: Theme
) -> None:
    assert appearance.apply(Settings(appearance=name, scale=1.5)) is theme
    assert qapp.palette().color(QPalette.ColorRole.Window).name().upper() == theme.paper
    assert qapp.palette().color(QPalette.ColorRole.WindowText).name().upper() == theme.ink
    assert qapp.styleSheet() == application_stylesheet(theme, 1.5)


def test_as_the_system(qapp: QApplication, appearance: Appearance) -> None:
    dark = qapp.styleHints().colorScheme() == Qt.ColorScheme.Dark
    assert appearance.theme(Settings(appearance="system")) is (DARK if dark else LIGHT)


def test_the_system_changes(qtbot: QtBot, qapp: QApplication, appearance: Appearance) -> None:
    with qtbot.waitSignal(appearance.changed):
        qapp.styleHints().colorSchemeChanged.emit(Qt.ColorScheme.Dark)


def test_what_is_applied_already_is_not_applied_again(
    qapp: QApplication, appearance: Appearance
) -> None:
    appearance.apply(Settings(appearance="light"))
    qapp.setStyleSheet("")
    appearance.apply(Settings(appearance="light", minutes=3))
    assert qapp.styleSheet() == ""
    appearance.apply(Settings(appearance="light", scale=2.0))
    assert qapp.styleSheet() != ""
