"""Shards into a base, in one transaction of its caller: games, then positions range by range.

Ranges of keys are taken one after the other, so memory holds a small part of all visits at a time
(and the few numbers of each new game), whatever the size of the files.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from trainer.games.base import grouping
from trainer.games.base.grouping import GameFacts
from trainer.games.base.schema import GAMES_INDEX, MOST_IN_BUCKET, TOTAL, VISIT
from trainer.games.base.shards import GAME, RANGES, Array, Shard, load_shard, load_visits

#: Visits that are worked on at a time, unless one range of keys has more.
VISITS_AT_A_TIME: Final = 1_000_000
#: Positions of a bucket, on average, when it is made and before all are made anew.
_POSITIONS_IN_BUCKET: Final = 64
_MOST_IN_BUCKET: Final = 400
_FEWEST_BITS, _MOST_BITS = 16, 30
#: With more keys than this in a range, rows are read as they lie and not one by one.
_MANY: Final = 50_000
_FIELDS: Final = (
    "content", "moment", "white", "black", "event", "white_rating", "black_rating", "result",
    "source", "place",
)  # fmt: skip


@dataclass(frozen=True)
class Merged:
    """How many games were added, and how many the base, or these files, had already."""

    added: int
    duplicates: int


def bits_for(visits: int) -> int:
    """How many first bits of the keys number the buckets of a base with so many visits."""
    wanted = max(1, visits * 2 // 3 // _POSITIONS_IN_BUCKET)
    return min(_MOST_BITS, max(_FEWEST_BITS, wanted.bit_length()))


class Merger:
    """Merges shards, given as (number of the source, name), into the base on `connection`."""

    def __init__(
        self,
        connection: sqlite3.Connection,
        folder: Path,
        shards: list[tuple[int, str]],
        progress: Callable[[float], None],
    ) -> None:
        self._connection = connection
        self._folder = folder
        self._names = [name for _, name in shards]
        self._sources = [source for source, _ in shards]
        self._progress = progress
        self._bits = int(connection.execute("SELECT bits FROM meta").fetchone()[0])
        self._had = connection.execute("SELECT 1 FROM games LIMIT 1").fetchone() is not None
        self._import_starts = np.empty(0, np.int64)
        self._positions = 0

    def run(self) -> Merged:
        """Do it; the caller commits. Raises `sqlite3.Error`, `OSError`."""
        games, sizes, bounds = self._load()
        numbers, chosen = self._number(games)
        merged = Merged(len(chosen), len(games) - len(chosen))
        if merged.added:
            self._first_new = self._insert_games(games, chosen)
            self._facts = GameFacts.of(
                games["moment"][chosen],
                games["white_rating"][chosen],
                games["black_rating"][chosen],
            )
            del games, chosen
            self._merge_visits(np.split(numbers, np.cumsum(sizes)[:-1]), bounds)
        self._connection.execute(GAMES_INDEX)
        self._connection.execute(
            "UPDATE meta SET positions = positions + ?, bits = ?", (self._positions, self._bits)
        )
        return merged

    # -- games -------------------------------------------------------------------------------

    def _load(self) -> tuple[Array, list[int], list[Array]]:
        """All games of the shards, named by the base's names and with their sources.

        They lie in a file that is mapped: of ten million they would take half a gigabyte.
        """
        dtype = np.dtype([*GAME.descr, ("source", "<u4")])
        sizes, bounds = [], []
        known: dict[str, int] = {}
        path = self._folder / "games"
        with path.open("wb") as file:
            for source, name in zip(self._sources, self._names, strict=True):
                shard = load_shard(self._folder, name)
                numbers = self._name_numbers(shard, known)
                part = np.empty(len(shard.games), dtype)
                for field in GAME.names or ():
                    part[field] = shard.games[field]
                for field in ("white", "black", "event"):
                    part[field] = numbers[part[field]]
                part["source"] = source
                file.write(part.tobytes())
                sizes.append(len(part))
                bounds.append(shard.bounds)
        games = np.memmap(path, dtype, "r") if sum(sizes) else np.empty(0, dtype)
        return games, sizes, bounds

    def _name_numbers(self, shard: Shard, known: dict[str, int]) -> Array:
        execute = self._connection.execute
        for name in shard.names:
            if name in known:
                continue
            text = name.encode("utf-8", "replace").decode()
            row = execute("SELECT id FROM names WHERE name = ?", (text,)).fetchone()
            if row is None:
                number = execute("INSERT INTO names (name) VALUES (?)", (text,)).lastrowid
            else:
                number = row[0]
            known[name] = int(number or 0)
        return np.array([known[name] for name in shard.names] or [0], np.uint32)

    def _number(self, games: Array) -> tuple[Array, Array]:
        """The number each game gets in the base, -1 for a duplicate; which get one, in order."""
        _, firsts = np.unique(games["content"], return_index=True)
        keep = np.zeros(len(games), bool)
        keep[firsts] = True
        if self._had:
            keep &= ~self._found_in_base(games, keep)
        chosen = np.flatnonzero(keep)
        chosen = chosen[np.argsort(games["moment"][chosen], kind="stable")]
        (last,) = self._connection.execute("SELECT coalesce(max(id), 0) FROM games").fetchone()
        numbers = np.full(len(games), -1, np.int64)
        numbers[chosen] = last + 1 + np.arange(len(chosen))
        return numbers, chosen

    def _found_in_base(self, games: Array, among: Array) -> Array:
        """Which games the base has; it notes where they stand now."""
        found = np.zeros(len(games), bool)
        moved = []
        many = int(among.sum()) > _MANY
        known: dict[int, int] = {}
        if many:
            query = "SELECT content, id FROM games"
            stored = np.array(self._connection.execute(query).fetchall(), np.int64)
            found = np.isin(games["content"], stored[:, 0])
            known = dict(stored[np.isin(stored[:, 0], games["content"])].tolist())
        for place in np.flatnonzero(among & found if many else among).tolist():
            content = int(games["content"][place])
            number = known.get(content)
            if not many:
                query = "SELECT id FROM games WHERE content = ?"
                row = self._connection.execute(query, (content,)).fetchone()
                number = None if row is None else row[0]
            if number is not None:
                found[place] = True
                moved.append((int(games["source"][place]), int(games["place"][place]), number))
        self._connection.executemany("UPDATE games SET source = ?, place = ? WHERE id = ?", moved)
        return found

    def _insert_games(self, games: Array, chosen: Array) -> int:
        """Insert the chosen games in this order; the number of the first."""
        (last,) = self._connection.execute("SELECT coalesce(max(id), 0) FROM games").fetchone()
        first = int(last) + 1
        marks = ", ".join("?" * (len(_FIELDS) + 1))
        insert = f"INSERT INTO games (id, {', '.join(_FIELDS)}) VALUES ({marks})"
        for start in range(0, len(chosen), _MANY):
            some = games[chosen[start : start + _MANY]]
            numbers = range(first + start, first + start + len(some))
            columns = [some[field].tolist() for field in _FIELDS]
            self._connection.executemany(insert, zip(numbers, *columns, strict=True))
        self._connection.execute(
            "INSERT INTO imports VALUES (?, ?)", (first, first + len(chosen) - 1)
        )
        starts = self._connection.execute("SELECT first FROM imports ORDER BY first").fetchall()
        self._import_starts = np.array([start for (start,) in starts], np.int64)
        return first

    # -- positions ---------------------------------------------------------------------------

    def _merge_visits(self, numbers: list[Array], bounds: list[Array]) -> None:
        weights = np.diff(np.array(bounds), axis=1).sum(axis=0)
        total = max(1, int(weights.sum()))
        self._make_room(total)
        done = 0
        for start, end in _ranges(weights):
            parts = []
            for name, own, bound in zip(self._names, numbers, bounds, strict=True):
                if bound[start] == bound[end]:
                    continue
                visits = load_visits(self._folder, name, int(bound[start]), int(bound[end]))
                game = own[visits["game"]]
                visits = visits[game >= 0]
                visits["game"] = game[game >= 0]
                parts.append(visits)
            visits = grouping.sorted_visits(parts)
            if len(visits):
                self._merge_range(visits)
            done += int(weights[start:end].sum())
            self._progress(done / total)

    def _merge_range(self, visits: Array) -> None:
        if self._had:
            often = self._in_totals(visits)
            if often.any():
                self._add_to_totals(visits[often])
                visits = visits[~often]
        old = self._old_visits(visits)
        known = len(grouping.starts_of(old["key"]))
        if len(old):
            visits = grouping.sorted_visits([visits, old])
        starts = grouping.starts_of(visits["key"])
        counts = grouping.lengths_of(starts, len(visits))
        self._positions += len(starts) - known
        often = np.repeat(counts > MOST_IN_BUCKET, counts)
        promoted = visits[often]
        self._write_totals(*grouping.totals_of(promoted, self._facts_of(promoted["game"])))
        self._write_visits(promoted)
        self._connection.executemany(
            "INSERT OR REPLACE INTO buckets VALUES (?, ?)",
            grouping.rows_of_buckets(visits[~often], self._bits),
        )
        if len(old):
            self._drop_emptied(visits, often)

    def _drop_emptied(self, visits: Array, often: Array) -> None:
        """Buckets of which every position was promoted are not written again."""
        shift = 64 - self._bits
        gone = np.setdiff1d(visits["key"][often] >> shift, visits["key"][~often] >> shift)
        self._connection.executemany(
            "DELETE FROM buckets WHERE id = ?", [(number,) for number in gone.tolist()]
        )

    def _in_totals(self, visits: Array) -> Array:
        """Which visits are of positions that have a row of totals."""
        starts = grouping.starts_of(visits["key"])
        keys = visits["key"][starts]
        execute = self._connection.execute
        if len(keys) > _MANY:
            query = "SELECT key FROM totals WHERE key BETWEEN ? AND ?"
            rows = execute(query, (int(keys[0]), int(keys[-1]))).fetchall()
            found = np.isin(keys, np.array(rows, np.int64).reshape(-1))
        else:
            query = "SELECT 1 FROM totals WHERE key = ?"
            found = np.array(
                [execute(query, (key,)).fetchone() is not None for key in keys.tolist()], bool
            )
        return np.repeat(found, grouping.lengths_of(starts, len(visits)))

    def _add_to_totals(self, visits: Array) -> None:
        keys, totals = grouping.totals_of(visits, self._facts_of(visits["game"]))
        old_keys, old = [keys], [totals]
        query = "SELECT data FROM totals WHERE key = ?"
        for key in keys[grouping.starts_of(keys)].tolist():
            (data,) = self._connection.execute(query, (key,)).fetchone()
            rows = np.frombuffer(data, TOTAL)
            old.append(rows)
            old_keys.append(np.full(len(rows), key, np.int64))
        self._write_totals(*grouping.summed(np.concatenate(old_keys), np.concatenate(old)))
        self._write_visits(visits)

    def _write_totals(self, keys: Array, totals: Array) -> None:
        self._connection.executemany(
            "INSERT OR REPLACE INTO totals VALUES (?, ?)", grouping.rows_of_totals(keys, totals)
        )

    def _write_visits(self, visits: Array) -> None:
        self._connection.executemany(
            "INSERT INTO visits VALUES (?, ?, ?, ?, ?)",
            grouping.rows_of_visits(visits, self._import_starts),
        )

    def _old_visits(self, visits: Array) -> Array:
        """What the buckets hold in which these visits belong."""
        if not self._had or not len(visits):
            return np.empty(0, VISIT)
        numbers = np.unique(visits["key"] >> (64 - self._bits)).tolist()
        execute = self._connection.execute
        rows: Iterable[tuple[int, bytes]]
        if len(numbers) > _MANY:
            query = "SELECT id, data FROM buckets WHERE id BETWEEN ? AND ?"
            wanted = frozenset(numbers)
            everything = execute(query, (numbers[0], numbers[-1]))
            rows = (row for row in everything if row[0] in wanted)
        else:
            query = "SELECT id, data FROM buckets WHERE id = ?"
            rows = (row for number in numbers for row in execute(query, (number,)))
        return grouping.visits_of_buckets(rows, self._bits)

    def _facts_of(self, games: Array) -> GameFacts:
        index = games.astype(np.int64) - self._first_new
        old = index < 0
        if not old.any():
            return self._facts.take(index)
        found = self._facts.take(np.where(old, 0, index))
        numbers, places = np.unique(games[old], return_inverse=True)
        query = "SELECT moment, white_rating, black_rating FROM games WHERE id = ?"
        rows = [self._connection.execute(query, (int(one),)).fetchone() for one in numbers]
        columns = np.array(rows, np.int64)[places]
        older = GameFacts.of(columns[:, 0], columns[:, 1], columns[:, 2])
        found.moment[old] = older.moment
        found.rating_sum[old] = older.rating_sum
        found.ratings[old] = older.ratings
        return found

    def _make_room(self, visits: int) -> None:
        """Make buckets of more bits where those there are would grow too large."""
        (positions,) = self._connection.execute("SELECT positions FROM meta").fetchone()
        expected = positions + visits * 2 // 3
        if not self._had:
            self._bits = bits_for(visits)
            return
        if expected >> self._bits < _MOST_IN_BUCKET:
            return
        bits = bits_for(expected * 3 // 2)
        execute = self._connection.execute
        execute("CREATE TABLE smaller_buckets (id INTEGER PRIMARY KEY, data BLOB NOT NULL)")
        rows = execute("SELECT id, data FROM buckets ORDER BY id")
        while some := rows.fetchmany(2048):
            visits_there = grouping.visits_of_buckets(some, self._bits)
            self._connection.executemany(
                "INSERT INTO smaller_buckets VALUES (?, ?)",
                grouping.rows_of_buckets(visits_there, bits),
            )
        execute("DROP TABLE buckets")
        execute("ALTER TABLE smaller_buckets RENAME TO buckets")
        self._bits = bits


def _ranges(weights: Array) -> Iterator[tuple[int, int]]:
    """Ranges of keys with about as many visits as are worked on at a time."""
    start = held = 0
    for place in range(RANGES):
        weight = int(weights[place])
        if held and held + weight > VISITS_AT_A_TIME:
            yield start, place
            start, held = place, 0
        held += weight
    yield start, RANGES
