"""The player's progress: every answer he gave, in one SQLite file for all his repertoires."""

from __future__ import annotations

import contextlib
import json
import sqlite3
import threading
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import chess

from trainer.errors import ProgressError
from trainer.position import signed_key, unsigned_key
from trainer.storage.answers import Answer, AnswerKind, from_milliseconds, to_milliseconds
from trainer.storage.database import progress_error, real_path
from trainer.storage.moved import find_moved
from trainer.storage.opening import Opened, open_for_reading, open_for_writing
from trainer.storage.records import (
    DrillSession,
    Flag,
    KnownRepertoire,
    PairNote,
    path_at,
    place_of,
)
from trainer.storage.rows import ANSWER_COLUMNS, INSERT_ANSWER, answer_of, row_of

_NOT_RETRACTED = (
    "kind <> 'retraction' AND id NOT IN (SELECT retracts FROM answers WHERE retracts IS NOT NULL)"
)
#: Parameters for all repertoires stand under this number.
_ALL_REPERTOIRES = 0


class ProgressStore:
    """An open progress file; close it when done. Threads may share it: they take turns.

    All methods raise `ProgressError`, with the sentence for the user, when the file cannot be
    read or written; what was recorded before is safe then, and the call may be made again when
    the reason is gone. Methods that write raise it as well where the file was opened to read
    only.
    """

    def __init__(
        self, path: Path, opened: Opened, clock: Callable[[], datetime], *, read_only: bool
    ) -> None:
        self.path = path
        self.read_only = read_only
        #: What happened to the file on opening, in one sentence for the user, or None.
        self.notice = opened.notice
        self._connection = opened.connection
        self._lock = opened.lock
        self._clock = clock
        self._turn = threading.RLock()

    @classmethod
    def open(
        cls, path: Path, *, read_only: bool = False, clock: Callable[[], datetime]
    ) -> ProgressStore:
        """Open the progress file at `path`; `clock` gives the time, aware of its zone.

        For writing, a missing file is made, a damaged one is kept aside and replaced by what
        could be read from it, and one of an older version is upgraded; `notice` says so. Only
        one store at a time may write; to read only, a file may be opened beside it and shows
        what was committed.

        Raises `ProgressLockedError` when another window writes the file and `ProgressError` when
        it cannot be opened, among others because a newer version of the program wrote it.
        """
        path = real_path(path)
        opened = open_for_reading(path) if read_only else open_for_writing(path, clock())
        return cls(path, opened, clock, read_only=read_only)

    def close(self) -> None:
        """Close the file and let others write it. A second call does nothing."""
        with self._turn:
            self._connection.close()
        if self._lock is not None:
            self._lock.release()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        self.close()

    # -- answers -----------------------------------------------------------------------------

    def record(self, answer: Answer) -> int:
        """Append `answer`, and return its new id when it is safely on the disk."""
        return self.record_all((answer,))[0]

    def record_all(self, answers: Iterable[Answer]) -> list[int]:
        """Append all `answers`, or none; return their new ids when they are on the disk.

        Raises `ValueError` for a retraction, which `retract` makes.
        """
        rows = []
        for answer in answers:
            if answer.kind is AnswerKind.RETRACTION:
                raise ValueError("an answer is taken back with retract()")
            rows.append(row_of(answer))
        with self._writing() as connection:
            return [_new_id(connection.execute(INSERT_ANSWER, row)) for row in rows]

    def retract(self, answer_id: int) -> int:
        """Append that the answer `answer_id` was a slip, and return the id of the retraction.

        Raises `ProgressError` when there is no such answer or it was taken back already.
        """
        with self._writing() as connection:
            row = connection.execute(
                f"SELECT {ANSWER_COLUMNS} FROM answers WHERE id = ? AND {_NOT_RETRACTED}",
                (answer_id,),
            ).fetchone()
            if row is None:
                raise ProgressError(
                    f"Answer {answer_id} in the progress file {self.path} cannot be taken back: "
                    "there is no such answer, or it was taken back before."
                )
            answer = self._answer(row)
            retraction = Answer(
                repertoire_id=answer.repertoire_id,
                key=answer.key,
                move=answer.move,
                kind=AnswerKind.RETRACTION,
                at=self._clock(),
                session_id=answer.session_id,
                retracts=answer_id,
            )
            return _new_id(connection.execute(INSERT_ANSWER, row_of(retraction)))

    def answers(
        self,
        repertoire_id: int,
        *,
        since: datetime | None = None,
        include_retracted: bool = False,
    ) -> list[Answer]:
        """The answers to a repertoire in the order in which they were recorded.

        With `since`, those given at that time or later. Answers that were taken back, and the
        retractions themselves, are left out unless `include_retracted`.
        """
        return self._select_answers(
            # The plus keeps SQLite from the index by position: this order is that of the table.
            "+repertoire_id = ? AND at >= ?",
            (repertoire_id, -(1 << 63) if since is None else to_milliseconds(since)),
            include_retracted=include_retracted,
        )

    def answers_for(
        self,
        repertoire_id: int,
        key: int,
        move: str | None = None,
        *,
        include_retracted: bool = False,
    ) -> list[Answer]:
        """The answers at one position, or only those for one prepared `move` of it, in order."""
        return self._select_answers(
            "repertoire_id = ? AND key = ? AND (? IS NULL OR move = ?)",
            (repertoire_id, signed_key(key), move, move),
            include_retracted=include_retracted,
        )

    def last_entries(self, repertoire_id: int) -> dict[int, dict[tuple[int, str], datetime]]:
        """When each way into each position was last used.

        By position key: for each (key of the position before, opponent's move in UCI) the time
        of the latest answer that was reached by it.
        """
        found: dict[int, dict[tuple[int, str], datetime]] = {}
        rows = self._select(
            "SELECT key, entered_from, entered_by, max(at) FROM answers "
            f"WHERE +repertoire_id = ? AND entered_from IS NOT NULL AND {_NOT_RETRACTED} "
            "GROUP BY key, entered_from, entered_by",
            (repertoire_id,),
        )
        for key, entered_from, entered_by, at in rows:
            ways = found.setdefault(unsigned_key(key), {})
            ways[unsigned_key(entered_from), entered_by] = from_milliseconds(at)
        return found

    # -- repertoires -------------------------------------------------------------------------

    def identify(self, path: Path, side: chess.Color, decision_keys: Collection[int]) -> int:
        """The id under which progress with the repertoire file at `path` is kept.

        The same path and side have the same id. A new path takes over the id of a repertoire of
        the same side whose file is no longer where it was and at least half of whose answered
        positions (or noted ones, where none was answered) are among `decision_keys`: it was
        moved or renamed. Else the id is new; where the store is open to read only it is 0 then,
        which has no answers.
        """
        place = place_of(real_path(path))
        rows = self._select(
            "SELECT id FROM repertoires WHERE path = ? AND side = ?", (place, int(side))
        )
        if rows:
            return int(rows[0][0])
        moved = find_moved(self._select, side, decision_keys)
        if self.read_only:
            return moved or 0
        with self._writing() as connection:
            if moved is not None:
                connection.execute(
                    "UPDATE repertoires SET path = ?, side = ? WHERE id = ?",
                    (place, int(side), moved),
                )
                return moved
            return _new_id(
                connection.execute(
                    "INSERT INTO repertoires (path, side) VALUES (?, ?)", (place, int(side))
                )
            )

    def repertoires(self) -> list[KnownRepertoire]:
        """All repertoires that were ever identified, oldest first."""
        return [
            KnownRepertoire(number, path_at(place), None if side is None else bool(side))
            for number, place, side in self._select(
                "SELECT id, path, side FROM repertoires ORDER BY id"
            )
        ]

    def known_side(self, path: Path) -> chess.Color | None:
        """The side under which the file at `path` was identified before.

        None where it was not, or under either side.
        """
        rows = self._select(
            "SELECT DISTINCT side FROM repertoires WHERE path = ? AND side IS NOT NULL",
            (place_of(real_path(path)),),
        )
        return bool(rows[0][0]) if len(rows) == 1 else None

    # -- sessions ----------------------------------------------------------------------------

    def begin_session(self, repertoire_id: int, minutes: int) -> int:
        """Note that a sitting begins now, meant to take `minutes`; returns its id."""
        with self._writing() as connection:
            return _new_id(
                connection.execute(
                    "INSERT INTO sessions (repertoire_id, started, minutes) VALUES (?, ?, ?)",
                    (repertoire_id, to_milliseconds(self._clock()), minutes),
                )
            )

    def end_session(
        self, session_id: int, summary: Mapping[str, object], ended: datetime | None = None
    ) -> None:
        """Note that a sitting has ended (now, without `ended`).

        The summary is of values that JSON can hold.
        """
        with self._writing() as connection:
            connection.execute(
                "UPDATE sessions SET ended = ?, summary = ? WHERE id = ?",
                (to_milliseconds(ended or self._clock()), json.dumps(dict(summary)), session_id),
            )

    def sessions(self, repertoire_id: int) -> list[DrillSession]:
        """The sittings with a repertoire, oldest first."""
        rows = self._select(
            "SELECT id, repertoire_id, started, minutes, ended, summary FROM sessions "
            "WHERE repertoire_id = ? ORDER BY id",
            (repertoire_id,),
        )
        return [
            DrillSession(
                id=number,
                repertoire_id=repertoire,
                started=from_milliseconds(started),
                minutes=minutes,
                ended=None if ended is None else from_milliseconds(ended),
                summary=self._json(summary),
            )
            for number, repertoire, started, minutes, ended, summary in rows
        ]

    # -- flags -------------------------------------------------------------------------------

    def flag(self, repertoire_id: int, key: int, note: str = "") -> None:
        """Mark a position to be looked at later; a second note replaces the first."""
        with self._writing() as connection:
            connection.execute(
                "INSERT OR REPLACE INTO flags (repertoire_id, key, note, at) VALUES (?, ?, ?, ?)",
                (
                    repertoire_id,
                    signed_key(key),
                    _storable(note),
                    to_milliseconds(self._clock()),
                ),
            )

    def unflag(self, repertoire_id: int, key: int) -> None:
        """Take the mark off a position, if it has one."""
        with self._writing() as connection:
            connection.execute(
                "DELETE FROM flags WHERE repertoire_id = ? AND key = ?",
                (repertoire_id, signed_key(key)),
            )

    def flags(self, repertoire_id: int) -> list[Flag]:
        """The marked positions of a repertoire, first marked first."""
        rows = self._select(
            "SELECT key, note, at FROM flags WHERE repertoire_id = ? ORDER BY at, rowid",
            (repertoire_id,),
        )
        return [Flag(unsigned_key(key), note, from_milliseconds(at)) for key, note, at in rows]

    # -- what tells two positions apart ------------------------------------------------------

    def tell_apart(self, repertoire_id: int, first: int, second: int, note: str) -> None:
        """Keep what tells the positions with these two keys apart, in place of what was kept.

        An empty `note` takes it away.
        """
        pair = (repertoire_id, *sorted((signed_key(first), signed_key(second))))
        with self._writing() as connection:
            if note:
                connection.execute(
                    "INSERT OR REPLACE INTO pair_notes "
                    "(repertoire_id, lower_key, higher_key, note, at) VALUES (?, ?, ?, ?, ?)",
                    (*pair, _storable(note), to_milliseconds(self._clock())),
                )
            else:
                connection.execute(
                    "DELETE FROM pair_notes "
                    "WHERE repertoire_id = ? AND lower_key = ? AND higher_key = ?",
                    pair,
                )

    def pair_notes(self, repertoire_id: int) -> list[PairNote]:
        """What is kept on the look-alikes of a repertoire, the oldest first."""
        rows = self._select(
            "SELECT lower_key, higher_key, note, at FROM pair_notes WHERE repertoire_id = ? "
            "ORDER BY at, rowid",
            (repertoire_id,),
        )
        return [
            PairNote(unsigned_key(lower), unsigned_key(higher), note, from_milliseconds(at))
            for lower, higher, note, at in rows
        ]

    # -- parameters of the memory model ------------------------------------------------------

    def load_parameters(self, repertoire_id: int | None = None) -> tuple[float, ...] | None:
        """The memory model's parameters for a repertoire.

        Where it has none of its own, or for None, those saved for all repertoires; None where
        there are none either.
        """
        rows = self._select(
            "SELECT numbers FROM parameters WHERE repertoire_id IN (?, ?) "
            "ORDER BY repertoire_id DESC",
            (repertoire_id or _ALL_REPERTOIRES, _ALL_REPERTOIRES),
        )
        return tuple(float(number) for number in self._json(rows[0][0])) if rows else None

    def save_parameters(
        self, parameters: Sequence[float], repertoire_id: int | None = None
    ) -> None:
        """Keep the memory model's parameters for one repertoire, or for all with None."""
        with self._writing() as connection:
            connection.execute(
                "INSERT OR REPLACE INTO parameters (repertoire_id, numbers, at) VALUES (?, ?, ?)",
                (
                    repertoire_id or _ALL_REPERTOIRES,
                    json.dumps([float(number) for number in parameters]),
                    to_milliseconds(self._clock()),
                ),
            )

    # -- the file ----------------------------------------------------------------------------

    def integrity_check(self) -> list[str]:
        """What SQLite finds wrong with the file, every index and reference included."""
        problems = [str(text) for (text,) in self._select("PRAGMA integrity_check")]
        broken = self._select("PRAGMA foreign_key_check")
        return [text for text in problems if text != "ok"] + [
            f"row {row} of {table} belongs to no {parent}" for table, row, parent, _ in broken
        ]

    @contextlib.contextmanager
    def _writing(self) -> Iterator[sqlite3.Connection]:
        """One transaction, committed to the disk at the end, undone by any exception."""
        if self.read_only:
            raise ProgressError(
                f"The progress file {self.path} is open to read only, so nothing is recorded; "
                "close the other Stemline window and start again to record answers."
            )
        with self._turn:
            try:
                self._connection.execute("BEGIN IMMEDIATE")
                yield self._connection
                self._connection.execute("COMMIT")
            except BaseException as error:
                self._undo()
                if isinstance(error, sqlite3.Error):
                    raise progress_error(self.path, "written", error) from error
                raise

    def _undo(self) -> None:
        # SQLite has undone the transaction itself after some errors, a full disk among them.
        with contextlib.suppress(sqlite3.Error):
            if self._connection.in_transaction:
                self._connection.execute("ROLLBACK")

    def _select(self, query: str, values: Sequence[object] = ()) -> list[Any]:
        try:
            with self._turn:
                return self._connection.execute(query, values).fetchall()
        except sqlite3.Error as error:
            raise progress_error(self.path, "read", error) from error

    def _select_answers(
        self, condition: str, values: Sequence[object], *, include_retracted: bool
    ) -> list[Answer]:
        wanted = condition if include_retracted else f"{condition} AND {_NOT_RETRACTED}"
        query = f"SELECT {ANSWER_COLUMNS} FROM answers WHERE {wanted} ORDER BY id"
        try:
            return [self._answer(row) for row in self._connection.execute(query, values)]
        except sqlite3.Error as error:
            raise progress_error(self.path, "read", error) from error

    def _answer(self, row: Sequence[Any]) -> Answer:
        try:
            return answer_of(row)
        except (ValueError, TypeError, OverflowError) as error:
            raise self._unreadable(str(error)) from error

    def _json(self, text: str) -> Any:
        try:
            return json.loads(text)
        except ValueError as error:
            raise self._unreadable(str(error)) from error

    def _unreadable(self, what: str) -> ProgressError:
        return ProgressError(
            f"The progress file {self.path} is damaged ({what}); keep a copy of it and report "
            "this, please."
        )


def _storable(text: str) -> str:
    # A lone surrogate, as a file name may hold, is no text for SQLite.
    return text.encode("utf-8", "replace").decode("utf-8")


def _new_id(cursor: sqlite3.Cursor) -> int:
    assert cursor.lastrowid is not None
    return cursor.lastrowid


def open_as_possible(
    path: Path, clock: Callable[[], datetime]
) -> tuple[ProgressStore | None, ProgressError | None]:
    """The progress file at `path`: for writing, else to read only, else None.

    With it the reason why it cannot be written, a `ProgressLockedError` where another window
    does, or None.
    """
    try:
        return ProgressStore.open(path, clock=clock), None
    except ProgressError as error:
        reason = error
    with contextlib.suppress(ProgressError):
        return ProgressStore.open(path, read_only=True, clock=clock), reason
    return None, reason
