"""Buttons in as many columns as there is room for."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QSize
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QAbstractButton, QGridLayout, QSizePolicy, QWidget

_MOST_COLUMNS = 4
_MOST_SHORT_COLUMNS = 8


class ButtonGrid(QWidget):
    """Lays its buttons out anew when its width changes, so that no label is cut."""

    def __init__(self, buttons: Sequence[QAbstractButton], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._buttons = tuple(buttons)
        self._columns = 0
        self._most = _MOST_COLUMNS
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        self._lay_out(_MOST_COLUMNS)

    def minimumSizeHint(self) -> QSize:
        widest = max(button.sizeHint().width() for button in self._buttons)
        return QSize(2 * widest + self._grid.spacing(), self._grid.sizeHint().height())

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit()

    def set_texts(self, texts: Sequence[str], *, short: bool) -> None:
        """Give the buttons other labels; more of them stand in a row where these are short."""
        for button, text in zip(self._buttons, texts, strict=True):
            button.setText(text)
        self._most = _MOST_SHORT_COLUMNS if short else _MOST_COLUMNS
        self._fit()
        self.updateGeometry()

    def _fit(self) -> None:
        widest = max(button.sizeHint().width() for button in self._buttons) + self._grid.spacing()
        fitting = (self.width() + self._grid.spacing()) // max(1, widest)
        self._lay_out(max(2, min(self._most, fitting)))

    def _lay_out(self, columns: int) -> None:
        if columns == self._columns:
            return
        self._columns = columns
        for number, button in enumerate(self._buttons):
            self._grid.addWidget(button, number // columns, number % columns)
            button.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.updateGeometry()
