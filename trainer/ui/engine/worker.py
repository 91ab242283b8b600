"""One thread for the engine, apart from the other long work of the window.

A search takes seconds and a test of a repertoire hours, so neither may stand in the queue of
`trainer.ui.tasks`. What the player waits for goes first: a background task makes room and goes
on afterwards. As there, what the thread has to say waits in a queue, a wake-up without content
crosses over as a signal, and callbacks never leave the thread of the window.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from threading import Condition, Thread
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject, QTimer, Signal

from trainer.errors import EngineStoppedError
from trainer.storage.log import BugLog
from trainer.ui.mail import Mailbox

if TYPE_CHECKING:
    from trainer.engine.session import Engine

_DISPLACED = "The engine was asked something else in the meantime; ask once more."
_SILENCED = "The engine was stopped, since a question of the drill was opened; ask once more."
#: Seconds after which an engine that nobody asks is ended.
_IDLE = 60.0
#: Seconds between two reports of one request.
_REPORT_EVERY = 0.1


@dataclass(frozen=True)
class EngineChoice:
    """The program, its memory in MiB and its threads."""

    path: Path
    hash_mb: int
    threads: int


class Request:
    """One question to the engine, from whatever thread it is looked at."""

    def __init__(self, work: Callable[[Engine, Request], Any], *, background: bool) -> None:
        self.work = work
        self.background = background
        self._cancelled = False
        self._paused = False
        self._tell: Callable[[Any], None] = lambda _value: None

    def cancel(self) -> None:
        """Nobody waits for the answer any more; no callback follows."""
        self._cancelled = True

    @property
    def is_cancelled(self) -> bool:
        """Whether it was given up for good."""
        return self._cancelled

    def stopped(self) -> bool:
        """Whether the work should end now, for good or to make room."""
        return self._cancelled or self._paused

    def tell(self, value: Any) -> None:
        """Report to the window."""
        self._tell(value)


@dataclass
class _Callbacks:
    done: Callable[[Any], None]
    failed: Callable[[str], None]
    told: Callable[[Any], None] | None


class EngineWorker(QObject):
    """Runs requests one after the other, on an engine that it starts at the first of them."""

    #: Something is being done now, or nothing is.
    busy_changed = Signal(bool)

    def __init__(self, log: BugLog, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._log = log
        self._condition = Condition()
        self._mailbox = Mailbox(self)
        self._callbacks: dict[Request, _Callbacks] = {}
        self._choice: EngineChoice | None = None
        self._first: Request | None = None
        self._background: list[Request] = []
        self._current: Request | None = None
        self._silent = False
        self._closing = False
        self._thread: Thread | None = None
        self._engine: Engine | None = None
        self._engine_choice: EngineChoice | None = None

    # -- the window's side -------------------------------------------------------------------

    def set_choice(self, choice: EngineChoice) -> None:
        """The engine for the requests from now on."""
        with self._condition:
            self._choice = choice

    def ask(
        self,
        work: Callable[[Engine, Request], Any],
        *,
        done: Callable[[Any], None],
        failed: Callable[[str], None],
        told: Callable[[Any], None] | None = None,
        background: bool = False,
    ) -> Request:
        """Run `work(engine, request)` in the engine's thread; it touches no widgets.

        A request in the foreground takes the place of the one before, whose `failed` is told so
        unless it was given up, and makes one in the background pause, whose work is then run
        once more from its beginning. `told` gets what `request.tell` was given, `failed` one
        sentence.
        """
        request = Request(work, background=background)
        self._callbacks[request] = _Callbacks(done, failed, told)
        with self._condition:
            if background:
                self._background.append(request)
            else:
                for other in (self._first, self._current):
                    if other is not None and other.background:
                        other._paused = True
                    elif other is not None:
                        self._displace(other, _DISPLACED)
                self._first = request
            if self._thread is None:
                # A daemon: where the window is not closed in order, it must not keep the program.
                self._thread = Thread(target=self._run, name="engine-desk", daemon=True)
                self._thread.start()
            self._condition.notify()
        return request

    def give_up(self, request: Request | None) -> None:
        """Cancel a request, where there is one."""
        if request is None:
            return
        request.cancel()
        self._forget(request)
        with self._condition:
            if request in self._background:
                self._background.remove(request)
            if request is self._first:
                self._first = None

    def set_silent(self, silent: bool) -> None:
        """While silent, nothing is searched and nothing is said; the background waits."""
        with self._condition:
            self._silent = silent
            for request in (self._first, self._current):
                if not silent or request is None:
                    continue
                if request.background:
                    request._paused = True
                else:
                    self._displace(request, _SILENCED)
            if silent:
                self._first = None
            self._condition.notify()

    @property
    def silent(self) -> bool:
        """Whether nothing may be said now."""
        return self._silent

    @property
    def working(self) -> bool:
        """Whether the engine is at work this moment."""
        return self._current is not None

    def close(self) -> None:
        """Cancel everything, end the engine and wait for the thread."""
        with self._condition:
            self._closing = True
            for request in (self._first, self._current, *self._background):
                if request is not None:
                    request.cancel()
            self._condition.notify()
        self._callbacks.clear()
        if self._thread is not None:
            self._thread.join()
            self._thread = None

    def _displace(self, request: Request, sentence: str) -> None:
        """End a request for the sake of something else; who waits for it is told."""
        request.cancel()
        callbacks = self._callbacks.pop(request, None)
        if callbacks is not None:
            QTimer.singleShot(0, self, lambda: callbacks.failed(sentence))

    def _forget(self, request: Request) -> None:
        self._callbacks.pop(request, None)

    def _hear(self, request: Request, kind: str, value: Any) -> None:
        callbacks = self._callbacks.get(request)
        if kind == "busy":
            self.busy_changed.emit(value)
        elif callbacks is None or request.is_cancelled:
            return
        elif kind == "told":
            if callbacks.told is not None:
                callbacks.told(value)
        else:
            self._forget(request)
            (callbacks.done if kind == "done" else callbacks.failed)(value)

    # -- the engine's side -------------------------------------------------------------------

    def _post(self, request: Request, kind: str, value: Any) -> None:
        self._mailbox.post(lambda: self._hear(request, kind, value))

    def _run(self) -> None:
        while True:
            with self._condition:
                request = self._take()
                while request is None and not self._closing:
                    if not self._condition.wait(_IDLE if self._engine is not None else None):
                        break
                    request = self._take()
                if self._closing:
                    break
                self._current = request
                choice = self._choice
            if request is None:
                self._end_engine()
                continue
            self._post(request, "busy", True)
            finished = self._do(request, choice)
            with self._condition:
                self._current = None
                if not finished and request._paused and not request.is_cancelled:
                    request._paused = False
                    self._background.insert(0, request)
            self._post(request, "busy", False)
        self._end_engine()

    def _take(self) -> Request | None:
        if self._silent:
            return None
        if self._first is not None:
            request, self._first = self._first, None
            return request
        return self._background.pop(0) if self._background else None

    def _do(self, request: Request, choice: EngineChoice | None) -> bool:
        """Run a request; whether its end was told."""
        request._tell = _sparing(lambda value: self._post(request, "told", value))
        try:
            engine = self._started(choice, request)
            result = request.work(engine, request)
        except EngineStoppedError:
            return False
        except Exception as error:
            self._end_engine()
            self._post(request, "failed", self._log.sentence(error))
        else:
            if request.stopped():
                return False
            self._post(request, "done", result)
        return True

    def _started(self, choice: EngineChoice | None, request: Request) -> Engine:
        """The engine of that choice, started where it does not run yet."""
        from trainer.engine.discover import engine_to_use
        from trainer.engine.session import Engine, EngineOptions

        if choice is None:
            choice = EngineChoice(engine_to_use(None), 64, 1)
        if self._engine is not None and (choice != self._engine_choice or not self._engine.alive):
            self._end_engine()
        if self._engine is None:
            options = EngineOptions(choice.hash_mb, choice.threads)
            self._engine = Engine.start(choice.path, options, cancelled=request.stopped)
            self._engine_choice = choice
        return self._engine

    def _end_engine(self) -> None:
        if self._engine is not None:
            self._engine.close()
            self._engine = None


def _sparing(post: Callable[[Any], None]) -> Callable[[Any], None]:
    """`post`, not more often than the eye can follow; lists of findings are never dropped."""
    last = 0.0

    def tell(value: Any) -> None:
        nonlocal last
        now = time.monotonic()
        if now - last >= _REPORT_EVERY or getattr(value, "found", ()):
            last = now
            post(value)

    return tell
