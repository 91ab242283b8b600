"""Garbage collection in the thread of the window, and nowhere else.

Python collects garbage in whatever thread happens to allocate. In a worker that may destroy Qt
objects there, and Qt objects belong to the thread of the window. So automatic collection is off
as long as a window is open, and a timer of the window collects instead.
"""

from __future__ import annotations

import gc

from PySide6.QtCore import QObject, QTimer

_EVERY_MS = 500


class GarbageDuty(QObject):
    """Collects by the thresholds that Python itself goes by, twice a second."""

    def __init__(self, parent: QObject) -> None:
        super().__init__(parent)
        self._was_enabled = gc.isenabled()
        gc.disable()
        self._timer = QTimer(self)
        self._timer.setInterval(_EVERY_MS)
        self._timer.timeout.connect(self._collect)
        self._timer.start()

    def hold(self) -> None:
        """Collect nothing for a while: a repertoire is being read, and all of it is wanted."""
        self._timer.stop()

    def go_on(self) -> None:
        """Collect again."""
        self._timer.start()

    def spare(self) -> None:
        """Never search what is in memory now, and collect again.

        A large repertoire is hundreds of thousands of objects that live as long as the window.
        Each search through them takes some 50 ms, during which the window would stand still.
        """
        gc.freeze()
        self._timer.start()

    def end(self) -> None:
        """Leave it to Python again."""
        self._timer.stop()
        if self._was_enabled:
            gc.enable()

    def _collect(self) -> None:
        counts, thresholds = gc.get_count(), gc.get_threshold()
        for generation in (2, 1, 0):
            if thresholds[generation] and counts[generation] > thresholds[generation]:
                gc.collect(generation)
                return
