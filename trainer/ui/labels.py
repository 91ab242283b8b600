"""Labels in the two voices of the program: serif for titles and notes, sans for the rest."""

from __future__ import annotations

from collections.abc import Iterable

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, Qt
from PySide6.QtWidgets import (
    QAbstractItemView,
    QFrame,
    QLabel,
    QScrollArea,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QVBoxLayout,
    QWidget,
)

from trainer.notation.lines import kept_together


class TextLabel(QLabel):
    """A label whose lines do not end within a move. What `text` returns is what was set."""

    def __init__(self, text: str = "", parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._set_text = ""
        self.setText(text)

    def text(self) -> str:
        """The text as it was set."""
        return self._set_text

    def setText(self, text: str) -> None:
        self._set_text = text
        super().setText(kept_together(text))


class WrappedItems(QStyledItemDelegate):
    """Items of a list that wraps its words: no line ends within a move."""

    def initStyleOption(
        self, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> None:
        super().initStyleOption(option, index)
        option.text = kept_together(option.text)


def wrap_items(view: QAbstractItemView) -> None:
    """Let the items of a list take as many lines as their words need."""
    view.setWordWrap(True)
    view.setItemDelegate(WrappedItems(view))


def text_label(text: str, role: str = "", parent: QWidget | None = None) -> TextLabel:
    """A label that wraps, in the voice of `role`: title, heading, note, muted or plain.

    Always plain text: what a file says is shown, never interpreted.
    """
    label = TextLabel(text, parent)
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
