"""Replacing a file so that the old or the new content is there, whenever the machine stops.

The order is the one that POSIX gives meaning to: write a temporary file beside the target, flush
it to the disk, rename it over the target, flush the directory. A reader sees the old file or the
new one and never half of either.
"""

from __future__ import annotations

import contextlib
import errno
import os
import shutil
import stat
from pathlib import Path

#: What a file system answers that cannot flush a directory, or does not let us open one to do it.
_NO_DIRECTORY_FLUSH = frozenset(
    {errno.EINVAL, errno.ENOTSUP, errno.EOPNOTSUPP, errno.EBADF, errno.EACCES, errno.EPERM}
    | {errno.EISDIR}
)


def write_atomically(path: Path, data: bytes, *, keep_backup: bool = False) -> None:
    """Put `data` into the file at `path`, as one step, and on the disk before returning.

    A symbolic link is followed: the file it points to is replaced and the link stays. The mode
    of a file that is replaced is kept. With `keep_backup` the file that was there before stays
    beside the new one as `<name>.bak` (itself replaced in one step); nothing is kept where there
    was no file.

    Raises `OSError` with nothing changed and no temporary file left behind: among others
    `PermissionError` when the file may not be written, `IsADirectoryError`, or `EINVAL` when the
    path names something that is not a file, such as a pipe. Only where flushing the directory
    itself reports a fault of the disk is the new file in place already.
    """
    target = Path(os.path.realpath(path))
    before = _state_of(target)
    temporary = _beside(target)
    try:
        _write_new(temporary, data, before)
        if keep_backup and before is not None:
            _back_up(target)
        temporary.replace(target)
    except BaseException:
        _remove(temporary)
        raise
    flush_directory(target.parent)


def flush_directory(directory: Path) -> None:
    """Make renames in `directory` last through a power cut, where the file system can do that.

    Raises `OSError` when the disk reports a fault.
    """
    try:
        handle = os.open(directory, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
    except OSError as error:
        if error.errno not in _NO_DIRECTORY_FLUSH:
            raise


def _state_of(target: Path) -> os.stat_result | None:
    """What is at `target` now (None: nothing), or `OSError` when it must not be replaced."""
    try:
        state = target.stat()
    except FileNotFoundError:
        return None
    if stat.S_ISDIR(state.st_mode):
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR), str(target))
    if not stat.S_ISREG(state.st_mode):
        raise OSError(errno.EINVAL, "not a regular file", str(target))
    # A rename needs no right to the file itself, but who write-protects a file means it.
    if not os.access(target, os.W_OK):
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(target))
    return state


def _beside(target: Path) -> Path:
    """A name for a temporary file in the same directory, whatever the length of the target's."""
    return target.with_name(f".stemline-{os.urandom(8).hex()}.tmp")


def _write_new(temporary: Path, data: bytes, before: os.stat_result | None) -> None:
    """Make `temporary` with `data` in it, flushed, with the mode and owner of `before`."""
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    # 0o666 is cut down by the umask, as for any new file; `mkstemp` would make it private.
    with os.fdopen(os.open(temporary, flags, 0o666), "wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
    if before is not None:
        if hasattr(os, "chown"):
            with contextlib.suppress(OSError):
                os.chown(temporary, before.st_uid, before.st_gid)
        temporary.chmod(stat.S_IMODE(before.st_mode))


def _back_up(target: Path) -> None:
    """Give the present content of `target` the name `<name>.bak` as well."""
    temporary = _beside(target)
    try:
        try:
            os.link(target, temporary)
        except OSError:
            shutil.copy2(target, temporary)
            with temporary.open("rb+") as file:
                os.fsync(file.fileno())
        temporary.replace(target.with_name(f"{target.name}.bak"))
    finally:
        # Gone after the rename, except where both names were one file already: POSIX then
        # leaves both (after a stop between the backup and the final rename).
        _remove(temporary)


def _remove(temporary: Path) -> None:
    with contextlib.suppress(OSError):
        temporary.unlink(missing_ok=True)
