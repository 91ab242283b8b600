"""Above the plan: the search field, and the buttons for folding, zoom, legend and saving."""

from __future__ import annotations

from PySide6.QtCore import QTimer, Signal
from PySide6.QtWidgets import QBoxLayout, QHBoxLayout, QLineEdit, QToolButton, QWidget

from trainer.ui.labels import text_label

_SEARCH_AFTER_MS = 150
#: Room for the search in average characters, and between two buttons in pixels.
_SEARCH_CHARACTERS, _GAP = 70, 10


class MapBar(QWidget):
    """One row where there is room, else two or three."""

    searched = Signal()
    """The words in the search field changed, and the player paused."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.search = QLineEdit()
        self.search.setPlaceholderText("Move, comment, opening or FEN")
        self.search.setAccessibleName("Search the map")
        self.search.setClearButtonEnabled(True)
        self.count = text_label("", "muted")
        self.count.setWordWrap(False)
        self.set_up = _button("Set up …", "Find a position set up on a board (Ctrl+Shift+F)")
        self.previous = _button("↑", "Previous result (Shift+F3)")
        self.next = _button("↓", "Next result (F3)")
        self.fold = _button("Fold", "Hide or show what hangs on the chosen position (F)")
        self.fold_all = _button("Unfold all", "Show every position, or only the likely (Shift+F)")
        self.fit = _button("Fit", "Show the whole map (0)")
        self.smaller = _button("−", "Smaller (−)")
        self.larger = _button("+", "Larger (+)")
        self.legend = _button("Legend", "What the signs mean")
        self.legend.setCheckable(True)
        self.edit = _button("Edit", "Edit the repertoire at the chosen position (E)")
        self.save = _button("Save picture …", "Save the whole map as SVG or PDF")
        self._pause = QTimer(self)
        self._pause.setSingleShot(True)
        self._pause.setInterval(_SEARCH_AFTER_MS)
        self._pause.timeout.connect(self.searched)
        self.search.textChanged.connect(lambda _text: self._pause.start())
        field = QHBoxLayout()
        field.addWidget(self.search, 1)
        for widget in (self.set_up, self.previous, self.next):
            field.addWidget(widget)
        self.count.hide()
        self._finding = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self._finding.addLayout(field, 1)
        self._finding.addWidget(self.count)
        folding = (self.edit, self.fold, self.fold_all, self.fit)
        showing = (self.smaller, self.larger, self.legend, self.save)
        self._buttons = (*folding, *showing)
        self._tools = QBoxLayout(QBoxLayout.Direction.TopToBottom)
        self._tools.addStretch(1)
        for group in (folding, showing):
            row = QHBoxLayout()
            row.addStretch(1)
            for widget in group:
                row.addWidget(widget)
            self._tools.addLayout(row)
        self._rows = QBoxLayout(QBoxLayout.Direction.TopToBottom, self)
        self._rows.setContentsMargins(0, 0, 0, 0)
        self._rows.addLayout(self._finding, 3)
        self._rows.addLayout(self._tools, 2)

    def arrange(self, room: int) -> None:
        """Take as many rows as a width of so many pixels needs, whatever the font and scale."""
        needed = sum(button.sizeHint().width() + _GAP for button in self._buttons)
        finding = self.search.fontMetrics().averageCharWidth() * _SEARCH_CHARACTERS
        across, down = QBoxLayout.Direction.LeftToRight, QBoxLayout.Direction.TopToBottom
        self._rows.setDirection(across if needed + finding <= room else down)
        self._tools.setDirection(across if needed <= room else down)
        # What was found stands below the field where the field would grow too short beside it.
        self._finding.setDirection(across if finding <= room else down)

    def show_count(self, words: str) -> None:
        """What was found, or nothing."""
        self.count.setText(words)
        self.count.setVisible(bool(words))

    def search_now(self) -> None:
        """Do not wait for a pause in typing."""
        if self._pause.isActive():
            self._pause.stop()
            self.searched.emit()

    def begin_search(self) -> None:
        """Put the cursor into the search field."""
        self.search.setFocus()
        self.search.selectAll()

    def clear(self) -> None:
        """Forget what was searched."""
        self.search.clear()
        self._pause.stop()
        self.show_count("")


def _button(text: str, tip: str) -> QToolButton:
    button = QToolButton()
    button.setText(text)
    button.setToolTip(tip)
    button.setAccessibleName(tip)
    return button
