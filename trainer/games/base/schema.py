"""The tables of a reference base, and opening one.

One SQLite file. `games` has a row a game, `names` its players and events. A position that more
than `MOST_IN_BUCKET` games reached has a row in `totals` (an array of `TOTAL`, one entry a move)
and its visits in `visits`, in pieces, a new one for each import. All other positions, which are
nearly all, lie in `buckets`: one row holds those whose keys agree in their first bits.

Game numbers rise with the moment of the game within one import, so games earlier than a moment
are those below a number in each import. Keys are signed, as SQLite stores integers.
"""

from __future__ import annotations

import contextlib
import sqlite3
import struct
from pathlib import Path
from typing import Final

import numpy as np

from trainer.games.base.faults import BaseFileError, base_error
from trainer.storage.database import connect_reading

APPLICATION_ID: Final = 0x53544C42
SCHEMA_VERSION: Final = 1
#: Positions that this many games or fewer reached share a row with others.
MOST_IN_BUCKET: Final = 8
#: Visits in one row of the table of that name.
VISITS_IN_ROW: Final = 4096

#: What is summed up of one move in one position; `first` is the number of its stem game.
TOTAL: Final = np.dtype(
    [
        ("code", "<u2"),
        ("games", "<u4"),
        ("white", "<u4"),
        ("draws", "<u4"),
        ("black", "<u4"),
        ("ratings", "<u4"),
        ("rating_sum", "<u8"),
        ("last_year", "<u2"),
        ("first", "<u4"),
        ("first_moment", "<i8"),
    ]
)
#: The same for single rows, which `struct` reads in half the time that numpy needs.
TOTAL_ROW: Final = struct.Struct("<HIIIIIQHIq")
#: One game at one position: `code` is four times the code of its next move plus its result.
VISIT: Final = np.dtype([("key", "<i8"), ("game", "<u4"), ("code", "<u2")])

_TABLES: Final = """
CREATE TABLE meta (plies INTEGER NOT NULL, bits INTEGER NOT NULL, positions INTEGER NOT NULL);
CREATE TABLE imports (first INTEGER PRIMARY KEY, last INTEGER NOT NULL);
CREATE TABLE sources (
    id INTEGER PRIMARY KEY, path TEXT NOT NULL UNIQUE, size INTEGER NOT NULL,
    mark BLOB NOT NULL, last_start INTEGER NOT NULL, last_line INTEGER NOT NULL,
    games INTEGER NOT NULL);
CREATE TABLE tallies (
    source INTEGER NOT NULL, kind TEXT NOT NULL, count INTEGER NOT NULL,
    PRIMARY KEY (source, kind)) WITHOUT ROWID;
CREATE TABLE faults (
    source INTEGER NOT NULL, game INTEGER NOT NULL, line INTEGER NOT NULL,
    kind TEXT NOT NULL, reason TEXT NOT NULL, PRIMARY KEY (source, game)) WITHOUT ROWID;
CREATE TABLE names (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE);
CREATE TABLE games (
    id INTEGER PRIMARY KEY, content INTEGER NOT NULL, moment INTEGER NOT NULL,
    white INTEGER NOT NULL, black INTEGER NOT NULL, event INTEGER NOT NULL,
    white_rating INTEGER NOT NULL, black_rating INTEGER NOT NULL, result INTEGER NOT NULL,
    source INTEGER NOT NULL, place INTEGER NOT NULL);
CREATE TABLE buckets (id INTEGER PRIMARY KEY, data BLOB NOT NULL);
CREATE TABLE totals (key INTEGER PRIMARY KEY, data BLOB NOT NULL);
CREATE TABLE visits (
    key INTEGER NOT NULL, first INTEGER NOT NULL, last INTEGER NOT NULL,
    count INTEGER NOT NULL, data BLOB NOT NULL, PRIMARY KEY (key, first)) WITHOUT ROWID;
"""
#: Made when the games are in, which is faster.
GAMES_INDEX: Final = "CREATE INDEX IF NOT EXISTS games_by_content ON games (content)"


def create(path: Path, plies: int, bits: int) -> sqlite3.Connection:
    """A new base at `path`, for one writer that nobody reads beside. Raises `sqlite3.Error`."""
    connection = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
    try:
        # A base that is not finished is thrown away, so nothing in it needs to be safe yet.
        for pragma in ("journal_mode = OFF", "synchronous = OFF", "cache_size = -65536"):
            connection.execute(f"PRAGMA {pragma}")
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.execute(f"PRAGMA user_version = {SCHEMA_VERSION}")
        connection.executescript(_TABLES)
        connection.execute("INSERT INTO meta VALUES (?, ?, 0)", (plies, bits))
    except BaseException:
        connection.close()
        raise
    return connection


def open_to_write(path: Path) -> sqlite3.Connection:
    """An existing base, to add games in transactions. Raises `BaseFileError`."""
    try:
        connection = sqlite3.connect(
            f"{path.absolute().as_uri()}?mode=rw",
            uri=True,
            isolation_level=None,
            check_same_thread=False,
        )
        try:
            check(connection, path)
            connection.execute("PRAGMA synchronous = FULL")
            connection.execute("PRAGMA cache_size = -65536")
        except BaseException:
            connection.close()
            raise
    except sqlite3.Error as error:
        raise base_error(path, "written", error) from error
    return connection


def let_readers_go_on(connection: sqlite3.Connection) -> None:
    """From now on readers see the old state while a transaction writes the new one."""
    connection.execute("PRAGMA journal_mode = WAL")


def leave_one_file(connection: sqlite3.Connection) -> None:
    """Do without side files again, unless somebody reads at this moment."""
    connection.execute("PRAGMA busy_timeout = 0")
    with contextlib.suppress(sqlite3.OperationalError):
        connection.execute("PRAGMA journal_mode = DELETE")


def open_to_read(path: Path) -> sqlite3.Connection:
    """An existing base, to be asked from any thread. Raises `BaseFileError`."""
    if not path.is_file():
        raise BaseFileError(f"There is no reference base {path}; build it with “stemline base”.")
    try:
        connection = connect_reading(path.absolute())
        try:
            check(connection, path)
        except BaseException:
            connection.close()
            raise
    except sqlite3.Error as error:
        raise base_error(path, "read", error) from error
    return connection


def check(connection: sqlite3.Connection, path: Path) -> None:
    """Raises `BaseFileError` where the file is no base, or one of a newer program."""
    (application,) = connection.execute("PRAGMA application_id").fetchone()
    (version,) = connection.execute("PRAGMA user_version").fetchone()
    if application != APPLICATION_ID:
        raise BaseFileError(f"{path} is no reference base; choose another file.")
    if version > SCHEMA_VERSION:
        raise BaseFileError(
            f"The reference base {path} was built by a newer Stemline; use that one, or build it "
            "again."
        )
