"""Evaluations that were paid for once, in a small SQLite file of their own, with the critical
moments of games that they led to.

Nothing here cannot be computed again, so a file that is damaged or cannot be written costs time
and never the player's work: it is begun anew, or done without. Each evaluation is committed as
it comes, so that a kill loses none.
"""

from __future__ import annotations

import contextlib
import json
import sqlite3
from collections.abc import Iterable, Sequence
from pathlib import Path
from threading import Lock
from typing import Final

import chess

from trainer.engine.evaluation import Evaluation, Line, Score
from trainer.position import pack_position, position_key, signed_key

#: The name of the file in the cache folder.
FILE_NAME: Final = "evaluations.sqlite"
#: The layout of the file; one of another layout is begun anew.
_LAYOUT: Final = 1
_PATIENCE: Final = 5.0
_TABLES: Final = """
CREATE TABLE IF NOT EXISTS moments (
    game TEXT PRIMARY KEY,
    found TEXT NOT NULL
) WITHOUT ROWID;
CREATE TABLE IF NOT EXISTS evaluation (
    key INTEGER NOT NULL,
    position BLOB NOT NULL,
    engine TEXT NOT NULL,
    nodes INTEGER NOT NULL,
    lines INTEGER NOT NULL,
    moves TEXT NOT NULL,
    result TEXT NOT NULL,
    PRIMARY KEY (key, engine, nodes, lines, moves)
) WITHOUT ROWID;
"""


class EvaluationCache:
    """Evaluations by position, engine and what it was asked. May be used from several threads.

    A question is the same when position, engine name, nodes, number of lines and the moves that
    were considered are the same. Searches that were cut off by time are not kept.
    """

    def __init__(self, path: Path | None) -> None:
        """Open the file at `path`, made where it is missing; None keeps nothing beyond memory.

        `notice` says where the file could not be used.
        """
        self.notice = ""
        self._lock = Lock()
        self._connection = self._open(path)

    def __enter__(self) -> EvaluationCache:
        return self

    def __exit__(self, *_error: object) -> None:
        self.close()

    def _open(self, path: Path | None) -> sqlite3.Connection:
        if path is not None:
            try:
                path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
                return _connect(path)
            except sqlite3.DatabaseError as error:
                if not isinstance(error, sqlite3.OperationalError):
                    with contextlib.suppress(OSError, sqlite3.Error):
                        _remove(path)
                        return _connect(path)
                reason = str(error)
            except OSError as error:
                reason = error.strerror or str(error)
            self.notice = (
                f"Evaluations are forgotten at the end: the file {path} cannot be used ({reason})."
            )
        return _prepared(sqlite3.connect(":memory:", check_same_thread=False))

    def find(
        self,
        board: chess.Board,
        engine: str,
        *,
        nodes: int,
        lines: int = 1,
        moves: Sequence[chess.Move] = (),
    ) -> Evaluation | None:
        """The evaluation of the position on `board` by that question, or None.

        Where more nodes were spent on it before, that evaluation is given.
        """
        with self._lock, contextlib.suppress(sqlite3.Error):
            row = self._connection.execute(
                "SELECT position, result FROM evaluation WHERE key = ? AND engine = ?"
                " AND nodes >= ? AND lines = ? AND moves = ? ORDER BY nodes LIMIT 1",
                (signed_key(position_key(board)), engine, nodes, lines, _named(moves)),
            ).fetchone()
            if row is not None and row[0] == pack_position(board):
                return _decoded(row[1], board)
        return None

    def keep(
        self,
        board: chess.Board,
        engine: str,
        evaluation: Evaluation,
        *,
        nodes: int,
        lines: int = 1,
        moves: Sequence[chess.Move] = (),
    ) -> None:
        """Keep an evaluation; it is on its way to the disk when this returns."""
        with self._lock:
            try:
                self._connection.execute(
                    "INSERT OR REPLACE INTO evaluation VALUES (?, ?, ?, ?, ?, ?, ?)",
                    (
                        signed_key(position_key(board)),
                        pack_position(board),
                        engine,
                        nodes,
                        lines,
                        _named(moves),
                        _encoded(evaluation),
                    ),
                )
            except sqlite3.Error as error:
                self.notice = f"Evaluations are not kept any more ({error})."

    def known_lines(self, board: chess.Board) -> Evaluation | None:
        """The deepest evaluation of a position with more than one line, by whichever engine."""
        with self._lock, contextlib.suppress(sqlite3.Error):
            row = self._connection.execute(
                "SELECT position, result FROM evaluation WHERE key = ? AND moves = ''"
                " AND lines > 1 ORDER BY nodes DESC LIMIT 1",
                (signed_key(position_key(board)),),
            ).fetchone()
            if row is not None and row[0] == pack_position(board):
                return _decoded(row[1], board)
        return None

    def keep_moments(self, game: str, found: str) -> None:
        """Keep what was found in a game, as text, in place of what was kept before."""
        with self._lock:
            try:
                self._connection.execute(
                    "INSERT OR REPLACE INTO moments VALUES (?, ?)", (game, found)
                )
            except sqlite3.Error as error:
                self.notice = f"Evaluations are not kept any more ({error})."

    def find_moments(self, game: str) -> str | None:
        """What was kept of a game; None where nothing was."""
        with self._lock, contextlib.suppress(sqlite3.Error):
            row = self._connection.execute(
                "SELECT found FROM moments WHERE game = ?", (game,)
            ).fetchone()
            return None if row is None else str(row[0])
        return None

    def close(self) -> None:
        """Close the file."""
        with self._lock:
            self._connection.close()


def _connect(path: Path) -> sqlite3.Connection:
    connection = sqlite3.connect(
        path, isolation_level=None, timeout=_PATIENCE, check_same_thread=False
    )
    try:
        connection.execute("PRAGMA journal_mode = WAL")
        # A kill of the program loses nothing; a power cut may lose the last evaluations.
        connection.execute("PRAGMA synchronous = NORMAL")
        layout = connection.execute("PRAGMA user_version").fetchone()[0]
        if layout not in (0, _LAYOUT):
            raise sqlite3.DatabaseError("another layout")
        return _prepared(connection)
    except BaseException:
        connection.close()
        raise


def _prepared(connection: sqlite3.Connection) -> sqlite3.Connection:
    connection.isolation_level = None
    connection.executescript(_TABLES)
    connection.execute(f"PRAGMA user_version = {_LAYOUT}")
    return connection


def _remove(path: Path) -> None:
    for suffix in ("", "-wal", "-shm", "-journal"):
        path.with_name(path.name + suffix).unlink(missing_ok=True)


def _named(moves: Iterable[chess.Move]) -> str:
    return " ".join(sorted(move.uci() for move in moves))


def _encoded(evaluation: Evaluation) -> str:
    lines = [
        [line.score.cp, line.score.mate, " ".join(move.uci() for move in line.moves)]
        for line in evaluation.lines
    ]
    return json.dumps([evaluation.depth, evaluation.nodes, lines], separators=(",", ":"))


def _decoded(text: str, board: chess.Board) -> Evaluation | None:
    """The evaluation in `text`, None where it is damaged: moves are played before they count."""
    try:
        depth, nodes, lines = json.loads(text)
        read = []
        for cp, mate, words in lines:
            trial = board.copy(stack=False)
            moves = tuple(trial.push_uci(word) for word in words.split())
            read.append(Line(moves, Score(int(cp), None if mate is None else int(mate))))
        return Evaluation(tuple(read), int(depth), int(nodes)) if read else None
    except (ValueError, TypeError):
        return None
