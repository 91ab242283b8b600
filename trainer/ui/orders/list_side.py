"""The left side of the place: filter, order, the list, and what is said of the search."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import (
    QBoxLayout,
    QCheckBox,
    QComboBox,
    QHBoxLayout,
    QLineEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from trainer.ui.labels import text_label
from trainer.ui.look import Look
from trainer.ui.orders.entry_list import EntryList
from trainer.ui.orders.sections import ListKind, Sorting

_LEAST = 60


class ListSide(QWidget):
    """Shows what it is told; the list in it tells what is chosen."""

    #: The entries are to be shown in another order, or more of them.
    rearranged = Signal()
    #: The search is to be stopped, or to go on.
    stop_pressed = Signal()

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.filter = QLineEdit()
        self.sorting = QComboBox()
        self.list = EntryList(look)
        self.folded = QCheckBox()
        self.stop = QPushButton("S&top")
        self._status = text_label("", "muted")
        self._empty = text_label("", "note")
        self._build()
        self.filter.textChanged.connect(self.list.entries.set_filter)
        self.filter.returnPressed.connect(self.list.setFocus)
        self.sorting.activated.connect(lambda _number: self.rearranged.emit())
        self.folded.toggled.connect(lambda _checked: self.rearranged.emit())
        self.list.entries.rowsInserted.connect(lambda *_: self.show_list())
        self.stop.clicked.connect(lambda _checked=False: self.stop_pressed.emit())

    def _build(self) -> None:
        self.filter.setPlaceholderText("Filter (Ctrl+F)")
        self.filter.setAccessibleName("Show only entries with this text")
        self.filter.setClearButtonEnabled(True)
        self.sorting.setAccessibleName("Order of the list")
        self.folded.setToolTip("Moves that lead back to an earlier position")
        for widget in (self.filter, self.sorting, self.folded):
            widget.setMinimumWidth(_LEAST)
        self._controls = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self._controls.addWidget(self.filter, 1)
        self._controls.addWidget(self.sorting, 1)
        status = QHBoxLayout()
        status.addWidget(self._status, 1)
        status.addWidget(self.stop)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addLayout(self._controls)
        column.addWidget(self._empty)
        column.addWidget(self.list, 1)
        column.addWidget(self.folded)
        column.addLayout(status)
        column.addStretch(0)
        self.folded.hide()
        self.stop.hide()

    def show_kind(self, kind: ListKind) -> None:
        """Another list: how it may be sorted."""
        self.sorting.clear()
        self.sorting.addItems([sorting.name for sorting in kind.sortings])
        self.list.setAccessibleName(kind.name)

    def sorting_of(self, kind: ListKind) -> Sorting:
        """How the player wants the entries sorted."""
        return kind.sortings[max(0, self.sorting.currentIndex())]

    def offer_folded(self, hidden: int) -> None:
        """How many entries are left out until the player wants them too."""
        self.folded.setVisible(hidden > 0)
        self.folded.setText(f"&Also {hidden:,} that go back")

    def show_list(self) -> None:
        """There are entries."""
        self.list.show()
        self._empty.hide()

    def show_sentence(self, sentence: str) -> None:
        """There are none, and why."""
        if self.list.hasFocus():
            self.filter.setFocus()
        self.list.hide()
        self._empty.setText(sentence)
        self._empty.show()

    @property
    def sentence(self) -> str:
        """What stands in place of an empty list."""
        return "" if self._empty.isHidden() else self._empty.text()

    def say(self, sentence: str, button: str = "") -> None:
        """What is said of the search, with a button to stop it or to go on."""
        self._status.setText(sentence)
        self._status.setVisible(bool(sentence))
        self.stop.setText(button)
        self.stop.setVisible(bool(button))

    @property
    def status(self) -> str:
        """What was said last."""
        return self._status.text()

    def set_beside(self, beside: bool) -> None:
        """Filter and order beside each other, or one below the other."""
        self._controls.setDirection(
            QBoxLayout.Direction.LeftToRight if beside else QBoxLayout.Direction.TopToBottom
        )
