"""A list of positions: a diagram and a few lines each, built only when they are looked at."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from typing import Any

from PySide6.QtCore import (
    QModelIndex,
    QPersistentModelIndex,
    QStringListModel,
    Qt,
    QTimer,
    Signal,
)
from PySide6.QtGui import QKeyEvent, QPaintEvent
from PySide6.QtWidgets import QAbstractItemView, QListView, QWidget

from trainer.ui.letting_go import LettingGo
from trainer.ui.look import Look
from trainer.ui.orders.entry_delegate import EntryDelegate
from trainer.ui.orders.rows import Row

MakeRow = Callable[[Any], Row]

#: The numbers of edits by their keys: Insert is the first one, as 1 is.
EDIT_KEYS = {
    Qt.Key.Key_Insert: 0,
    **{Qt.Key(Qt.Key.Key_1 + number): number for number in range(9)},
}
_Index = QModelIndex | QPersistentModelIndex

#: How long filtering may keep the window at a time, in seconds.
_SLICE = 0.008


class EntryModel(QStringListModel):
    """Entries of any kind, made into rows one by one as they are needed.

    The list of empty strings below it lets Qt count and lay out rows without asking Python for
    each: while a worker is busy, every question would wait for its turn.
    """

    #: The filter has looked at every entry.
    filtered = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._entries: Sequence[Any] = ()
        self._make: MakeRow | None = None
        self._rows: dict[int, Row] = {}
        self._shown: list[int] = []
        self._needle = ""
        self._next = 0
        self._timer = QTimer(self)
        self._timer.setInterval(0)
        self._timer.timeout.connect(self._go_on)
        self._letting_go = LettingGo(self)

    def set_entries(self, entries: Sequence[Any], make: MakeRow | None) -> None:
        """Show these instead; `make` turns one into a row."""
        self._letting_go.take(self._entries)
        self._entries, self._make, self._rows = entries, make, {}
        self._refilter()

    def set_filter(self, text: str) -> None:
        """Show only the rows with this text in them, upper or lower case alike."""
        needle = text.casefold().strip()
        if needle != self._needle:
            self._needle = needle
            self._refilter()

    @property
    def filtering(self) -> bool:
        """Whether the filter is still looking."""
        return self._timer.isActive()

    def entry(self, row: int) -> Any:
        """The entry that is shown in a row."""
        return self._entries[self._shown[row]]

    def row_of(self, fits: Callable[[Any], bool]) -> int:
        """The first row whose entry fits, -1 for none."""
        return next((row for row, n in enumerate(self._shown) if fits(self._entries[n])), -1)

    def renew(self) -> None:
        """Make all rows anew: what they say has changed."""
        self._rows = {}
        if self._shown:
            self.dataChanged.emit(self.index(0), self.index(len(self._shown) - 1))

    def row(self, index: _Index) -> Row:
        """The row at an index."""
        return self._row(self._shown[index.row()])

    def is_made(self, index: _Index) -> bool:
        """Whether the row at an index was looked at before."""
        return self._shown[index.row()] in self._rows

    def data(self, index: _Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        if not index.isValid() or index.row() >= len(self._shown):
            return None
        if role == Qt.ItemDataRole.DisplayRole:
            return self.row(index).heading
        if role == Qt.ItemDataRole.AccessibleTextRole:
            return self.row(index).spoken
        return None

    def _row(self, number: int) -> Row:
        row = self._rows.get(number)
        if row is None:
            assert self._make is not None
            row = self._rows[number] = self._make(self._entries[number])
        return row

    def _refilter(self) -> None:
        self._timer.stop()
        self._shown = [] if self._needle else list(range(len(self._entries)))
        self.setStringList([""] * len(self._shown))
        self._next = 0
        if self._needle:
            self._go_on()
        else:
            self.filtered.emit()

    def _go_on(self) -> None:
        """Look at entries for a few milliseconds, and again when the window has had its turn."""
        end = time.monotonic() + _SLICE
        found: list[int] = []
        while self._next < len(self._entries) and time.monotonic() < end:
            if self._needle in self._row(self._next).spoken.casefold():
                found.append(self._next)
            self._next += 1
        if found:
            begin = len(self._shown)
            self._shown += found
            self.insertRows(begin, len(found))
        if self._next < len(self._entries):
            self._timer.start()
        else:
            self._timer.stop()
            self.filtered.emit()


class EntryList(QListView):
    """The list; arrows choose, Enter goes on to what is chosen."""

    chosen = Signal(object)
    entered = Signal()

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.entries = EntryModel(self)
        self.setModel(self.entries)
        self._look = look
        self._delegate = EntryDelegate(look, self)
        self.setItemDelegate(self._delegate)
        self.setUniformItemSizes(True)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setResizeMode(QListView.ResizeMode.Adjust)
        self.setMinimumSize(60, 60)
        self.selectionModel().currentChanged.connect(self._choose)
        self.clicked.connect(lambda _index: self.entered.emit())

    def set_look(self, look: Look) -> None:
        """Draw in another look."""
        if look == self._look:
            return  # laying out tens of thousands of rows anew would be noticed
        self._look = look
        self._delegate.set_look(look)
        self.doItemsLayout()
        self.viewport().update()

    def paintEvent(self, event: QPaintEvent) -> None:
        self._delegate.begin()
        super().paintEvent(event)
        if self._delegate.left_out:
            # The window has its turn before the rest is painted.
            QTimer.singleShot(0, self.viewport().update)

    def choose_row(self, row: int) -> None:
        """Choose a row as the player would."""
        self.setCurrentIndex(self.entries.index(row))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            if self.currentIndex().isValid():
                self.entered.emit()
        elif event.key() in EDIT_KEYS:
            event.ignore()  # the place asks for the edit
        else:
            super().keyPressEvent(event)

    def _choose(self, index: QModelIndex) -> None:
        if index.isValid():
            self.chosen.emit(self.entries.entry(index.row()))
