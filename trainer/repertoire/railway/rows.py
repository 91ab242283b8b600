"""The row of each vertex: likely lines run straight, branches stay near where they leave.

Vertices that continue each other are joined to tracks, each in one row; this is the vertical
alignment of U. Brandes and B. Köpf, "Fast and simple horizontal coordinate assignment", Graph
Drawing 2001, with lines weighted by reach. Tracks that stand above each other in a column keep
that order, one row apart at least; under these bounds each track is drawn to its neighbours.
"""

from __future__ import annotations

from bisect import bisect_left
from typing import Final

import numpy as np

from trainer.repertoire.railway.layers import Columns, Whole
from trainer.repertoire.railway.ordering import likeliest

ROUNDS: Final = 12


def rows(columns: Columns, place: Whole) -> Whole:
    """The row (v) of each vertex, from 0 at the top, for its place in its column."""
    track = _tracks(columns, place)
    tracks = _Tracks(columns, place, track)
    row = tracks.settle()
    if len(row):
        row -= row.min()
    return row[track]


def _tracks(columns: Columns, place: Whole) -> Whole:
    """The number of the track (v) of each vertex, counted in order of reading."""
    count = len(columns.column)
    onward = likeliest(columns.source, columns.weight, count)
    entry = likeliest(columns.target, columns.weight, count)
    segments = onward[onward >= 0]
    segments = segments[entry[columns.target[segments]] == segments]
    # Of two that cross the likelier stays straight.
    segments = segments[np.lexsort((segments, -columns.weight[segments]))]
    kept: list[tuple[list[int], list[int]]] = [([], []) for _ in range(columns.width)]
    before = np.arange(count)
    gap = columns.column[columns.source[segments]].tolist()
    sources, targets = columns.source[segments].tolist(), columns.target[segments].tolist()
    for number, source, target in zip(gap, sources, targets, strict=True):
        starts, ends = kept[number]
        start, end = int(place[source]), int(place[target])
        at = bisect_left(starts, start)
        if bisect_left(ends, end) == at:
            starts.insert(at, start)
            ends.insert(at, end)
            before[target] = source
    first = before
    while True:
        further = first[first]
        if np.array_equal(further, first):
            return np.unique(first, return_inverse=True)[1].astype(np.int32)
        first = further


class _Tracks:
    """The tracks with their bounds and their neighbours."""

    def __init__(self, columns: Columns, place: Whole, track: Whole) -> None:
        self._count = int(track.max()) + 1 if len(track) else 0
        order = np.lexsort((place, columns.column))
        upper, lower = order[:-1], order[1:]
        same = columns.column[upper] == columns.column[lower]
        pairs = np.unique(np.stack([track[upper[same]], track[lower[same]]], axis=1), axis=0)
        self._over: list[list[int]] = [[] for _ in range(self._count)]
        self._under: list[list[int]] = [[] for _ in range(self._count)]
        for over, under in pairs.tolist():
            self._over[under].append(over)
            self._under[over].append(under)
        self._near: list[list[int]] = [[] for _ in range(self._count)]
        self._from: list[list[int]] = [[] for _ in range(self._count)]
        starts, ends = track[columns.source], track[columns.target]
        joined = starts != ends
        for start, end in zip(starts[joined].tolist(), ends[joined].tolist(), strict=True):
            self._near[start].append(end)
            self._near[end].append(start)
            self._from[end].append(start)

    def settle(self) -> Whole:
        """The row of each track."""
        downward = self._from_the_top()
        row = [0] * self._count
        for track in downward:
            bounds = [row[over] + 1 for over in self._over[track]]
            row[track] = max(bounds, default=0)
        for _ in range(ROUNDS):
            for order in (downward[::-1], downward):
                for track in order:
                    self._draw_near(track, row)
        return np.array(row, np.int64)

    def _draw_near(self, track: int, row: list[int]) -> None:
        near = sorted(row[other] for other in self._near[track] + 2 * self._from[track])
        if not near:
            return
        wanted = near[len(near) // 2]
        if self._over[track]:
            wanted = max(wanted, max(row[over] for over in self._over[track]) + 1)
        if self._under[track]:
            wanted = min(wanted, min(row[under] for under in self._under[track]) - 1)
        row[track] = wanted

    def _from_the_top(self) -> list[int]:
        """The tracks, each behind all that stand above it."""
        missing = [len(over) for over in self._over]
        order = [track for track, count in enumerate(missing) if not count]
        for track in order:
            for under in self._under[track]:
                missing[under] -= 1
                if not missing[under]:
                    order.append(under)
        return order
