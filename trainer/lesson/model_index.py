"""Which structures stood in which games of a reference base, kept in a small file of its own.

The base holds positions by their keys, and a key does not tell where the pawns stand; so its
games are read once more, all of them, and what stood in each is kept for every structure at once.
Nothing here cannot be computed again: a file that is damaged, that belongs to another base or to
other definitions is begun anew, and one that cannot be written is done without.
"""

from __future__ import annotations

import contextlib
import json
import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from hashlib import blake2b
from pathlib import Path
from typing import Final

import chess

from trainer.lesson.standing import stood_in
from trainer.lesson.structures import StructureBook

#: Half-moves of a game that are looked at: later there are seldom enough pawns for a name.
PLIES: Final = 80
#: Half-moves that a structure must stand for a game to be a model of it.
STANDS: Final = 8
#: The layout of the file; one of another layout is begun anew.
_LAYOUT: Final = 1
_TABLES: Final = """
CREATE TABLE meta (layout INTEGER NOT NULL, book TEXT NOT NULL, history TEXT NOT NULL);
CREATE TABLE files (
    path TEXT PRIMARY KEY, after INTEGER NOT NULL, done INTEGER NOT NULL, games INTEGER NOT NULL);
CREATE TABLE structures (id INTEGER PRIMARY KEY, key TEXT NOT NULL UNIQUE);
CREATE TABLE stood (
    structure INTEGER NOT NULL, plies INTEGER NOT NULL, game INTEGER NOT NULL,
    since INTEGER NOT NULL, PRIMARY KEY (structure, plies, game)) WITHOUT ROWID;
"""
History = Sequence[tuple[int, int, int, int]]


@dataclass(frozen=True)
class StoodGame:
    """Game `number` of the base: the structure came by the half-move `since` and stood in `plies`
    positions of it."""

    number: int
    plies: int
    since: int


class ModelIndex:
    """The file beside which a base is looked through; for one thread. `close` it in the end."""

    def __init__(self, path: Path | None, book: StructureBook, history: History) -> None:
        """Open the file at `path`, made where it is missing; None keeps nothing beyond memory.

        `history` tells one base from another (`ReferenceBase.history`): a file that was made of
        another base, or with other definitions than those of `book`, is begun anew.
        """
        self._book = book
        self._definitions = _digest(book)
        self._history = [list(one) for one in history]
        self._connection = self._open(path)
        self._numbers: dict[str, int] = {
            key: number
            for number, key in self._connection.execute("SELECT id, key FROM structures")
        }

    def close(self) -> None:
        """Close the file."""
        self._connection.close()

    def __enter__(self) -> ModelIndex:
        return self

    def __exit__(self, *_error: object) -> None:
        self.close()

    # -- opening -----------------------------------------------------------------------------

    def _open(self, path: Path | None) -> sqlite3.Connection:
        if path is not None:
            with contextlib.suppress(OSError, sqlite3.Error):
                path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
                return self._usable(path)
        return self._prepared(sqlite3.connect(":memory:", isolation_level=None))

    def _usable(self, path: Path) -> sqlite3.Connection:
        """The file where it can go on, else a new one in its place."""
        if path.exists():
            connection = sqlite3.connect(path, isolation_level=None, timeout=1.0)
            with contextlib.suppress(sqlite3.Error, ValueError, TypeError):
                if self._goes_on(connection):
                    return _unsafe(connection)
            connection.close()
            path.unlink()
        return self._prepared(_unsafe(sqlite3.connect(path, isolation_level=None)))

    def _goes_on(self, connection: sqlite3.Connection) -> bool:
        layout, book, text = connection.execute("SELECT * FROM meta").fetchone()
        known = json.loads(text)
        if (layout, book) != (_LAYOUT, self._definitions) or (
            self._history[: len(known)] != known
        ):
            return False
        if known != self._history:
            connection.execute("UPDATE meta SET history = ?", (json.dumps(self._history),))
        return True

    def _prepared(self, connection: sqlite3.Connection) -> sqlite3.Connection:
        connection.executescript(f"BEGIN;{_TABLES}COMMIT;")
        values = (_LAYOUT, self._definitions, json.dumps(self._history))
        connection.execute("INSERT INTO meta VALUES (?, ?, ?)", values)
        return connection

    # -- putting in --------------------------------------------------------------------------

    def begin(self) -> dict[str, tuple[int, int]]:
        """What was looked at of each file, as `whole_base` wants it."""
        rows = self._connection.execute("SELECT path, after, done FROM files")
        return {path: (after, done) for path, after, done in rows}

    def take(
        self,
        path: Path,
        after: int,
        done: int,
        games: Iterable[tuple[int, Iterable[chess.Move]]],
    ) -> None:
        """Look at some games of a file, given by number and moves, and keep what stood in them.

        All of it or nothing is in the file, should the program end here.
        """
        rows: list[tuple[int, int, int, int]] = []
        count = 0
        for number, moves in games:
            count += 1
            rows.extend(
                (self._number(one.found.key), one.plies, number, one.since)
                for one in stood_in(moves, self._book)
                if one.plies >= STANDS
            )
        looked = (str(path), after, done, count)
        try:
            _put(self._connection, looked, rows)
        except sqlite3.Error:
            # A full disk: what was found until now goes on in memory.
            with contextlib.suppress(sqlite3.Error):
                self._connection.execute("ROLLBACK")
            self._connection = _in_memory(self._connection)
            _put(self._connection, looked, rows)

    def _number(self, key: str) -> int:
        number = self._numbers.get(key)
        if number is None:
            number = self._numbers[key] = len(self._numbers) + 1
            self._connection.execute("INSERT INTO structures VALUES (?, ?)", (number, key))
        return number

    # -- asking ------------------------------------------------------------------------------

    def looked(self) -> int:
        """How many games were looked at."""
        (count,) = self._connection.execute("SELECT coalesce(sum(games), 0) FROM files").fetchone()
        return int(count)

    def count(self, key: str) -> int:
        """In how many of them the structure stood for long."""
        (count,) = self._connection.execute(
            "SELECT count(*) FROM stood WHERE structure = ?", (self._numbers.get(key, 0),)
        ).fetchone()
        return int(count)

    def best(self, key: str, most: int) -> list[StoodGame]:
        """Games with the structure, at most so many, those in which it stood longest first."""
        rows = self._connection.execute(
            "SELECT game, plies, since FROM stood WHERE structure = ? "
            "ORDER BY plies DESC, game DESC LIMIT ?",
            (self._numbers.get(key, 0), most),
        )
        return [StoodGame(*row) for row in rows]

    def counts(self) -> dict[str, int]:
        """In how many games each structure stood for long, by its key."""
        rows = self._connection.execute("SELECT structure, count(*) FROM stood GROUP BY structure")
        by_number = {number: key for key, number in self._numbers.items()}
        return {by_number[number]: count for number, count in rows}


def index_file(folder: Path, base: Path) -> Path:
    """The name of the file for the base at `base` in the cache folder."""
    place = str(base.resolve()).encode("utf-8", "surrogateescape")
    return folder / "structures" / f"{blake2b(place, digest_size=10).hexdigest()}.sqlite"


def _unsafe(connection: sqlite3.Connection) -> sqlite3.Connection:
    # A power cut may cost this file, and then it is made again.
    connection.execute("PRAGMA synchronous = OFF")
    return connection


def _put(
    connection: sqlite3.Connection,
    looked: tuple[str, int, int, int],
    rows: Sequence[tuple[int, int, int, int]],
) -> None:
    """Put in some games of a file, all of them or none. Raises `sqlite3.Error`."""
    connection.execute("BEGIN")
    connection.executemany("INSERT OR REPLACE INTO stood VALUES (?, ?, ?, ?)", rows)
    connection.execute(
        "INSERT INTO files VALUES (?, ?, ?, ?) ON CONFLICT (path) DO UPDATE SET "
        "after = excluded.after, done = excluded.done, games = games + excluded.games",
        looked,
    )
    connection.execute("COMMIT")


def _in_memory(connection: sqlite3.Connection) -> sqlite3.Connection:
    copy = sqlite3.connect(":memory:", isolation_level=None)
    with contextlib.suppress(sqlite3.Error):
        connection.backup(copy)
    connection.close()
    return copy


def _digest(book: StructureBook) -> str:
    return blake2b(repr(list(book)).encode(), digest_size=12).hexdigest()
