"""The log of bugs: tracebacks go to a file, the user sees one sentence."""

from __future__ import annotations

import contextlib
import logging
import sys
import threading
from collections.abc import Callable
from logging.handlers import RotatingFileHandler
from pathlib import Path
from types import TracebackType

from trainer.errors import StemlineError

#: The size in bytes at which a new log is begun, and how many older ones are kept.
LOG_SIZE = 500_000
LOGS_KEPT = 2


class _QuietFile(RotatingFileHandler):
    """A log that makes its directory at the first entry, and whose own trouble stops nothing."""

    def __init__(self, path: Path, size: int) -> None:
        super().__init__(
            path, maxBytes=size, backupCount=LOGS_KEPT, encoding="utf-8", delay=True,
            errors="backslashreplace",
        )  # fmt: skip
        self.failed: BaseException | None = None

    def emit(self, record: logging.LogRecord) -> None:
        self.failed = None
        try:
            Path(self.baseFilename).parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        except OSError as error:
            self.failed = error
            return
        super().emit(record)

    def handleError(self, record: logging.LogRecord) -> None:  # noqa: ARG002, N802 - as in logging
        self.failed = sys.exception()


class BugLog:
    """A rotating log file, which is made at the first entry only."""

    def __init__(self, path: Path, *, size: int = LOG_SIZE) -> None:
        self.path = path
        self._handler = _QuietFile(path, size)
        self._handler.setFormatter(
            logging.Formatter("%(asctime)s %(levelname)s %(threadName)s: %(message)s")
        )
        # A logger of its own, not one from the registry that all libraries share.
        self.logger = logging.Logger("stemline", logging.INFO)
        self.logger.addHandler(self._handler)

    def report(self, error: BaseException) -> str:
        """Write `error` with its traceback to the log; the sentence for the user.

        Never raises: where the log cannot be written the sentence says so.
        """
        what = "".join(str(error).splitlines()[:1])
        name = type(error).__name__ + (f": {what}" if what else "")
        self.logger.error("%s", name, exc_info=(type(error), error, error.__traceback__))
        if self._handler.failed is not None:
            return (
                f"Stemline made a mistake ({name}), and the log {self.path} cannot be written "
                f"({self._handler.failed}); please report both."
            )
        return (
            f"Stemline made a mistake ({name}); please report it with the file {self.path}, "
            "which has the details."
        )

    def close(self) -> None:
        """Close the file. A later entry opens it again."""
        self._handler.close()


def install_excepthook(log: BugLog, show: Callable[[str], None]) -> Callable[[], None]:
    """Send each exception that nobody caught, in any thread, to `log` and its sentence to `show`.

    A `StemlineError` is only shown; an interrupt from the keyboard goes its usual way. `show` is
    called in the thread of the exception. Returns a function that puts the former hooks back.
    """
    former, former_in_threads = sys.excepthook, threading.excepthook

    def handle(error: BaseException) -> None:
        sentence = str(error) if isinstance(error, StemlineError) else log.report(error)
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
