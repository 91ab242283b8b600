"""Message boxes that show what they are told as it is written, never as markup."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TypeVar

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel, QMessageBox, QWidget

Role = QMessageBox.ButtonRole
_Answer = TypeVar("_Answer")


def message_box(
    parent: QWidget,
    title: str,
    text: str,
    *,
    more: str = "",
    icon: QMessageBox.Icon = QMessageBox.Icon.NoIcon,
) -> QMessageBox:
    """A box that is not yet shown; `more` stands below `text` in smaller type.

    File names and what a file says come into these texts, and Qt takes them for HTML where they
    look like it.
    """
    box = QMessageBox(parent)
    box.setIcon(icon)
    box.setWindowTitle(title)
    box.setText(text)
    if more:
        box.setInformativeText(more)
    for label in box.findChildren(QLabel):
        label.setTextFormat(Qt.TextFormat.PlainText)
    return box


def tell(parent: QWidget, title: str, text: str, icon: QMessageBox.Icon) -> None:
    """Show one text and wait until it was read."""
    message_box(parent, title, text, icon=icon).exec()


def ask(
    box: QMessageBox,
    answers: Mapping[_Answer, tuple[str, QMessageBox.ButtonRole]],
    *,
    default: _Answer,
    escape: _Answer,
) -> _Answer:
    """Give `box` a button for each answer and show it; the answer chosen.

    `default` is chosen by Enter, `escape` by Esc and by closing the box.
    """
    buttons = {answer: box.addButton(text, role) for answer, (text, role) in answers.items()}
    box.setDefaultButton(buttons[default])
    box.setEscapeButton(buttons[escape])
    box.exec()
    chosen = box.clickedButton()
    return next((answer for answer, button in buttons.items() if button is chosen), escape)
