"""How other threads tell the window something."""

from __future__ import annotations

from collections.abc import Callable
from queue import Empty, SimpleQueue

from PySide6.QtCore import QObject, Qt, Signal, Slot


class Mailbox(QObject):
    """Letters are functions; any thread posts them, and the thread that owns the box calls them.

    They wait in a queue, and only a wake-up without content crosses over as a signal, so nothing
    that Python owns is handed between threads by Qt.
    """

    _wake = Signal()

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._letters: SimpleQueue[Callable[[], None]] = SimpleQueue()
        self._wake.connect(self.read, Qt.ConnectionType.QueuedConnection)

    def post(self, letter: Callable[[], None]) -> None:
        """Have `letter` called soon, after what was posted before; from whatever thread."""
        self._letters.put(letter)
        self._wake.emit()

    @Slot()
    def read(self) -> None:
        """Call what is there, in the thread that owns the box."""
        # Only what is there now: a busy thread must not keep the window at its mail.
        for _ in range(self._letters.qsize()):
            try:
                letter = self._letters.get_nowait()
            except Empty:  # read in the event loop of a box that an earlier letter opened
                return
            letter()
