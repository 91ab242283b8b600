"""A panel of boards and words that lays itself out by the width it is given."""

from __future__ import annotations

from abc import abstractmethod

from PySide6.QtCore import QSize
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QWidget

_LEAST = 100


class BoardPanel(QWidget):
    """Its boards follow the width; they must not hold the page as wide as it once was."""

    def minimumSizeHint(self) -> QSize:
        return QSize(_LEAST, super().minimumSizeHint().height())

    def sizeHint(self) -> QSize:
        return QSize(_LEAST, super().sizeHint().height())

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit()

    @abstractmethod
    def _fit(self) -> None:
        """Give boards and words their place in the present width."""
