"""From whatever lies at the path to an open progress database, and a sentence on what was done."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from trainer.errors import ProgressError, ProgressLockedError
from trainer.storage.damage import (
    DamagedFileError,
    build,
    inspect,
    replace_damaged,
    set_log_aside,
)
from trainer.storage.database import (
    connect_reading,
    connect_writing,
    is_damage,
    progress_error,
    side_file,
)
from trainer.storage.locations import make_directory
from trainer.storage.lock import FileLock, HeldElsewhereError
from trainer.storage.migrations import SCHEMA_VERSION, create_schema, read_version, upgrade


@dataclass
class Opened:
    """An open database, the lock that protects it (None to read only), and what to tell."""

    connection: sqlite3.Connection
    lock: FileLock | None
    notice: str | None


def open_for_writing(path: Path, now: datetime) -> Opened:
    """Open the progress file at `path`, made, repaired or upgraded where that is needed.

    Raises `ProgressLockedError` when another window writes it, else `ProgressError`.
    """
    make_directory(path.parent, ProgressError)
    lock = _lock(path)
    try:
        notice = _prepare(path, now, was_there=lock.marked)
        connection = connect_writing(path)
        lock.mark()
    except (sqlite3.Error, OSError) as error:
        lock.release()
        raise progress_error(path, "opened for writing", error) from error
    except BaseException:
        lock.release()
        raise
    return Opened(connection, lock, notice)


def open_for_reading(path: Path) -> Opened:
    """Open the progress file at `path` to look at it; nothing at all where there is no file.

    Raises `ProgressError`.
    """
    if not path.exists():
        memory = sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False)
        create_schema(memory)
        memory.execute("PRAGMA query_only = ON")
        return Opened(memory, None, f"There is no progress file at {path} to read yet.")
    try:
        connection = connect_reading(path)
        try:
            version = read_version(connection)
        except BaseException:
            connection.close()
            raise
    except sqlite3.Error as error:
        if is_damage(error):
            raise _damaged_for_reader(path) from error
        raise progress_error(path, "read", error) from error
    if version == SCHEMA_VERSION:
        return Opened(connection, None, None)
    connection.close()
    if version is None:
        raise _damaged_for_reader(path)
    if version > SCHEMA_VERSION:
        raise _too_new(path, version)
    raise ProgressError(
        f"The progress file {path} was written by an older Stemline; open it for writing once, "
        "which brings it up to date."
    )


def _lock(path: Path) -> FileLock:
    try:
        return FileLock.acquire(side_file(path, ".lock"))
    except HeldElsewhereError as error:
        raise ProgressLockedError(
            f"Another Stemline window is using the progress file {path}; close that window, or "
            "open this one to read only."
        ) from error
    except OSError as error:
        raise progress_error(path, "opened for writing", error) from error


def _prepare(path: Path, now: datetime, *, was_there: bool) -> str | None:
    """Make the file at `path` a sound one of the present version; what to tell the user."""
    if not path.exists():
        log = set_log_aside(path, now)
        build(path)
        if log is not None:
            return (
                f"The progress file {path} was missing but not its log, which is kept as "
                f"{log.name}; a new, empty one was started."
            )
        if was_there:
            return (
                f"The progress file {path} is missing and a new, empty one was started; if you "
                "moved it, close Stemline and put it back."
            )
        return None
    try:
        version = inspect(path)
    except DamagedFileError as damage:
        kept, count = replace_damaged(path, now)
        return _damage_notice(path, kept, count, str(damage))
    if version > SCHEMA_VERSION:
        raise _too_new(path, version)
    backup = upgrade(path, version)
    if backup is None:
        return None
    return (
        f"The progress file {path} was brought up to date for this Stemline; as it was, it is "
        f"kept as {backup.name}."
    )


def _damage_notice(path: Path, kept: Path, count: int, reason: str) -> str:
    rescued = (
        "a new, empty one was started"
        if count == 0
        else f"a new one was started with the {count:,} "
        + ("answer" if count == 1 else "answers")
        + " that could still be read"
    )
    return (
        f"The progress file {path} was damaged ({reason}) and is kept as {kept.name}; {rescued}."
    )


def _damaged_for_reader(path: Path) -> ProgressError:
    return ProgressError(
        f"The progress file {path} is damaged; open it for writing, which keeps it aside and "
        "carries over what can be read."
    )


def _too_new(path: Path, version: int) -> ProgressError:
    return ProgressError(
        f"The progress file {path} was written by a newer Stemline (its version is {version}, "
        f"this one knows {SCHEMA_VERSION}); it was left as it is, please update Stemline."
    )
