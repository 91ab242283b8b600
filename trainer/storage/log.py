"""The log of bugs: tracebacks go to a file, the user sees one sentence."""

from __future__ import annotations

import contextlib
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING

from trainer.errors import StemlineError

if TYPE_CHECKING:
    from trainer.storage.log_file import LogFile

#: The size in bytes at which a new log is begun, and how many older ones are kept.
LOG_SIZE = 500_000
LOGS_KEPT = 2


class BugLog:
    """A rotating log file, which is made at the first entry only."""

    def __init__(self, path: Path, *, size: int = LOG_SIZE) -> None:
        self.path = path
        self._size = size
        self._file: LogFile | None = None

    def report(self, error: BaseException) -> str:
        """Write `error` with its traceback to the log; the sentence for the user.

        Never raises: where the log cannot be written the sentence says so.
        """
        what = "".join(str(error).splitlines()[:1])
        name = type(error).__name__ + (f": {what}" if what else "")
        failed = self._open().write(name, error)
        if failed is not None:
            return (
                f"Stemline made a mistake ({name}), and the log {self.path} cannot be written "
                f"({failed}); please report both."
            )
        return (
            f"Stemline made a mistake ({name}); please report it with the file {self.path}, "
            "which has the details."
        )

    def sentence(self, error: BaseException) -> str:
        """What the user is told: what a known error says, or that there is a bug, now reported."""
        return str(error) if isinstance(error, StemlineError) else self.report(error)

    def close(self) -> None:
        """Close the file. A later entry opens it again."""
        if self._file is not None:
            self._file.close()

    def _open(self) -> LogFile:
        if self._file is None:
            # Bugs are rare, and Python's logging takes time that every start would pay for.
            from trainer.storage.log_file import LogFile

            self._file = LogFile(self.path, size=self._size, kept=LOGS_KEPT)
        return self._file


def install_excepthook(log: BugLog, show: Callable[[str], None]) -> Callable[[], None]:
    """Send each exception that nobody caught, in any thread, to `log` and its sentence to `show`.

    A `StemlineError` is only shown; an interrupt from the keyboard goes its usual way. `show` is
    called in the thread of the exception. Returns a function that puts the former hooks back.
    """
    former, former_in_threads = sys.excepthook, threading.excepthook

    def handle(error: BaseException) -> None:
        sentence = log.sentence(error)
        try:
            show(sentence)
        except Exception as second:
            log.report(second)
            with contextlib.suppress(OSError, ValueError, AttributeError):
                sys.stderr.write(f"{sentence}\n")

    def hook(
        kind: type[BaseException], error: BaseException, traceback: TracebackType | None
    ) -> None:
        if issubclass(kind, KeyboardInterrupt):
            former(kind, error, traceback)
        else:
            handle(error)

    def hook_in_threads(args: threading.ExceptHookArgs) -> None:
        if args.exc_value is None or issubclass(args.exc_type, SystemExit):
            former_in_threads(args)
        else:
            handle(args.exc_value)

    def restore() -> None:
        sys.excepthook, threading.excepthook = former, former_in_threads

    sys.excepthook, threading.excepthook = hook, hook_in_threads
    return restore
