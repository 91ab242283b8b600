"""Visits of positions, grouped and summed up: whole arrays at a time.

Visits are arrays of the dtype `VISIT` sorted by key and game, totals of `TOTAL` with their keys
beside them, sorted by key and move.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from trainer.games.base import moments
from trainer.games.base.schema import TOTAL, VISIT, VISITS_IN_ROW
from trainer.games.base.shards import Array


@dataclass(frozen=True)
class GameFacts:
    """What is summed up of games: when, the sum of their ratings and how many those are."""

    moment: Array
    rating_sum: Array
    ratings: Array

    @classmethod
    def of(cls, moment: Array, white_rating: Array, black_rating: Array) -> GameFacts:
        """The facts of games with these moments and ratings, 0 for a rating that is not known."""
        ratings = (white_rating > 0).astype(np.uint8) + (black_rating > 0)
        return cls(moment, white_rating.astype(np.uint32) + black_rating, ratings)

    def take(self, index: Array) -> GameFacts:
        """The facts of some of the games, by their places here."""
        return GameFacts(self.moment[index], self.rating_sum[index], self.ratings[index])


def starts_of(*columns: Array) -> Array:
    """Where a group of equal rows begins."""
    if not len(columns[0]):
        return np.empty(0, np.int64)
    new = np.ones(len(columns[0]), bool)
    new[1:] = False
    for column in columns:
        new[1:] |= column[1:] != column[:-1]
    return np.flatnonzero(new)


def lengths_of(starts: Array, length: int) -> Array:
    """How long each of the groups is."""
    return np.diff(np.append(starts, length))


def sorted_visits(parts: list[Array]) -> Array:
    """Several arrays of visits as one, in order."""
    visits = np.concatenate(parts) if parts else np.empty(0, VISIT)
    return visits[np.lexsort((visits["game"], visits["key"]))]


def totals_of(visits: Array, facts: GameFacts) -> tuple[Array, Array]:
    """Keys and totals of visits; `facts` has one entry a visit."""
    moves, results = visits["code"] >> 2, visits["code"] & 3
    order = np.lexsort((visits["game"], facts.moment, moves, visits["key"]))
    keys, moves, results = visits["key"][order], moves[order], results[order]
    facts = facts.take(order)
    starts = starts_of(keys, moves)
    totals = np.zeros(len(starts), TOTAL)
    if not len(starts):
        return keys, totals
    totals["code"] = moves[starts]
    totals["games"] = lengths_of(starts, len(keys))
    for number, name in enumerate(("white", "draws", "black")):
        totals[name] = np.add.reduceat(results == number, starts, dtype=np.uint32)
    totals["ratings"] = np.add.reduceat(facts.ratings, starts, dtype=np.uint32)
    totals["rating_sum"] = np.add.reduceat(facts.rating_sum, starts, dtype=np.uint64)
    totals["last_year"] = np.maximum.reduceat(moments.years(facts.moment), starts)
    totals["first"] = visits["game"][order][starts]
    totals["first_moment"] = facts.moment[starts]
    return keys[starts], totals


def summed(keys: Array, totals: Array) -> tuple[Array, Array]:
    """Totals of which several may be about one move, added up."""
    order = np.lexsort((totals["first"], totals["first_moment"], totals["code"], keys))
    keys, totals = keys[order], totals[order]
    starts = starts_of(keys, totals["code"])
    added = totals[starts].copy()
    for name in ("games", "white", "draws", "black", "ratings", "rating_sum"):
        added[name] = np.add.reduceat(totals[name], starts, dtype=TOTAL[name])
    added["last_year"] = np.maximum.reduceat(totals["last_year"], starts)
    return keys[starts], added


def rows_of_totals(keys: Array, totals: Array) -> Iterator[tuple[int, bytes]]:
    """Rows for the table of totals, one a position."""
    starts = starts_of(keys)
    data, size = totals.tobytes(), TOTAL.itemsize
    ends = np.append(starts, len(keys)).tolist()
    for number, key in enumerate(keys[starts].tolist()):
        yield key, data[ends[number] * size : ends[number + 1] * size]


def rows_of_visits(
    visits: Array, import_starts: Array
) -> Iterator[tuple[int, int, int, int, bytes]]:
    """Rows for the table of visits: each of one position and one import, and not too long."""
    batch = np.searchsorted(import_starts, visits["game"], side="right")
    starts = starts_of(visits["key"], batch)
    place = np.arange(len(visits)) - np.repeat(starts, lengths_of(starts, len(visits)))
    starts = starts_of(visits["key"], batch, place // VISITS_IN_ROW)
    ends = np.append(starts, len(visits)).tolist()
    games = visits["game"]
    numbers, codes = np.ascontiguousarray(games).tobytes(), visits["code"].copy().tobytes()
    last = games[np.array(ends[1:], np.int64) - 1].tolist()
    for place, (key, first) in enumerate(
        zip(visits["key"][starts].tolist(), games[starts].tolist(), strict=True)
    ):
        start, end = ends[place], ends[place + 1]
        data = numbers[4 * start : 4 * end] + codes[2 * start : 2 * end]
        yield key, first, last[place], end - start, data


# -- buckets -------------------------------------------------------------------------------------


def rows_of_buckets(visits: Array, bits: int) -> Iterator[tuple[int, bytes]]:
    """Rows for the table of buckets.

    A row begins with the number of its positions (16 bits); then come the lower 32 bits of each
    key, the 16 bits above those, how many games had the position (8 bits each), and of all visits
    the games (32 bits) and the codes (16 bits). The first bits of the keys are the row's number.
    """
    shift = 64 - bits
    keys, starts = visits["key"], starts_of(visits["key"])
    counts = lengths_of(starts, len(visits)).astype(np.uint8).tobytes()
    keys = keys[starts]
    numbers = keys >> shift
    rest = keys - (numbers << shift)
    low = (rest & 0xFFFFFFFF).astype("<u4").tobytes()
    high = (rest >> 32).astype("<u2").tobytes()
    games, codes = visits["game"].copy().tobytes(), visits["code"].copy().tobytes()
    firsts = starts_of(numbers)
    position_ends = np.append(firsts, len(keys)).tolist()
    visit_ends = np.append(starts, len(visits))[position_ends].tolist()
    for place, number in enumerate(numbers[firsts].tolist()):
        a, b = position_ends[place], position_ends[place + 1]
        c, d = visit_ends[place], visit_ends[place + 1]
        data = b"".join(
            (
                (b - a).to_bytes(2, "little"),
                low[4 * a : 4 * b],
                high[2 * a : 2 * b],
                counts[a:b],
                games[4 * c : 4 * d],
                codes[2 * c : 2 * d],
            )
        )
        yield number, data


def visits_of_buckets(rows: Iterable[tuple[int, bytes]], bits: int) -> Array:
    """The visits in rows of the table of buckets, in the order of the rows."""
    numbers, sizes = [], []
    low, high, counts, games, codes = [], [], [], [], []
    for number, data in rows:
        size = int.from_bytes(data[:2], "little")
        at = 2 + 7 * size
        length = (len(data) - at) // 6
        numbers.append(number)
        sizes.append(size)
        low.append(data[2 : 2 + 4 * size])
        high.append(data[2 + 4 * size : 2 + 6 * size])
        counts.append(data[2 + 6 * size : at])
        games.append(data[at : at + 4 * length])
        codes.append(data[at + 4 * length :])
    keys = np.repeat(np.array(numbers, np.int64) << (64 - bits), sizes)
    keys += np.frombuffer(b"".join(low), "<u4")
    keys += np.frombuffer(b"".join(high), "<u2").astype(np.int64) << 32
    visits = np.empty(sum(map(len, games)) // 4, VISIT)
    visits["key"] = np.repeat(keys, np.frombuffer(b"".join(counts), np.uint8))
    visits["game"] = np.frombuffer(b"".join(games), "<u4")
    visits["code"] = np.frombuffer(b"".join(codes), "<u2")
    return visits


def find_in_bucket(data: bytes, key: int, bits: int) -> list[tuple[int, int]]:
    """Games and codes of one position (its signed key) in a row of the table of buckets."""
    rest = key - (key >> (64 - bits) << (64 - bits))
    size = int.from_bytes(data[:2], "little")
    low, high = (rest & 0xFFFFFFFF).to_bytes(4, "little"), (rest >> 32).to_bytes(2, "little")
    at = data.find(low, 2, 2 + 4 * size)
    while at >= 0:
        number, odd = divmod(at - 2, 4)
        upper = 2 + 4 * size + 2 * number
        if not odd and data[upper : upper + 2] == high:
            break
        at = data.find(low, at + 1, 2 + 4 * size)
    else:
        return []
    counts = 2 + 6 * size
    before, here = sum(data[counts : counts + number]), data[counts + number]
    visits = counts + size
    length = (len(data) - visits) // 6
    games, codes = visits + 4 * before, visits + 4 * length + 2 * before
    return [
        (
            int.from_bytes(data[games + 4 * one : games + 4 * one + 4], "little"),
            int.from_bytes(data[codes + 2 * one : codes + 2 * one + 2], "little"),
        )
        for one in range(here)
    ]
