"""The list of files of games."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QDragEnterEvent, QDropEvent, QKeyEvent
from PySide6.QtWidgets import (
    QFileDialog,
    QHBoxLayout,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

_FILTER = "Games in PGN (*.pgn *.PGN);;All files (*)"


class FileList(QWidget):
    """Files that are added with a button or dropped, and taken off with Delete."""

    changed = Signal()

    def __init__(self, folder: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._folder = folder
        self._paths: list[Path] = []
        self.list = _Files()
        self.list.setAccessibleName("Files of games")
        self.add = QPushButton("&Add files …")
        self.remove = QPushButton("Ta&ke off")
        self.remove.setToolTip("Take the chosen files off the list (Delete)")
        for button in (self.add, self.remove):
            button.setAutoDefault(False)
        buttons = QHBoxLayout()
        buttons.addWidget(self.add)
        buttons.addWidget(self.remove)
        buttons.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.list)
        column.addLayout(buttons)
        self.setAcceptDrops(True)
        self.add.clicked.connect(self._ask)
        self.remove.clicked.connect(self.take_off)
        self.list.delete_pressed.connect(self.take_off)
        self.list.itemSelectionChanged.connect(self._enable)
        self._enable()

    @property
    def paths(self) -> tuple[Path, ...]:
        """The files, in their order."""
        return tuple(self._paths)

    def add_files(self, paths: Iterable[Path]) -> None:
        """Add files that are not in the list yet."""
        new = [path for path in dict.fromkeys(paths) if path not in self._paths]
        for path in new:
            self._paths.append(path)
            item = QListWidgetItem(path.name)
            item.setToolTip(str(path))
            self.list.addItem(item)
        if new:
            self._folder = str(new[-1].parent)
            self.changed.emit()

    def take_off(self) -> None:
        """Take the chosen files off the list."""
        rows = sorted((index.row() for index in self.list.selectedIndexes()), reverse=True)
        for row in rows:
            self.list.takeItem(row)
            del self._paths[row]
        if rows:
            self.changed.emit()

    def _ask(self) -> None:
        names, _kind = QFileDialog.getOpenFileNames(self, "Games to import", self._folder, _FILTER)
        self.add_files(Path(name) for name in names)

    def _enable(self) -> None:
        self.remove.setEnabled(bool(self.list.selectedIndexes()))

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        if any(url.isLocalFile() for url in event.mimeData().urls()):
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        files = [Path(url.toLocalFile()) for url in event.mimeData().urls() if url.isLocalFile()]
        event.acceptProposedAction()
        self.add_files(files)


class _Files(QListWidget):
    delete_pressed = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.setSelectionMode(QListWidget.SelectionMode.ExtendedSelection)
        self.setTabKeyNavigation(False)
        lines = self.fontMetrics().height()
        self.setMinimumHeight(3 * lines)
        self.setMaximumHeight(6 * lines)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
            self.delete_pressed.emit()
        else:
            super().keyPressEvent(event)
