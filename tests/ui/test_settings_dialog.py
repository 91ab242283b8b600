"""The settings dialog: shows what is set, gives what was chosen, and stays within bounds."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QComboBox, QDialogButtonBox, QLabel
from pytestqt.qtbot import QtBot

from trainer.storage.settings import Settings
from trainer.ui.settings_dialog import SettingsDialog

UNUSUAL = Settings(
    minutes=25,
    desired_retention=0.85,
    pace_seconds=1.5,
    board_style="plain",
    notation="figurines",
    scale=1.75,
    appearance="dark",
    reduced_motion=True,
    coordinates=False,
    show_targets=True,
    strangers=False,
    stranger_rate=0.25,
    recent_files=("/somewhere/one.pgn",),
    last_file="/somewhere/one.pgn",
    window_geometry="AdnQyw==",
    unknown={"from a newer version": [1, 2]},
)


def open_dialog(qtbot: QtBot, settings: Settings) -> SettingsDialog:
    dialog = SettingsDialog(settings)
    qtbot.addWidget(dialog)
    dialog.show()
    return dialog


@pytest.mark.parametrize("settings", [Settings(), UNUSUAL, replace(UNUSUAL, strangers=True)])
def test_untouched_it_gives_back_what_was_set(qtbot: QtBot, settings: Settings) -> None:
    assert open_dialog(qtbot, settings).settings() == settings


def choose(box: QComboBox, value: object) -> None:
    index = box.findData(value)
    assert index >= 0
    box.setCurrentIndex(index)


def test_everything_can_be_chosen(qtbot: QtBot) -> None:
    dialog = open_dialog(qtbot, replace(Settings(), unknown=UNUSUAL.unknown))
    dialog.minutes.setValue(25)
    dialog.retention.setValue(85)
    dialog.pace.setValue(1.5)
    choose(dialog.board_style, "plain")
    choose(dialog.notation, "figurines")
    choose(dialog.scale, 1.75)
    choose(dialog.appearance, "dark")
    choose(dialog.strangers, value=False)
    dialog.stranger_rate.setValue(25)
    for box in (dialog.coordinates, dialog.targets, dialog.motion):
        qtbot.keyClick(box, Qt.Key.Key_Space)
    assert dialog.settings() == replace(
        UNUSUAL, recent_files=(), last_file=None, window_geometry=None
    )


def test_strangers_are_left_to_the_program_at_first(qtbot: QtBot) -> None:
    dialog = open_dialog(qtbot, Settings())
    assert dialog.strangers.currentText() == "From the second week on"
    choose(dialog.strangers, value=True)
    choose(dialog.strangers, value=None)
    assert dialog.settings().strangers is None


def test_no_value_out_of_bounds_can_be_chosen(qtbot: QtBot) -> None:
    dialog = open_dialog(qtbot, Settings())
    for field in (dialog.minutes, dialog.retention, dialog.pace, dialog.stranger_rate):
        for value in (-1_000, 1_000):
            field.setValue(value)
            dialog.settings()  # a value out of bounds raises
    assert dialog.settings().minutes == 240


@pytest.mark.parametrize("percent", range(70, 100))
def test_percentages_are_kept_exactly(qtbot: QtBot, percent: int) -> None:
    dialog = open_dialog(qtbot, Settings(desired_retention=0.9 if percent != 90 else 0.8))
    dialog.retention.setValue(percent)
    assert dialog.settings().desired_retention == percent / 100


def test_a_pace_of_nothing_waits_for_a_key(qtbot: QtBot) -> None:
    dialog = open_dialog(qtbot, Settings())
    dialog.pace.setValue(0.0)
    assert dialog.pace.text() == "wait for a key"


@pytest.mark.parametrize("value", [0.75, 0.9, 1.1, 2.2])
def test_a_scale_set_by_hand_is_not_changed_by_looking(qtbot: QtBot, value: float) -> None:
    settings = Settings(scale=value)
    assert open_dialog(qtbot, settings).settings() == settings


def test_a_retention_set_by_hand_is_not_changed_by_looking(qtbot: QtBot) -> None:
    settings = Settings(desired_retention=0.925, stranger_rate=0.125, pace_seconds=2.25)
    assert open_dialog(qtbot, settings).settings() == settings


def test_no_strangers_at_all_set_by_hand_stays(qtbot: QtBot) -> None:
    settings = Settings(stranger_rate=0.0)
    assert open_dialog(qtbot, settings).settings() == settings


def test_every_field_has_a_name_that_its_key_reaches(qtbot: QtBot) -> None:
    dialog = open_dialog(qtbot, Settings())
    labels = [label for label in dialog.findChildren(QLabel) if label.buddy() is not None]
    assert len(labels) == 10
    keys = [label.text().split("&")[1][0].lower() for label in labels]
    assert len(set(keys)) == len(keys)


def test_enter_accepts_and_escape_does_not(qtbot: QtBot) -> None:
    for key, accepted in ((Qt.Key.Key_Return, True), (Qt.Key.Key_Escape, False)):
        dialog = open_dialog(qtbot, Settings())
        qtbot.keyClick(dialog, key)
        assert not dialog.isVisible()
        assert bool(dialog.result()) is accepted


def test_the_buttons_stay_in_sight_in_large_type(qtbot: QtBot, qapp) -> None:
    qapp.setStyleSheet("QWidget { font-size: 31pt; }")
    try:
        dialog = open_dialog(qtbot, Settings())
        qtbot.waitExposed(dialog)
        buttons = dialog.findChild(QDialogButtonBox)
        assert buttons.geometry().bottom() <= dialog.rect().bottom()
        assert dialog.height() <= 760
    finally:
        qapp.setStyleSheet("")
