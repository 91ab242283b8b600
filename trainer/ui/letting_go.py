"""Freeing what took much memory, a little at a time.

Python frees a list of ten thousand findings in one go, with all that hangs on them, and the window
stands still meanwhile: 20 to 50 ms for those of a large repertoire.
"""

from __future__ import annotations

import time
from collections.abc import Iterable
from typing import Any

from PySide6.QtCore import QObject, QTimer

#: Seconds at a time.
_SLICE = 0.004


class LettingGo(QObject):
    """Holds what nobody wants any more, and frees it whenever the window has nothing to do."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._things: list[Any] = []
        self._timer = QTimer(self)
        self._timer.setInterval(0)
        self._timer.timeout.connect(self._free)

    def take(self, things: Iterable[Any]) -> None:
        """Free these soon, the last one first; whoever else holds them keeps them."""
        self._things.extend(things)
        if self._things:
            self._timer.start()

    def take_apart(self, thing: object) -> None:
        """Free a large object soon: after it, one by one, all that it holds."""
        self.take([*vars(thing).values(), thing])

    @property
    def left(self) -> int:
        """How many are still to be freed."""
        return len(self._things)

    def _free(self) -> None:
        end = time.monotonic() + _SLICE
        while self._things and time.monotonic() < end:
            self._things.pop()
        if not self._things:
            self._timer.stop()
