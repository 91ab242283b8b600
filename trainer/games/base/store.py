"""A reference base, asked for positions and games."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from functools import cache, lru_cache
from itertools import pairwise
from pathlib import Path
from threading import RLock
from types import TracebackType
from typing import Final

import chess
import numpy as np

from trainer.games.base import moments
from trainer.games.base.answers import GAME_COLUMNS, GAME_TABLES, entry_of, position_of
from trainer.games.base.faults import base_error
from trainer.games.base.figures import (
    BaseSummary,
    GameEntry,
    GamesFile,
    MoveFigures,
    MoveTotals,
    PositionTotals,
    Unused,
)
from trainer.games.base.grouping import find_in_bucket
from trainer.games.base.schema import TOTAL_ROW, open_to_read
from trainer.games.base.shards import Array
from trainer.games.base.sources import text_of_game
from trainer.games.when import GameWhen
from trainer.position import position_key, signed_key

#: One question for two: the bucket is looked at only where there is no row of totals. By how many
#: bits buckets are numbered can change with games that somebody adds, so it is asked for here too.
_TOTALS: Final = (
    "SELECT 0, data FROM totals WHERE key = ? UNION ALL "
    "SELECT bits, data FROM meta CROSS JOIN buckets WHERE buckets.id = ? >> (64 - bits) LIMIT 1"
)


@cache
def _facts_of(games: int) -> str:
    marks = ", ".join("?" * games)
    return f"SELECT id, moment, white_rating, black_rating FROM games WHERE id IN ({marks})"


class ReferenceBase:
    """A base opened to read; threads may share it. `close` it, or use it in a `with` statement.

    A position is found by its `trainer.position.position_key`, whatever the order of moves.
    All methods raise `BaseFileError` where the file cannot be read.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._lock = RLock()
        self._connection = open_to_read(path)
        self._version = -1
        self._refresh()

    def __enter__(self) -> ReferenceBase:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the file."""
        self._connection.close()

    def _refresh(self) -> None:
        """Look again at what rarely changes, if somebody has added games."""
        (version,) = self._rows("PRAGMA data_version")[0]
        if version == self._version:
            return
        self._version = version
        ((self.plies, self._bits),) = self._rows("SELECT plies, bits FROM meta")
        #: First and last number of the games of each import.
        self._imports = self._rows("SELECT first, last FROM imports ORDER BY first")
        self._border = lru_cache(maxsize=4096)(self._find_border)

    def _rows(self, query: str, values: Sequence[int | str] = ()) -> list[tuple[int, ...]]:
        try:
            with self._lock:
                return self._connection.execute(query, values).fetchall()
        except sqlite3.Error as error:
            raise base_error(self.path, "read", error) from error

    # -- figures -----------------------------------------------------------------------------

    def totals(self, key: int) -> PositionTotals:
        """What all games did in a position."""
        signed = signed_key(key)
        for bits, data in self._rows(_TOTALS, (signed, signed)):
            assert isinstance(data, bytes)
            if bits:
                return position_of(self._few_totals(find_in_bucket(data, signed, bits)))
            return position_of(list(TOTAL_ROW.iter_unpack(data)))
        return position_of(())

    def position(self, board: chess.Board) -> PositionTotals:
        """What all games did in the position on `board`."""
        return self.totals(position_key(board))

    def moves(self, board: chess.Board) -> tuple[MoveFigures, ...]:
        """The moves that were played in the position on `board`, the most frequent first."""
        found = self.position(board)
        return tuple(self._in_words(board, one) for one in found.moves)

    def _few_totals(self, visits: list[tuple[int, int]]) -> list[tuple[int, ...]]:
        """Rows as `TOTAL` has them, added up from games of which there are few."""
        if not visits:
            return []
        codes = dict(visits)
        found: dict[int, list[int]] = {}
        for game, moment, white, black in self._rows(_facts_of(len(codes)), [*codes]):
            move, result = codes[game] >> 2, codes[game] & 3
            row = found.get(move)
            if row is None:
                row = found[move] = [move, 0, 0, 0, 0, 0, 0, 0, game, moment]
            elif (moment, game) < (row[9], row[8]):
                row[8], row[9] = game, moment
            row[1] += 1
            if result < 3:
                row[2 + result] += 1
            row[5] += (white > 0) + (black > 0)
            row[6] += white + black
            row[7] = max(row[7], moments.year(moment))
        return [tuple(row) for row in found.values()]

    def _in_bucket(self, key: int) -> list[tuple[int, int]]:
        signed = signed_key(key)
        rows = self._rows("SELECT data FROM buckets WHERE id = ?", (signed >> (64 - self._bits),))
        return find_in_bucket(rows[0][0], signed, self._bits) if rows else []  # type: ignore[arg-type]

    def _in_words(self, board: chess.Board, totals: MoveTotals) -> MoveFigures:
        move = totals.move
        assert move is not None
        return MoveFigures(
            board.san(move) if move else "--",
            totals.games,
            totals.white,
            totals.draws,
            totals.black,
            totals.last_year,
            self.game(totals.first).title(),
            totals.mean_rating,
        )

    # -- earlier games -----------------------------------------------------------------------

    def visits_before(self, key: int, when: GameWhen) -> int:
        """How many games that are certainly earlier than `when` reached a position.

        The game that was played `when` is not among them: no game is earlier than itself.
        """
        with self._lock:
            self._refresh()
            return self._count_before(key, moments.limit(when))

    def undated(self, key: int) -> int:
        """How many games of a position have no year: these are earlier than none."""
        with self._lock:
            self._refresh()
            everything = self._count_before(key, 1 << 62)
            return everything - self._count_before(key, moments.UNDATED)

    def moves_before(
        self, key: int, when: GameWhen, board: chess.Board
    ) -> tuple[MoveFigures, ...]:
        """What games certainly earlier than `when` played there, the most frequent move first.

        `board` has the position, whose moves are named on it. Ratings are not looked at.
        """
        with self._lock:
            self._refresh()
            games, codes = self._visits_before(key, moments.limit(when))
            found = position_of(self._rows_of_moves(games, codes))
            if not found.moves:
                return ()
            return tuple(self._in_words(board, one) for one in found.moves)

    def _count_before(self, key: int, limit: int) -> int:
        signed = signed_key(key)
        if not self._rows("SELECT 1 FROM totals WHERE key = ?", (signed,)):
            borders = self._borders(limit)
            return sum(game < self._border_of(borders, game) for game, _ in self._in_bucket(key))
        count = 0
        for start, end in self._imports:
            border = self._border(limit, start, end)
            if border == start:
                continue
            # A start position has thousands of rows: SQLite counts them faster than Python.
            ((whole,),) = self._rows(
                "SELECT coalesce(sum(count), 0) FROM visits "
                "WHERE key = ? AND first BETWEEN ? AND ? AND last < ?",
                (signed, start, border - 1, border),
            )
            count += whole
            for first, size in self._rows(
                "SELECT first, count FROM visits WHERE key = ? AND first BETWEEN ? AND ? "
                "AND last >= ? ORDER BY first DESC LIMIT 1",
                (signed, start, border - 1, border),
            ):
                games, _ = self._piece(signed, first, size)
                count += int(np.searchsorted(games, border))
        return count

    def _borders(self, limit: int) -> dict[int, int]:
        """For each import, by its first number, the first game that is not before `limit`."""
        return {first: self._border(limit, first, last) for first, last in self._imports}

    def _visits_before(self, key: int, limit: int) -> tuple[Array, Array]:
        signed = signed_key(key)
        borders = self._borders(limit)
        rows = self._rows("SELECT first, last, count FROM visits WHERE key = ?", (signed,))
        if not rows:
            few = [
                visit
                for visit in self._in_bucket(key)
                if visit[0] < self._border_of(borders, visit[0])
            ]
            pairs = np.array(few, np.int64).reshape(-1, 2)
            return pairs[:, 0], pairs[:, 1]
        games, codes = [], []
        for first, _, size in rows:
            border = self._border_of(borders, first)
            if first < border:
                some, theirs = self._piece(signed, first, size)
                end = int(np.searchsorted(some, border))
                games.append(some[:end])
                codes.append(theirs[:end])
        if not games:
            return np.empty(0, np.int64), np.empty(0, np.int64)
        return np.concatenate(games), np.concatenate(codes)

    def _rows_of_moves(self, games: Array, codes: Array) -> list[tuple[int, ...]]:
        """Rows as `TOTAL` has them, without ratings, of any number of games in rising order."""
        rows = []
        moves, results = codes >> 2, codes & 3
        starts = [first for first, _ in self._imports]
        for move in np.unique(moves).tolist():
            mine = moves == move
            numbers = games[mine]
            counts = np.bincount(results[mine], minlength=4).tolist()
            # In each import the first number is the earliest game, the last one the latest.
            edges = np.searchsorted(numbers, [*starts, starts[-1] + (1 << 32)])
            ends = {
                int(numbers[place])
                for low, high in pairwise(edges.tolist())
                if low < high
                for place in (low, high - 1)
            }
            when = {number: self._moment(number) for number in ends}
            year = max(moments.year(moment) for moment in when.values())
            moment, first = min((moment, number) for number, moment in when.items())
            rows.append((move, len(numbers), *counts[:3], 0, 0, year, first, moment))
        return rows

    def _moment(self, number: int) -> int:
        return self._rows("SELECT moment FROM games WHERE id = ?", (number,))[0][0]

    def _piece(self, signed: int, first: int, size: int) -> tuple[Array, Array]:
        """Games and codes in one row of visits."""
        ((data,),) = self._rows(
            "SELECT data FROM visits WHERE key = ? AND first = ?", (signed, first)
        )
        assert isinstance(data, bytes)
        return (
            np.frombuffer(data, "<u4", size),
            np.frombuffer(data, "<u2", size, offset=4 * size),
        )

    def _border_of(self, borders: dict[int, int], game: int) -> int:
        for first, last in reversed(self._imports):
            if first <= game <= last:
                return borders[first]
        raise AssertionError(game)

    def _find_border(self, limit: int, first: int, last: int) -> int:
        """The first number of an import whose game is not before `limit`."""
        low, high = first, last + 1
        while low < high:
            middle = (low + high) // 2
            low, high = (middle + 1, high) if self._moment(middle) < limit else (low, middle)
        return low

    # -- games -------------------------------------------------------------------------------

    def game(self, number: int) -> GameEntry:
        """The game of that number. Raises `KeyError` where there is none."""
        rows = self._rows(
            f"SELECT {GAME_COLUMNS} FROM {GAME_TABLES} WHERE games.id = ?", (number,)
        )
        if not rows:
            raise KeyError(number)
        return entry_of(rows[0])

    def games_through(self, key: int, most: int = 200) -> tuple[GameEntry, ...]:
        """Games that reached a position, the newest first, at most so many.

        Of several imports the last comes first. Games without a date come last of those listed.
        """
        with self._lock:
            self._refresh()
            signed = signed_key(key)
            numbers: list[int] = []
            rows = self._rows(
                "SELECT first, count FROM visits WHERE key = ? ORDER BY first DESC", (signed,)
            )
            for first, size in rows:
                if len(numbers) >= most:
                    break
                numbers += self._piece(signed, first, size)[0].tolist()[::-1]
            if not rows:
                numbers = [game for game, _ in self._in_bucket(key)][::-1]
            found = [self.game(number) for number in numbers[:most]]
        return tuple(sorted(found, key=lambda game: game.date.startswith("?")))

    def game_text(self, entry: GameEntry) -> str:
        """The PGN of a game, from the file it was read from.

        Raises `GamesFileError` where that file is gone or has changed.
        """
        return text_of_game(entry)

    def files(self) -> tuple[GamesFile, ...]:
        """The files of games that it was built of, in the order in which they were added."""
        rows = self._rows(
            "SELECT id, path, size, mark, (SELECT count(*) FROM games WHERE source = sources.id) "
            "FROM sources ORDER BY id"
        )
        return tuple(
            GamesFile(number, Path(str(path)), size, bytes(mark), games)
            for number, path, size, mark, games in rows
        )

    def places(self, file: int) -> tuple[Array, Array]:
        """Where the games of a file (its number in `files`) begin in it, in bytes and in rising
        order, and the numbers of those games."""
        try:
            with self._lock:
                rows = self._connection.execute(
                    "SELECT place, id FROM games WHERE source = ? ORDER BY place, id", (file,)
                )
                found = np.fromiter(rows, np.dtype([("place", "<i8"), ("number", "<i8")]))
        except sqlite3.Error as error:
            raise base_error(self.path, "read", error) from error
        return found["place"], found["number"]

    def history(self) -> tuple[tuple[int, int, int, int], ...]:
        """What tells this base from another one at the same place.

        For each import the numbers of its first and last game, and what identifies those two. A
        base that was only added to begins with the history that it had before.
        """
        rows = self._rows(
            "SELECT first, last, a.content, b.content FROM imports "
            "JOIN games a ON a.id = first JOIN games b ON b.id = last ORDER BY first"
        )
        return tuple((first, last, begin, end) for first, last, begin, end in rows)

    def summary(self) -> BaseSummary:
        """What the base holds."""
        with self._lock:
            ((positions, plies),) = self._rows("SELECT positions, plies FROM meta")
            ((games,),) = self._rows("SELECT count(*) FROM games")
            files = self._rows("SELECT path FROM sources ORDER BY id")
            tallies = self._rows("SELECT kind, sum(count) FROM tallies GROUP BY kind")
        return BaseSummary(
            games,
            positions,
            plies,
            tuple(Path(str(path)) for (path,) in files),
            {str(kind): count for kind, count in tallies},
        )

    def unused(self) -> tuple[Unused, ...]:
        """Games that are not in the figures, with the reason; of each file the first thousand."""
        rows = self._rows(
            "SELECT path, game, line, kind, reason FROM faults JOIN sources ON id = source "
            "ORDER BY source, game"
        )
        return tuple(
            Unused(Path(str(path)), game, line, str(kind), str(reason))
            for path, game, line, kind, reason in rows
        )
