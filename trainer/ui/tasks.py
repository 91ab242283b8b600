"""One runner for long work: a plain function in, progress and the result handed back.

The function runs in a pool thread and must not touch widgets. Its callbacks run in the thread
that owns the runner. Work that was cancelled reports nothing any more.
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum, auto
from functools import cached_property
from threading import Event
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject, QTimer, Slot

from trainer.storage.log import BugLog
from trainer.ui.mail import Mailbox

if TYPE_CHECKING:
    from concurrent.futures import ThreadPoolExecutor


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

#: Milliseconds after which whatever was to be painted has been; a frame at 60 a second is 16.
_PAINTED_MS = 16


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

    One at a time, so that no two pieces ever read and change the same repertoire. The next piece
    begins when what the last one changed in the window has been painted: Python runs one thread
    at a time, and beside work each paint takes several times as long.

    Callbacks and acts never leave the thread of the window, and the work itself is let go of
    there: whoever lets go of a widget last destroys it, and in another thread that is the end of
    the program.
    """

    def __init__(self, log: BugLog, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._log = log
        self._mailbox = Mailbox(self)
        self._jobs: dict[TaskControl, _Job] = {}
        #: What is to be done next: work, or an act of the window.
        self._queue: deque[TaskControl | Callable[[], None]] = deque()
        self._working = False
        self._acting = False
        self._pause = QTimer(self)
        self._pause.setSingleShot(True)
        self._pause.setInterval(_PAINTED_MS)
        self._pause.timeout.connect(self._go_on)

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
        self._queue.append(control)
        if not self._pause.isActive():
            self._pause.start()
        return control

    def alone(self, act: Callable[[], None]) -> None:
        """Call `act` in the thread of the window while no work is under way.

        That is at once where there is none; else as soon as all that was started before has
        ended. What is started meanwhile waits for it. So an edit of the repertoire never runs
        beside work that reads it, and the window never waits.
        """
        self._drop_cancelled()
        if self._acting or not (self._working or self._queue):
            self._act(act)
        else:
            self._queue.append(act)

    def busy(self) -> bool:
        """Whether any work is under way, or has ended without its callback called yet."""
        return bool(self._jobs or self._queue)

    def close(self) -> None:
        """Cancel everything, what has not begun too, and wait for the thread to end."""
        for control in self._jobs:
            control.cancel()
        self._queue.clear()
        self._pause.stop()
        self._pool.shutdown(wait=True, cancel_futures=True)
        self._jobs.clear()

    # -- in the worker -----------------------------------------------------------------------

    def _run(self, control: TaskControl) -> None:
        # No name here may hold on to the work when the window is told that it has ended.
        ended, value = self._outcome(control)
        self._mailbox.post(lambda: self._end(control, ended, value))

    def _outcome(self, control: TaskControl) -> tuple[_Ended, Any]:
        """Do a piece of work: how it ended, with its result or a sentence."""
        if control.cancelled():
            return _Ended.DONE, None
        try:
            return _Ended.DONE, self._jobs[control].work(control)
        except Exception as error:
            return _Ended.FAILED, self._log.sentence(error)

    def _report(self, control: TaskControl, share: float) -> None:
        if not control.cancelled():
            self._mailbox.post(lambda: self._progress(control, share))

    # -- in the window -----------------------------------------------------------------------

    @Slot()
    def _go_on(self) -> None:
        """Do what is next, unless something is under way."""
        while not (self._working or self._acting):
            self._drop_cancelled()
            if not self._queue:
                return
            following = self._queue.popleft()
            if isinstance(following, TaskControl):
                self._working = True
                self._pool.submit(self._run, following)
            else:
                self._act(following)

    def _drop_cancelled(self) -> None:
        while self._queue:
            control = self._queue[0]
            if not (isinstance(control, TaskControl) and control.cancelled()):
                return
            self._queue.popleft()
            del self._jobs[control]

    def _act(self, act: Callable[[], None]) -> None:
        nested, self._acting = self._acting, True
        try:
            act()
        finally:
            self._acting = nested
            if self._queue:
                self._pause.start()

    def _end(self, control: TaskControl, ended: _Ended, value: Any) -> None:
        self._working = False
        job = self._jobs.pop(control, None)
        # Before the callback too, which may open a box that stays.
        self._pause.start()
        if job is not None and not control.cancelled():
            (job.done if ended is _Ended.DONE else job.failed)(value)
            self._pause.start()

    def _progress(self, control: TaskControl, share: float) -> None:
        job = self._jobs.get(control)
        if job is not None and job.progressed is not None and not control.cancelled():
            job.progressed(share)


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
