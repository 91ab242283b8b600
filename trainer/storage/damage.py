"""A damaged progress file: found, kept aside, and what it still holds carried over."""

from __future__ import annotations

import contextlib
import os
import shutil
import sqlite3
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

from trainer.storage.atomic import flush_directory
from trainer.storage.database import connect_untouched, is_damage, side_file
from trainer.storage.migrations import SCHEMA_VERSION, create_schema, read_version, tables_of
from trainer.storage.rows import ANSWER_COLUMNS, INSERT_ANSWER, answer_of

_LOG_SUFFIXES = ("-wal", "-shm", "-journal")


class DamagedFileError(Exception):
    """The file is no progress file, or no longer a sound one."""


def inspect(path: Path) -> int:
    """The schema version of the sound progress file at `path`, which nobody else may write.

    Raises `DamagedFileError` when it is not sound, `sqlite3.Error` when it cannot be looked at.
    Of a version newer than ours nothing but the number is looked at.
    """
    if path.stat().st_size == 0:
        raise DamagedFileError("it is empty")
    try:
        with contextlib.closing(connect_untouched(path)) as connection:
            version = read_version(connection)
            if version is None:
                raise DamagedFileError("it is not a progress file")
            if version <= SCHEMA_VERSION:
                _check(connection, tables_of(version))
            return version
    except sqlite3.DatabaseError as error:
        if is_damage(error):
            raise DamagedFileError(str(error)) from error
        raise


def _check(connection: sqlite3.Connection, wanted: frozenset[str]) -> None:
    tables = {name for (name,) in connection.execute("SELECT name FROM sqlite_master")}
    if not tables >= wanted:
        raise DamagedFileError(f"tables are missing: {', '.join(sorted(wanted - tables))}")
    (first,) = connection.execute("PRAGMA quick_check(1)").fetchone()
    if first != "ok":
        raise DamagedFileError(str(first))


def build(path: Path, damaged: Path | None = None) -> int:
    """Make a new progress file at `path`, in one step, with what can be read from `damaged`.

    Returns the number of answers carried over. Raises `sqlite3.Error` or `OSError` with no file
    made.
    """
    temporary = side_file(path, ".new")
    _remove_database(temporary)
    try:
        with contextlib.closing(sqlite3.connect(temporary, isolation_level=None)) as connection:
            connection.execute("PRAGMA journal_mode = WAL")
            connection.execute("PRAGMA synchronous = FULL")
            connection.execute("BEGIN IMMEDIATE")
            create_schema(connection)
            count = 0 if damaged is None else _carry_over(damaged, connection)
            connection.execute("COMMIT")
        # Closing wrote the log back into the file, so that the file alone is the database.
        if damaged is not None:
            _drop_log(damaged)
        temporary.replace(path)
    finally:
        _remove_database(temporary)
    flush_directory(path.parent)
    return count


def replace_damaged(path: Path, now: datetime) -> tuple[Path, int]:
    """Keep the damaged file at `path` aside and put a new one in its place.

    Returns where the damaged one is kept and the number of answers that were carried over. At
    no moment is neither of them there. Raises `sqlite3.Error` or `OSError`.
    """
    kept = _free_name(path, f".damaged-{now:%Y%m%d-%H%M%S}")
    try:
        _copy(path, kept)
        for suffix in _LOG_SUFFIXES:
            if side_file(path, suffix).exists():
                _copy(side_file(path, suffix), side_file(kept, suffix))
        return kept, build(path, damaged=path)
    except BaseException:
        _remove_database(kept)
        raise


def set_log_aside(path: Path, now: datetime) -> Path | None:
    """Keep aside the log of a database that is itself gone; None where there is none.

    SQLite would delete it, or worse, apply it to the new file. Raises `OSError`.
    """
    log = side_file(path, "-wal")
    if not log.exists() or log.stat().st_size == 0:
        _drop_log(path)
        return None
    kept = side_file(_free_name(path, f".damaged-{now:%Y%m%d-%H%M%S}"), "-wal")
    log.replace(kept)
    _drop_log(path)
    return kept


def _free_name(path: Path, suffix: str) -> Path:
    candidate = side_file(path, suffix)
    number = 1
    while candidate.exists() or side_file(candidate, "-wal").exists():
        number += 1
        candidate = side_file(path, f"{suffix}-{number}")
    return candidate


def _copy(source: Path, target: Path) -> None:
    try:
        os.link(source, target)
    except OSError:
        shutil.copy2(source, target)


def _drop_log(path: Path) -> None:
    for suffix in _LOG_SUFFIXES:
        side_file(path, suffix).unlink(missing_ok=True)


def _remove_database(path: Path) -> None:
    path.unlink(missing_ok=True)
    _drop_log(path)


# -- carrying over -------------------------------------------------------------------------------


def _carry_over(damaged: Path, target: sqlite3.Connection) -> int:
    """Insert into `target` each row of the damaged file that can still be read and makes sense."""
    try:
        source = connect_untouched(damaged, truncated=True)
    except sqlite3.Error:
        return 0
    with contextlib.closing(source):
        # Text that is no longer UTF-8 is for the checks of each row, not the end of reading.
        source.text_factory = lambda text: text.decode("utf-8", "replace")
        for table, columns in (
            ("repertoires", "id, path, side"),
            ("sessions", "id, repertoire_id, started, minutes, ended, summary"),
            ("flags", "repertoire_id, key, note, at"),
            ("parameters", "repertoire_id, numbers, at"),
            ("pair_notes", "repertoire_id, lower_key, higher_key, note, at"),
        ):
            marks = ", ".join("?" for _ in columns.split(", "))
            insert = f"INSERT INTO {table} ({columns}) VALUES ({marks})"
            for row in _readable_rows(source, table, columns):
                if table in ("sessions", "flags", "pair_notes"):
                    _make_sure_of_repertoire(target, row[1 if table == "sessions" else 0])
                with contextlib.suppress(sqlite3.IntegrityError):
                    target.execute(insert, row)
        return _carry_over_answers(source, target)


def _carry_over_answers(source: sqlite3.Connection, target: sqlite3.Connection) -> int:
    for row in _readable_rows(source, "answers", ANSWER_COLUMNS):
        try:
            answer = answer_of(row)
        except (ValueError, TypeError, OverflowError):
            continue
        _make_sure_of_repertoire(target, answer.repertoire_id)
        with contextlib.suppress(sqlite3.IntegrityError):
            target.execute(INSERT_ANSWER, row)
    # A retraction whose answer is lost takes back nothing.
    (count,) = target.execute("SELECT count(*) FROM answers WHERE kind <> 'retraction'").fetchone()
    return int(count)


def _make_sure_of_repertoire(target: sqlite3.Connection, number: object) -> None:
    """Where only answers to a repertoire are left, its file is found again by its positions."""
    with contextlib.suppress(sqlite3.IntegrityError):
        target.execute(
            "INSERT OR IGNORE INTO repertoires (id, path, side) VALUES (?, '', NULL)", (number,)
        )


def _readable_rows(
    source: sqlite3.Connection, table: str, columns: str
) -> Iterator[tuple[object, ...]]:
    """The rows of `table` from the front up to the damage, then from the back down to it."""
    last = -(1 << 63)
    for order, beyond in (("ASC", ">="), ("DESC", ">")):
        query = (
            f"SELECT rowid, {columns} FROM {table} WHERE rowid {beyond} ? ORDER BY rowid {order}"
        )
        try:
            for row in source.execute(query, (last,)):
                if order == "ASC":
                    last = row[0]
                yield row[1:]
        except sqlite3.DatabaseError:
            continue
        else:
            return
