"""One runner for long work: a plain function in, progress and the result handed back.

The function runs in a pool thread and must not touch widgets. Its callbacks run in the thread
that owns the runner. Work that was cancelled reports nothing any more.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from queue import Empty, SimpleQueue
from threading import Event
from typing import Any

from PySide6.QtCore import QObject, Qt, Signal, Slot

from trainer.errors import StemlineError
from trainer.storage.log import BugLog


class TaskControl:
    """What the working function is handed: where it reports, and whether it should stop."""

    def __init__(self, report: Callable[[float], None]) -> None:
        self.report = report
        self._stop = Event()

    def cancelled(self) -> bool:
        """Whether nobody waits for the result any more."""
        return self._stop.is_set()

    def cancel(self) -> None:
        """Ask the function to stop at its next look; none of its callbacks will follow."""
        self._stop.set()


Work = Callable[[TaskControl], Any]

#: Seconds between two reports of progress.
_REPORT_EVERY = 0.05


class TaskRunner(QObject):
    """Does one piece of work after the other and joins them at exit; bugs go to `log`.

    One at a time, so that no two pieces ever read and change the same repertoire.

    What the threads have to say waits in a queue, and only a wake-up without content crosses
    over as a signal, so nothing that Python owns is handed between threads by Qt.
    """

    _wake = Signal()

    def __init__(self, log: BugLog, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._log = log
        self._pool = ThreadPoolExecutor(max_workers=1, thread_name_prefix="work")
        self._mail: SimpleQueue[Callable[[], None]] = SimpleQueue()
        self._controls: set[TaskControl] = set()
        #: The work that was started last; nothing is under way once it has ended.
        self._last: Future[None] | None = None
        #: For each act that waits for its turn or has it: set when the worker may go on.
        self._turns: set[Event] = set()
        self._wake.connect(self._read_mail, Qt.ConnectionType.QueuedConnection)

    def start(
        self,
        work: Work,
        *,
        done: Callable[[Any], None],
        failed: Callable[[str], None],
        progressed: Callable[[float], None] | None = None,
    ) -> TaskControl:
        """Run `work(control)` off this thread and hand its result to `done`.

        `failed` gets one sentence for the user. Neither is called once the control that is
        returned was cancelled.
        """

        told = 0.0

        def report(share: float) -> None:
            nonlocal told
            now = time.monotonic()
            # Not more often than the eye can follow: each report costs the window time.
            if progressed is None or control.cancelled() or now - told < _REPORT_EVERY:
                return
            told = now
            self._post(lambda: None if control.cancelled() else progressed(share))

        def end(callback: Callable[[Any], None], value: Any) -> None:
            self._controls.discard(control)
            if not control.cancelled():
                callback(value)

        def run() -> None:
            if control.cancelled():
                self._post(lambda: self._controls.discard(control))
                return
            try:
                result = work(control)
            except StemlineError as known:
                sentence = str(known)
                self._post(lambda: end(failed, sentence))
            except Exception as bug:  # logged with its traceback, told in one sentence
                sentence = self._log.report(bug)
                self._post(lambda: end(failed, sentence))
            else:
                self._post(lambda: end(done, result))

        control = TaskControl(report)
        self._controls.add(control)
        self._last = self._pool.submit(run)
        return control

    def alone(self, act: Callable[[], None]) -> None:
        """Call `act` in the thread of the window while no work is under way.

        That is at once where there is none; else as soon as all that was started before has
        ended. What is started meanwhile waits for it. So an edit of the repertoire never runs
        beside work that reads it, and the window never waits.
        """
        if self._last is None or self._last.done():
            act()
            return
        over = Event()
        self._turns.add(over)

        def take_turn() -> None:
            if over in self._turns:
                try:
                    act()
                finally:
                    self._turns.discard(over)
                    over.set()

        def give_way() -> None:
            self._post(take_turn)
            over.wait()

        self._last = self._pool.submit(give_way)

    def busy(self) -> bool:
        """Whether any work is under way, or has ended without its callback called yet."""
        return bool(self._controls or self._turns)

    def close(self) -> None:
        """Cancel everything and wait for the threads to end."""
        for control in self._controls:
            control.cancel()
        turns, self._turns = self._turns, set()
        for over in turns:
            over.set()
        self._pool.shutdown(wait=True, cancel_futures=True)
        self._controls.clear()

    def _post(self, letter: Callable[[], None]) -> None:
        self._mail.put(letter)
        self._wake.emit()

    @Slot()
    def _read_mail(self) -> None:
        # Only what is there now: a busy thread must not keep the window at its mail.
        for _ in range(self._mail.qsize()):
            try:
                letter = self._mail.get_nowait()
            except Empty:  # read in the event loop of a box that an earlier letter opened
                return
            letter()
