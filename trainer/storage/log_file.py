"""The file behind the log of bugs: rotating, and made at the first entry only."""

from __future__ import annotations

import logging
import sys
from logging.handlers import RotatingFileHandler
from pathlib import Path


class _QuietFile(RotatingFileHandler):
    """A log that makes its directory at the first entry, and whose own trouble stops nothing."""

    def __init__(self, path: Path, size: int, kept: int) -> None:
        super().__init__(
            path, maxBytes=size, backupCount=kept, encoding="utf-8", delay=True,
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


class LogFile:
    """A log of at most `size` bytes, with `kept` older ones."""

    def __init__(self, path: Path, *, size: int, kept: int) -> None:
        self._handler = _QuietFile(path, size, kept)
        self._handler.setFormatter(
            logging.Formatter("%(asctime)s %(levelname)s %(threadName)s: %(message)s")
        )
        # A logger of its own, not one from the registry that all libraries share.
        self._logger = logging.Logger("stemline", logging.INFO)
        self._logger.addHandler(self._handler)

    def write(self, name: str, error: BaseException) -> BaseException | None:
        """Add `error` with its traceback under `name`; what went wrong with that, or None."""
        self._logger.error("%s", name, exc_info=(type(error), error, error.__traceback__))
        return self._handler.failed

    def close(self) -> None:
        """Close the file. A later entry opens it again."""
        self._handler.close()
