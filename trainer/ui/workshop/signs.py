"""Choosing the signs of a move from a list, with keys alone."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QListWidget,
    QListWidgetItem,
    QVBoxLayout,
    QWidget,
)

from trainer.notation.nags import SIGNS, SUFFIXES
from trainer.ui.labels import text_label

_NAG = Qt.ItemDataRole.UserRole


class SignsDialog(QDialog):
    """A list in which signs are ticked."""

    def __init__(self, move: str, nags: Sequence[int], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Signs")
        self._unknown = tuple(nag for nag in nags if nag not in SIGNS)
        self._before = tuple(nags)
        self.list = _Signs()
        for nag, (glyph, meaning) in SIGNS.items():
            item = QListWidgetItem(f"{glyph}\t{meaning}" if glyph else f"\t{meaning}")
            item.setData(_NAG, nag)
            item.setData(Qt.ItemDataRole.AccessibleTextRole, f"{meaning} {glyph}")
            item.setFlags(item.flags() | Qt.ItemFlag.ItemIsUserCheckable)
            ticked = nag in nags
            item.setCheckState(Qt.CheckState.Checked if ticked else Qt.CheckState.Unchecked)
            self.list.addItem(item)
        first = next((n for n, nag in enumerate(SIGNS) if nag in nags), 0)
        self.list.setCurrentRow(first)
        self.list.itemChanged.connect(self._keep_one)
        buttons = QDialogButtonBox(
            QDialogButtonBox.StandardButton.Ok | QDialogButtonBox.StandardButton.Cancel
        )
        buttons.accepted.connect(self.accept)
        buttons.rejected.connect(self.reject)
        column = QVBoxLayout(self)
        column.addWidget(text_label(f"Signs of {move}", "heading"))
        keys = "Space ticks a sign, its own character too (! twice is !!); Enter is done."
        column.addWidget(text_label(keys, "muted"))
        column.addWidget(self.list, 1)
        column.addWidget(buttons)
        scale = self.fontMetrics().height()
        self.resize(34 * scale, 28 * scale)
        self.list.setFocus()

    def nags(self) -> tuple[int, ...]:
        """What is ticked, the signs that were there before first, in their order."""
        ticked = [
            item.data(_NAG)
            for row in range(self.list.count())
            if (item := self.list.item(row)).checkState() == Qt.CheckState.Checked
        ]
        kept = [nag for nag in self._before if nag in ticked or nag in self._unknown]
        added = [nag for nag in ticked if nag not in kept]
        # A suffix is written at the move, so it comes first.
        both = kept + added
        return tuple(sorted(both, key=lambda nag: nag not in SUFFIXES))

    def _keep_one(self, changed: QListWidgetItem) -> None:
        """A move is good or poor, not both."""
        ticked = changed.checkState() == Qt.CheckState.Checked
        if not ticked or changed.data(_NAG) not in SUFFIXES:
            return
        for row in range(self.list.count()):
            item = self.list.item(row)
            if item is not changed and item.data(_NAG) in SUFFIXES:
                item.setCheckState(Qt.CheckState.Unchecked)


class _Signs(QListWidget):
    """Its own characters tick a sign."""

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("Signs")
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._typed = ""

    def keyPressEvent(self, event: QKeyEvent) -> None:
        character = event.text()
        if character in tuple("!?=") and character:
            longer = self._typed + character
            glyph = longer if self._row_of(longer) is not None else character
            self._typed = glyph
            row = self._row_of(glyph)
            if row is not None:
                self.setCurrentRow(row)
                self.item(row).setCheckState(Qt.CheckState.Checked)
            return
        self._typed = ""
        super().keyPressEvent(event)

    @staticmethod
    def _row_of(glyph: str) -> int | None:
        found = (row for row, (mark, _meaning) in enumerate(SIGNS.values()) if mark == glyph)
        return next(found, None)
