"""Buttons in as many columns as there is room for."""

from __future__ import annotations

from PySide6.QtWidgets import QToolButton, QVBoxLayout, QWidget
from pytestqt.qtbot import QtBot

from trainer.ui.button_grid import ButtonGrid

TEXTS = ["Hint  ?", "Left known lines  l", "Skip  s", "Flag  m", "Undo slip  u", "Pause  p"]


def make(qtbot: QtBot, texts: list[str]) -> tuple[QWidget, ButtonGrid, list[QToolButton]]:
    buttons = []
    for text in texts:
        button = QToolButton()
        button.setText(text)
        buttons.append(button)
    grid = ButtonGrid(buttons)
    page = QWidget()
    column = QVBoxLayout(page)
    column.setContentsMargins(0, 0, 0, 0)
    column.addWidget(grid)
    column.addStretch(1)
    qtbot.addWidget(page)
    page.show()
    return page, grid, buttons


def columns(buttons: list[QToolButton]) -> int:
    return len({button.x() for button in buttons})


def settle(qtbot: QtBot, page: QWidget, width: int) -> None:
    page.resize(width, 400)
    qtbot.waitUntil(lambda: page.width() >= width)
    qtbot.wait(1)  # the layout answers in the next turn of the event loop


def test_wide_and_narrow(qtbot: QtBot) -> None:
    page, grid, buttons = make(qtbot, TEXTS)
    widest = max(button.sizeHint().width() for button in buttons)
    settle(qtbot, page, 6 * widest)
    assert columns(buttons) == 4
    settle(qtbot, page, grid.minimumSizeHint().width())
    assert columns(buttons) == 2
    settle(qtbot, page, 6 * widest)
    assert columns(buttons) == 4


def test_no_label_is_cut_and_none_covers_another(qtbot: QtBot) -> None:
    page, grid, buttons = make(qtbot, TEXTS)
    for width in range(grid.minimumSizeHint().width(), 900, 37):
        settle(qtbot, page, width)
        for number, button in enumerate(buttons):
            assert button.width() >= button.sizeHint().width()
            assert button.geometry().right() <= grid.width()
            for other in buttons[:number]:
                assert not button.geometry().intersects(other.geometry())


def test_all_rows_are_as_high_as_they_need(qtbot: QtBot) -> None:
    page, grid, buttons = make(qtbot, TEXTS)
    settle(qtbot, page, grid.minimumSizeHint().width())
    assert all(button.height() >= button.sizeHint().height() for button in buttons)
    assert max(button.geometry().bottom() for button in buttons) <= grid.height()
    in_two_columns = grid.height()
    settle(qtbot, page, 1200)
    assert grid.height() < in_two_columns
