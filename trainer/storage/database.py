"""Opening the progress database, and what its errors mean to the user."""

from __future__ import annotations

import os
import sqlite3
from pathlib import Path
from typing import Final

from trainer.errors import ProgressError

#: How long to wait, in seconds, for another connection that is writing at this moment.
_PATIENCE: Final = 5.0

_BAD_DATABASE: Final = frozenset({sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB})
_MEANINGS: Final = {
    sqlite3.SQLITE_FULL: "the disk is full; make room and go on",
    sqlite3.SQLITE_READONLY: "it is write-protected; allow writing or open it to read only",
    sqlite3.SQLITE_IOERR: "the disk reports an error or is full; make room or check the disk",
    sqlite3.SQLITE_CANTOPEN: "it or its folder cannot be opened; check the permissions and that "
    "the disk has room",
    sqlite3.SQLITE_PERM: "access is denied; check the permissions",
    sqlite3.SQLITE_BUSY: "another program is using it; close that program and try again",
    sqlite3.SQLITE_LOCKED: "another program is using it; close that program and try again",
    sqlite3.SQLITE_CORRUPT: "it is damaged; close Stemline and start it again to repair it",
    sqlite3.SQLITE_NOTADB: "it is damaged; close Stemline and start it again to repair it",
    sqlite3.SQLITE_NOMEM: "there is not enough memory; close other programs and try again",
}


def side_file(path: Path, suffix: str) -> Path:
    """A file that goes with the database at `path`, such as its `-wal`."""
    return path.with_name(path.name + suffix)


def _connect(path: Path, how: str) -> sqlite3.Connection:
    """A connection that threads may share; who shares it lets them take turns."""
    return sqlite3.connect(
        f"{path.as_uri()}?{how}",
        uri=True,
        isolation_level=None,
        timeout=_PATIENCE,
        check_same_thread=False,
    )


def connect_writing(path: Path) -> sqlite3.Connection:
    """Open an existing database for writing, each statement its own durable transaction.

    Raises `sqlite3.Error`, also where the file or its folder turn out to be write-protected.
    """
    connection = _connect(path, "mode=rw")
    try:
        connection.execute("PRAGMA journal_mode = WAL")
        # In WAL mode only FULL flushes the log at each commit; NORMAL may lose the last ones.
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("PRAGMA foreign_keys = ON")
        # SQLite opens a write-protected file to read only and complains at the first write;
        # this one is never committed.
        connection.execute("BEGIN IMMEDIATE")
        connection.execute("UPDATE meta SET schema_version = schema_version")
        connection.execute("ROLLBACK")
    except BaseException:
        connection.close()
        raise
    return connection


def connect_reading(path: Path) -> sqlite3.Connection:
    """Open an existing database to read only, beside a writer if there is one.

    Raises `sqlite3.Error`.
    """
    try:
        return _connect_reading(path, "mode=ro")
    except sqlite3.OperationalError:
        # A database in WAL mode needs its side files, which cannot be made on a full or
        # write-protected disk. Without a log there is nothing in them to miss.
        if has_log(path) or not path.is_file():
            raise
        return _connect_reading(path, "mode=ro&immutable=1")


def connect_untouched(path: Path, *, truncated: bool = False) -> sqlite3.Connection:
    """Open a database that nobody else writes, to look at it without a change to any file.

    (Where a log or a journal is left over from a crash its side files are used.) SQLite refuses a
    file that is shorter than it should be, unless it is asked for as possibly `truncated`. Raises
    `sqlite3.Error`.
    """
    how = "mode=ro" if has_log(path) else "mode=ro&immutable=1"
    if _has_content(side_file(path, "-journal")):
        how = "mode=rw"
    return _connect_reading(path, how, truncated=truncated)


def _connect_reading(path: Path, how: str, *, truncated: bool = False) -> sqlite3.Connection:
    connection = _connect(path, how)
    try:
        connection.execute("PRAGMA query_only = ON")
        if truncated:
            connection.execute("PRAGMA writable_schema = ON")
        # The file is opened at the first look only.
        connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
    except BaseException:
        connection.close()
        raise
    return connection


def has_log(path: Path) -> bool:
    """Whether commits may stand in the database's log and not yet in the database."""
    return _has_content(side_file(path, "-wal"))


def _has_content(path: Path) -> bool:
    try:
        return path.stat().st_size > 0
    except OSError:
        return False


def is_damage(error: sqlite3.Error) -> bool:
    """Whether `error` says that the content of the file is bad, and not its surroundings."""
    return _primary_code(error) in _BAD_DATABASE


def _primary_code(error: sqlite3.Error) -> int:
    # The higher bytes of a result code tell kinds of one error apart (SQLite, "Result Codes").
    return getattr(error, "sqlite_errorcode", sqlite3.SQLITE_ERROR) & 0xFF


def progress_error(path: Path, doing: str, error: sqlite3.Error | OSError) -> ProgressError:
    """The sentence for the user when `doing` ("read", "written") failed at `path`."""
    if isinstance(error, OSError):
        meaning = (
            f"{error.strerror or error}; check that the disk has room and may be written, or open "
            "it to read only"
        )
    else:
        meaning = _MEANINGS.get(_primary_code(error), str(error))
    return ProgressError(f"The progress file {path} cannot be {doing}: {meaning}.")


def real_path(path: Path) -> Path:
    """The file that `path` leads to: a lock and the side files belong beside the file itself."""
    return Path(os.path.realpath(path))
