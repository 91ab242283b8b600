"""One writer at a time: a lock of the operating system, which dies with its process.

Nothing is left to clean up after a crash: the side file stays, but the lock on it is gone.
"""

from __future__ import annotations

import contextlib
import errno
import os
import sys
from pathlib import Path

if sys.platform == "win32":
    import msvcrt

    def _take(handle: int) -> None:
        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)

    def _give_back(handle: int) -> None:
        os.lseek(handle, 0, os.SEEK_SET)
        msvcrt.locking(handle, msvcrt.LK_UNLCK, 1)
else:
    import fcntl

    def _take(handle: int) -> None:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)

    def _give_back(handle: int) -> None:
        # Closing is not enough: a program that is being started shares the handle for a moment.
        fcntl.flock(handle, fcntl.LOCK_UN)


_HELD_ELSEWHERE = frozenset({errno.EAGAIN, errno.EWOULDBLOCK, errno.EACCES, errno.EDEADLK})
#: Put into the side file once its progress file has been there. The lock covers byte 0 on
#: Windows, where a locked byte cannot be read, so the mark is read before the lock is taken.
_MARK = b"Locked while a Stemline window writes the progress file beside it.\n"


class HeldElsewhereError(Exception):
    """Another process, or another store of this one, holds the lock."""


class FileLock:
    """An exclusive lock, from `acquire` to `release` or to the end of the process."""

    def __init__(self, handle: int, *, marked: bool) -> None:
        self._handle = handle
        #: Whether the lock was held and marked at any time before.
        self.marked = marked

    @classmethod
    def acquire(cls, path: Path) -> FileLock:
        """Take the lock on the side file at `path`, which is made where it is missing.

        Raises `HeldElsewhereError` at once when somebody else has it, and `OSError` when the side
        file cannot be made or locked.
        """
        marked = path.exists() and path.stat().st_size > 0
        handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
        try:
            _take(handle)
        except OSError as error:
            os.close(handle)
            if error.errno in _HELD_ELSEWHERE:
                raise HeldElsewhereError(str(path)) from error
            raise
        return cls(handle, marked=marked)

    def mark(self) -> None:
        """Note in the side file that what it guards has been there. Raises `OSError`."""
        if not self.marked:
            os.lseek(self._handle, 0, os.SEEK_SET)
            os.write(self._handle, _MARK)
            self.marked = True

    def release(self) -> None:
        """Give the lock back. A second call does nothing."""
        if self._handle >= 0:
            with contextlib.suppress(OSError):
                _give_back(self._handle)
            os.close(self._handle)
            self._handle = -1
