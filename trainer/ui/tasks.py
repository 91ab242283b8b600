"""One runner for long work: a plain function in, progress and the result handed back.

The function runs in a pool thread and must not touch widgets. Its callbacks run in the thread
that owns the runner. Work that was cancelled reports nothing any more.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum, auto
from functools import cached_property
from queue import Empty, SimpleQueue
from threading import Event
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject, Qt, Signal, Slot

from trainer.errors import StemlineError
from trainer.storage.log import BugLog

if TYPE_CHECKING:
    from concurrent.futures import Future, ThreadPoolExecutor


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


class _Ended(Enum):
    DONE = auto()
    FAILED = auto()


@dataclass(frozen=True, eq=False)
class _Job:
    work: Work
    done: Callable[[Any], None]
    failed: Callable[[str], None]
    progressed: Callable[[float], None] | None


class TaskRunner(QObject):
    """Does one piece of work after the other and joins them at exit; bugs go to `log`.

    One at a time, so that no two pieces ever read and change the same repertoire.

    What the threads have to say waits in a queue, and only a wake-up without content crosses
    over as a signal, so nothing that Python owns is handed between threads by Qt. Callbacks and
    acts never leave the thread of the window, and the work itself is let go of there: whoever
    lets go of a widget last destroys it, and in another thread that is the end of the program.
    """

    _wake = Signal()

    def __init__(self, log: BugLog, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._log = log
        self._mail: SimpleQueue[Callable[[], None]] = SimpleQueue()
        self._jobs: dict[TaskControl, _Job] = {}
        #: The work that was started last; nothing is under way once it has ended.
        self._last: Future[None] | None = None
        #: The acts that wait for their turn; each event lets the worker go on.
        self._acts: dict[Event, Callable[[], None]] = {}
        self._wake.connect(self._read_mail, Qt.ConnectionType.QueuedConnection)

    @cached_property
    def _pool(self) -> ThreadPoolExecutor:
        # Made for the first work, when the window stands on the screen.
        from concurrent.futures import ThreadPoolExecutor

        return ThreadPoolExecutor(max_workers=1, thread_name_prefix="work")

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
        if progressed is None:
            control = TaskControl(lambda _share: None)
        else:
            control = TaskControl(_sparing(lambda share: self._report(control, share)))
        self._jobs[control] = _Job(work, done, failed, progressed)
        self._last = self._pool.submit(self._run, control)
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
        self._acts[over] = act
        self._last = self._pool.submit(self._give_way, over)

    def busy(self) -> bool:
        """Whether any work is under way, or has ended without its callback called yet."""
        return bool(self._jobs or self._acts)

    def close(self) -> None:
        """Cancel everything and wait for the threads to end."""
        for control in self._jobs:
            control.cancel()
        acts, self._acts = self._acts, {}
        for over in acts:
            over.set()
        self._pool.shutdown(wait=True, cancel_futures=True)
        self._jobs.clear()

    # -- in the worker -----------------------------------------------------------------------

    def _run(self, control: TaskControl) -> None:
        # No name here may hold on to the work when the window is told that it has ended.
        ended, value = self._outcome(control)
        self._post(lambda: self._end(control, ended, value))

    def _outcome(self, control: TaskControl) -> tuple[_Ended, Any]:
        """Do a piece of work: how it ended, with its result or a sentence."""
        if control.cancelled():
            return _Ended.DONE, None
        try:
            return _Ended.DONE, self._jobs[control].work(control)
        except StemlineError as known:
            return _Ended.FAILED, str(known)
        except Exception as bug:  # logged with its traceback, told in one sentence
            return _Ended.FAILED, self._log.report(bug)

    def _report(self, control: TaskControl, share: float) -> None:
        if not control.cancelled():
            self._post(lambda: self._progress(control, share))

    def _give_way(self, over: Event) -> None:
        self._post(lambda: self._take_turn(over))
        over.wait()

    # -- in the window -----------------------------------------------------------------------

    def _end(self, control: TaskControl, ended: _Ended, value: Any) -> None:
        job = self._jobs.pop(control, None)
        if job is not None and not control.cancelled():
            (job.done if ended is _Ended.DONE else job.failed)(value)

    def _progress(self, control: TaskControl, share: float) -> None:
        job = self._jobs.get(control)
        if job is not None and job.progressed is not None and not control.cancelled():
            job.progressed(share)

    def _take_turn(self, over: Event) -> None:
        act = self._acts.get(over)
        if act is not None:
            try:
                act()
            finally:
                self._acts.pop(over, None)
                over.set()

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


def _sparing(report: Callable[[float], None]) -> Callable[[float], None]:
    """`report`, not more often than the eye can follow: each one costs the window time."""
    told = 0.0

    def tell(share: float) -> None:
        nonlocal told
        now = time.monotonic()
        if now - told >= _REPORT_EVERY:
            told = now
            report(share)

    return tell
