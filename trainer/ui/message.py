"""Message boxes that show what they are told as it is written, never as markup."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel, QMessageBox, QWidget


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
