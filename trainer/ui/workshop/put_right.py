"""The list of what is to be put right, the most reached first."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QToolButton, QVBoxLayout, QWidget

from trainer.memory.plan import frequency
from trainer.repertoire.workshop.findings import AuditEntry, EntryKind
from trainer.ui.labels import text_label
from trainer.ui.look import FIRST_LOOK, Look
from trainer.ui.orders.entry_list import EntryList
from trainer.ui.orders.rows import Row

_KINDS = {
    None: "Everything",
    EntryKind.HOLE: "Holes",
    EntryKind.UNPREPARED: "Unprepared replies",
    EntryKind.DEAD_END: "Dead ends",
    EntryKind.CONFLICT: "Conflicts",
    EntryKind.NO_REASON: "Missed, without a reason",
    EntryKind.TOO_LONG: "Lines too long for their reach",
}


class PutRightPage(QWidget):
    """Holes, dead ends, conflicts and the rest; each leads to the board."""

    #: An `AuditEntry` was opened.
    opened = Signal(object)
    leave = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._look = FIRST_LOOK
        self._entries: tuple[AuditEntry, ...] = ()
        self.setAccessibleName("To be put right")
        self.back = QToolButton()
        self.back.setText("‹ Back  [Esc]")
        self.back.setAccessibleName("Back to where you came from")
        self.kinds = QComboBox()
        self.kinds.setAccessibleName("Show only")
        self.kinds.setMinimumWidth(60)
        self.title = text_label("To be put right", "title")
        self.summary = text_label("", "muted")
        self.list = EntryList(self._look)
        self.list.setAccessibleName("To be put right")
        self.empty = text_label("", "note")
        self.setFocusProxy(self.list)
        top = QHBoxLayout()
        top.addWidget(self.back)
        top.addStretch(1)
        top.addWidget(self.kinds)
        column = QVBoxLayout(self)
        column.setContentsMargins(16, 10, 16, 12)
        column.addLayout(top)
        column.addWidget(self.title)
        column.addWidget(self.summary)
        column.addWidget(self.empty)
        column.addWidget(self.list, 1)
        column.addStretch(0)
        self.back.clicked.connect(lambda _checked=False: self.leave.emit())
        self.kinds.activated.connect(lambda _number: self._fill())
        self.list.entered.connect(self._open)

    def set_look(self, look: Look) -> None:
        """Draw in another look."""
        self._look = look
        self.list.set_look(look)
        self._fill()

    def show_entries(self, entries: Sequence[AuditEntry] | None) -> None:
        """Show these; None while they are being looked for."""
        if entries is None:
            self.summary.setText("Looking through the repertoire …")
            return
        self._entries = tuple(entries)
        chosen = self.kinds.currentData()
        self.kinds.clear()
        for kind, name in _KINDS.items():
            number = sum(kind in (None, entry.kind) for entry in entries)
            if number or kind is None:
                self.kinds.addItem(f"{name} ({number:,})", kind)
        self.kinds.setCurrentIndex(max(0, self.kinds.findData(chosen)))
        self._fill()

    def _fill(self) -> None:
        kind = self.kinds.currentData()
        row = self.list.currentIndex().row()
        shown = [entry for entry in self._entries if kind in (None, entry.kind)]
        self.list.entries.set_entries(shown, self._row)
        self.list.setVisible(bool(shown))
        self.empty.setText("" if shown else "Nothing is to be put right.")
        self.empty.setVisible(not shown)
        said = "The most reached stand first. Enter leads to the board." if shown else ""
        self.summary.setText(said)
        if shown:
            # What was mended has left the list; the next one has moved into its place.
            self.list.choose_row(min(max(row, 0), len(shown) - 1))

    def _row(self, entry: AuditEntry) -> Row:
        said = frequency(entry.reach)
        return Row(
            key=entry.node.key,
            board=entry.board(),
            heading=entry.sentence,
            order=entry.order.text(self._look.notation),
            remark=f"{said[:1].upper()}{said[1:]} here. To do: {entry.remedy}.",
        )

    def _open(self) -> None:
        index = self.list.currentIndex()
        if index.isValid():
            self.opened.emit(self.list.entries.entry(index.row()))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.leave.emit()
        else:
            super().keyPressEvent(event)
