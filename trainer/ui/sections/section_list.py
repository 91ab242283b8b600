"""The list of sections: titles, numbers of moves, and where those begin that begin elsewhere."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QSignalBlocker, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QTreeWidget, QTreeWidgetItem

from trainer.ui.sections.words import SectionRow

_BEGINS = 2


class SectionList(QTreeWidget):
    """Several may be chosen; Delete asks for those to be deleted."""

    delete_pressed = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("Sections")
        self.setHeaderLabels(["Section", "Moves", "Begins"])
        self.setRootIsDecorated(False)
        self.setUniformRowHeights(True)
        self.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
        self.setTabKeyNavigation(False)
        header = self.header()
        header.setStretchLastSection(False)
        header.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        header.setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)

    def show_rows(self, rows: Sequence[SectionRow], current: int) -> None:
        """Show these sections and stand on one of them, without telling anybody.

        Rows are changed in place: this may be called from inside a signal of the list.
        """
        blocked = QSignalBlocker(self)
        while self.topLevelItemCount() > len(rows):
            self.takeTopLevelItem(self.topLevelItemCount() - 1)
        while self.topLevelItemCount() < len(rows):
            self.addTopLevelItem(QTreeWidgetItem())
        for number, row in enumerate(rows):
            item = self.topLevelItem(number)
            for column, text in enumerate((row.title, row.moves, row.begins)):
                item.setText(column, text)
            item.setToolTip(0, f"{number + 1}. {row.title}")
        self.setColumnHidden(_BEGINS, all(row.begins == rows[0].begins for row in rows))
        if rows:
            self.setCurrentItem(self.topLevelItem(max(0, min(current, len(rows) - 1))))
        del blocked

    @property
    def current(self) -> int | None:
        """The number of the section that the list stands on."""
        item = self.currentItem()
        return None if item is None else self.indexOfTopLevelItem(item)

    @property
    def chosen(self) -> tuple[int, ...]:
        """The numbers of all chosen sections, in their order."""
        return tuple(sorted(self.indexOfTopLevelItem(item) for item in self.selectedItems()))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
            self.delete_pressed.emit()
        else:
            super().keyPressEvent(event)
