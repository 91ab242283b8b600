"""Labels in the two voices of the program: serif for titles and notes, sans for the rest."""

from __future__ import annotations

from collections.abc import Iterable

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QLabel, QScrollArea, QVBoxLayout, QWidget


def text_label(text: str, role: str = "", parent: QWidget | None = None) -> QLabel:
    """A label that wraps, in the voice of `role`: title, heading, note, muted or plain.

    Always plain text: what a file says is shown, never interpreted.
    """
    label = QLabel(text, parent)
    label.setTextFormat(Qt.TextFormat.PlainText)
    label.setWordWrap(True)
    if role:
        label.setProperty("role", role)
    return label


def sheet(parent: QWidget | None = None) -> QFrame:
    """A sheet of paper to put things on."""
    frame = QFrame(parent)
    frame.setProperty("role", "sheet")
    return frame


def scrolled_column(widgets: Iterable[QWidget]) -> QScrollArea:
    """Widgets below each other, scrolled up and down where there is no room for all."""
    page = QWidget()
    column = QVBoxLayout(page)
    column.setContentsMargins(0, 0, 0, 0)
    for widget in widgets:
        column.addWidget(widget)
    column.addStretch(1)
    scroll = QScrollArea()
    scroll.setFrameShape(QFrame.Shape.NoFrame)
    scroll.setWidgetResizable(True)
    scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    scroll.setWidget(page)
    return scroll
