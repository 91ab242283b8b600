"""The schema of the progress file, and the steps from each older one to it.

A released schema never changes. A new one gets the next number, a step from the one before, and
an archived file of the one before under `tests/data`, on which the step is tested.
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
from collections.abc import Callable, Mapping
from pathlib import Path

from trainer.storage.atomic import flush_directory

SCHEMA_VERSION = 2

#: Takes an open database from the version under which it is listed to the next.
Step = Callable[[sqlite3.Connection], None]

#: What the player wrote on pairs of positions that look alike; of their keys the lower is first.
_PAIR_NOTES = """CREATE TABLE pair_notes (
        repertoire_id INTEGER NOT NULL REFERENCES repertoires (id),
        lower_key INTEGER NOT NULL,
        higher_key INTEGER NOT NULL CHECK (lower_key < higher_key),
        note TEXT NOT NULL,
        at INTEGER NOT NULL,
        PRIMARY KEY (repertoire_id, lower_key, higher_key)
    )"""


def _add_pair_notes(connection: sqlite3.Connection) -> None:
    connection.execute(_PAIR_NOTES)


#: By the version that each step starts from.
STEPS: Mapping[int, Step] = {1: _add_pair_notes}


#: The answers are a log: rows are added and never changed, so what memory says can always be
#: computed again. Keys are signed 64-bit, moments are milliseconds since 1970 in UTC.
SCHEMA = (
    "CREATE TABLE meta (schema_version INTEGER NOT NULL)",
    f"INSERT INTO meta VALUES ({SCHEMA_VERSION})",
    # A side is 1 for White, 0 for Black, and NULL where only answers could be rescued. A path is
    # text, or bytes where the name of the file is not UTF-8.
    """CREATE TABLE repertoires (
        id INTEGER PRIMARY KEY,
        path BLOB NOT NULL,
        side INTEGER CHECK (side IN (0, 1)),
        UNIQUE (path, side)
    )""",
    """CREATE TABLE sessions (
        id INTEGER PRIMARY KEY,
        repertoire_id INTEGER NOT NULL REFERENCES repertoires (id),
        started INTEGER NOT NULL,
        minutes INTEGER NOT NULL,
        ended INTEGER,
        summary TEXT NOT NULL DEFAULT '{}'
    )""",
    """CREATE TABLE answers (
        id INTEGER PRIMARY KEY,
        repertoire_id INTEGER NOT NULL REFERENCES repertoires (id),
        key INTEGER NOT NULL CHECK (typeof(key) = 'integer'),
        move TEXT NOT NULL,
        played TEXT NOT NULL,
        grade TEXT CHECK (grade IN ('clean', 'slow', 'hinted', 'missed')),
        kind TEXT NOT NULL CHECK (kind IN (
            'drill', 'repeat', 'stranger_noticed', 'stranger_unnoticed', 'false_alarm',
            'skipped', 'game', 'retraction')),
        at INTEGER NOT NULL CHECK (typeof(at) = 'integer'),
        seconds REAL NOT NULL CHECK (seconds >= 0),
        session_id INTEGER NOT NULL,
        entered_from INTEGER,
        entered_by TEXT,
        hints INTEGER NOT NULL CHECK (hints >= 0),
        retracts INTEGER
    )""",
    "CREATE INDEX answers_by_position ON answers (repertoire_id, key)",
    "CREATE UNIQUE INDEX retractions ON answers (retracts) WHERE retracts IS NOT NULL",
    """CREATE TRIGGER answers_stay BEFORE DELETE ON answers
    BEGIN SELECT RAISE (ABORT, 'an answer is never deleted'); END""",
    """CREATE TRIGGER answers_stand BEFORE UPDATE ON answers
    BEGIN SELECT RAISE (ABORT, 'an answer is never changed'); END""",
    """CREATE TABLE flags (
        repertoire_id INTEGER NOT NULL REFERENCES repertoires (id),
        key INTEGER NOT NULL,
        note TEXT NOT NULL,
        at INTEGER NOT NULL,
        PRIMARY KEY (repertoire_id, key)
    )""",
    # The memory model's parameters, as a JSON list. Repertoire 0 stands for all repertoires.
    """CREATE TABLE parameters (
        repertoire_id INTEGER PRIMARY KEY,
        numbers TEXT NOT NULL,
        at INTEGER NOT NULL
    )""",
    _PAIR_NOTES,
)

_FIRST_TABLES = frozenset({"meta", "repertoires", "sessions", "answers", "flags", "parameters"})
#: The tables that each later version has brought.
_NEW_TABLES: Mapping[int, frozenset[str]] = {2: frozenset({"pair_notes"})}


def tables_of(version: int) -> frozenset[str]:
    """The tables that a progress file of this version holds."""
    brought = (tables for since, tables in _NEW_TABLES.items() if since <= version)
    return _FIRST_TABLES.union(*brought)


TABLES = tables_of(SCHEMA_VERSION)


def create_schema(connection: sqlite3.Connection) -> None:
    """Lay down the present schema in an empty database. Call it inside a transaction."""
    for statement in SCHEMA:
        connection.execute(statement)


def read_version(connection: sqlite3.Connection) -> int | None:
    """The schema version of an open database, or None where it is no progress file."""
    tables = {name for (name,) in connection.execute("SELECT name FROM sqlite_master")}
    if "meta" not in tables:
        return None
    row = connection.execute("SELECT schema_version FROM meta").fetchone()
    return row[0] if row is not None and isinstance(row[0], int) and row[0] > 0 else None


def upgrade(
    path: Path,
    version: int,
    *,
    steps: Mapping[int, Step] = STEPS,
    target: int = SCHEMA_VERSION,
) -> Path | None:
    """Bring the database at `path` from `version` to `target`, all steps or none.

    A copy of the file as it was is made first, as `<name>.v<version>.bak`, and its path is
    returned; None when there was nothing to do. Raises `sqlite3.Error` or `OSError` with the
    database as it was.
    """
    if version >= target:
        return None
    with contextlib.closing(sqlite3.connect(path, isolation_level=None)) as connection:
        backup = copy_database(connection, path.with_name(f"{path.name}.v{version}.bak"))
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("BEGIN IMMEDIATE")
        try:
            for number in range(version, target):
                steps[number](connection)
            connection.execute("UPDATE meta SET schema_version = ?", (target,))
        except BaseException:
            connection.execute("ROLLBACK")
            raise
        connection.execute("COMMIT")
    return backup


def copy_database(connection: sqlite3.Connection, copy: Path) -> Path:
    """Write all that is committed in `connection` to a file of its own, in one step.

    Raises `sqlite3.Error` or `OSError`, and then an older file at `copy` is as it was.
    """
    temporary = copy.with_name(f"{copy.name}.tmp")
    temporary.unlink(missing_ok=True)
    try:
        with contextlib.closing(sqlite3.connect(temporary)) as other:
            connection.backup(other)
        with temporary.open("rb+") as file:
            os.fsync(file.fileno())
        temporary.replace(copy)
    finally:
        temporary.unlink(missing_ok=True)
    flush_directory(copy.parent)
    return copy
