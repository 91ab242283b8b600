"""What only the window's thread can do, a little at a time.

A page with fifty widgets takes that thread some 50 ms to build. In between the pieces the window
paints and answers.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from PySide6.QtCore import QObject, QTimer

#: With none at all the next step would come before other timers that are due.
_BETWEEN_MS = 2


def all_at_once(pieces: Iterator[None]) -> None:
    """Take all steps that are left, where there is no time for turns."""
    for _ in pieces:
        pass


class Turns(QObject):
    """Takes one step of an iterator in each turn of the event loop."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._pieces: Iterator[None] = iter(())
        self._then: Callable[[], None] | None = None
        self._timer = QTimer(self)
        self._timer.setInterval(_BETWEEN_MS)
        self._timer.timeout.connect(self._step)

    @property
    def active(self) -> bool:
        """Whether something is still to be done."""
        return self._then is not None

    def run(self, pieces: Iterator[None], then: Callable[[], None]) -> None:
        """From the next turn on take the steps of `pieces`, and call `then` behind the last.

        This takes the place of what is still to be done. Pieces that were given up go on where
        they stopped when they are handed in again.
        """
        self._pieces, self._then = pieces, then
        self._timer.start()

    def cancel(self) -> None:
        """Do nothing more."""
        self._timer.stop()
        self._pieces, self._then = iter(()), None

    def _step(self) -> None:
        ended = False
        try:
            next(self._pieces)
        except StopIteration:
            ended = True
        except BaseException:
            self.cancel()
            raise
        then = self._then
        if ended and then is not None:
            self.cancel()
            then()
