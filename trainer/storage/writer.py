"""Small things written to the disk beside the window, in their order, and none of them lost.

A disk that is busy lets a flush wait for a tenth of a second and more. Settings, answers and the
end of a drill are therefore written by a thread of its own, which is there only while there is
something to write. Whoever must know that it is written, as a drill that asks nothing more before
an answer is on the disk, has the piece of writing tell him. Edits do not come this way: they are
with the operating system before the player sees what follows them.
"""

from __future__ import annotations

from collections.abc import Callable
from threading import Lock, Thread


class Writer:
    """Does what it is handed, one after the other, in another thread.

    The thread is no daemon, so that an interpreter that ends waits for what is left.
    """

    def __init__(self, failed: Callable[[Exception], None]) -> None:
        """`failed` gets whatever a piece of writing raised; it is called in that thread."""
        self._failed = failed
        self._lock = Lock()
        self._waiting: dict[object, Callable[[], None]] = {}
        self._thread: Thread | None = None

    def put(self, write: Callable[[], None], *, instead: str | None = None) -> None:
        """Call `write` soon, after what was put before.

        What was put under the same name `instead`, and was not begun, is out of date and left out.
        """
        key: object = object() if instead is None else instead
        with self._lock:
            self._waiting.pop(key, None)
            self._waiting[key] = write
            if self._thread is None:
                self._thread = Thread(target=self._run, name="writer", daemon=False)
                self._thread.start()

    def finish(self) -> None:
        """Return when all that was put has been written, or has failed."""
        while (thread := self._thread) is not None:
            thread.join()

    def _run(self) -> None:
        while (write := self._next()) is not None:
            try:
                write()
            except Exception as error:  # whoever put it has gone on; `failed` tells the player
                self._failed(error)

    def _next(self) -> Callable[[], None] | None:
        with self._lock:
            if not self._waiting:
                self._thread = None
                return None
            return self._waiting.pop(next(iter(self._waiting)))
