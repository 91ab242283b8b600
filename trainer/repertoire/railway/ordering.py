"""The order of the vertices inside each column, with few crossings of lines.

The sweep of barycentres is that of K. Sugiyama, S. Tagawa and M. Toda, "Methods for visual
understanding of hierarchical system structures", IEEE Transactions SMC 11 (2), 1981: each column
is sorted by the mean place of the neighbours in the column before, then in the column behind.
It starts from a depth-first walk, which draws a tree without any crossing, and from the order in
which moves were read; the better outcome is kept.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from trainer.repertoire.arrays import Floats
from trainer.repertoire.railway.layers import Columns, Whole
from trainer.repertoire.railway.switching import switched

SWEEPS: Final = 24
#: Sweeps without a gain after which the ordering stops.
PATIENCE: Final = 4


def crossing_count(columns: Columns, place: Whole) -> int:
    """How many pairs of segments cross when the vertices stand at `place` (v) in their columns.

    Segments that share an end do not cross. Counted as inversions, bit by bit, in
    O(s log s) numpy work.
    """
    if not len(columns.source):
        return 0
    left = columns.column[columns.source].astype(np.int64)
    most = int(place.max()) + 1
    by_start = np.lexsort((place[columns.target], place[columns.source], left))
    values = left[by_start] * most + place[columns.target][by_start]
    return _inversions(np.unique(values, return_inverse=True)[1].astype(np.int64))


def _inversions(values: Whole) -> int:
    """Pairs i < j with values[i] > values[j]."""
    total = 0
    for bit in range(int(values.max()).bit_length() - 1, -1, -1):
        # Sorted by the higher bits: pairs that first differ in this one are counted.
        group = values >> (bit + 1)
        order = np.argsort(group, kind="stable")
        group, one = group[order], (values[order] >> bit) & 1
        before = np.cumsum(one) - one
        first = np.flatnonzero(np.diff(group, prepend=-1))
        base = np.repeat(before[first], np.diff(np.append(first, len(group))))
        total += int(((before - base) * (1 - one)).sum())
    return total


def reading_order(columns: Columns) -> Whole:
    """The places (v) of vertices in their columns in the order in which they were read."""
    return _places(columns.column, np.arange(len(columns.column)))


def _places(column: Whole, key: Floats | Whole) -> Whole:
    order = np.lexsort((key, column))
    sorted_column = column[order]
    first = np.searchsorted(sorted_column, sorted_column)
    place = np.empty(len(column), np.int32)
    place[order] = np.arange(len(column)) - first
    return place


def ordered(columns: Columns) -> Whole:
    """The places (v) of the vertices in their columns, from 0 at the top of each.

    Never more crossings than in the depth-first walk or in the order of reading.
    """
    sweeper = _Sweeper(columns)
    starts = (walk_order(columns), reading_order(columns))
    found = [_swept(columns, sweeper, start) for start in starts]
    return switched(columns, min(found, key=lambda one: one[0])[1])


def _swept(columns: Columns, sweeper: _Sweeper, place: Whole) -> tuple[int, Whole]:
    """The fewest crossings that sweeping from `place` comes to, and the places then."""
    best, fewest = place, crossing_count(columns, place)
    idle = 0
    for sweep in range(SWEEPS):
        if not fewest or idle >= PATIENCE:
            break
        place = sweeper.sweep(place, back=sweep % 2 == 0)
        crossings = crossing_count(columns, place)
        idle += 1
        if crossings < fewest:
            best, fewest, idle = place, crossings, 0
    return fewest, best


@dataclass(frozen=True, eq=False)
class _Gap:
    """The segments between two columns: local numbers of their ends in the two columns."""

    left: Whole
    right: Whole


class _Sweeper:
    def __init__(self, columns: Columns) -> None:
        by_column = np.argsort(columns.column, kind="stable")
        bounds = np.searchsorted(columns.column[by_column], np.arange(columns.width + 1))
        self._members = [
            by_column[bounds[number] : bounds[number + 1]] for number in range(columns.width)
        ]
        local = np.empty(len(columns.column), np.int64)
        for members in self._members:
            local[members] = np.arange(len(members))
        left = columns.column[columns.source]
        order = np.argsort(left, kind="stable")
        gaps = np.searchsorted(left[order], np.arange(columns.width))
        self._gaps = [
            _Gap(
                local[columns.source[order[gaps[number] : gaps[number + 1]]]],
                local[columns.target[order[gaps[number] : gaps[number + 1]]]],
            )
            for number in range(columns.width - 1)
        ]

    def sweep(self, place: Whole, *, back: bool) -> Whole:
        """One pass over all columns, from the first or back from the last."""
        places = [place[members] for members in self._members]
        numbers = range(len(self._gaps))
        for number in reversed(numbers) if back else numbers:
            gap = self._gaps[number]
            moved, fixed = (number, number + 1) if back else (number + 1, number)
            mine, theirs = (gap.left, gap.right) if back else (gap.right, gap.left)
            places[moved] = _by_barycentre(places[moved], mine, places[fixed][theirs])
        result = np.empty_like(place)
        for members, values in zip(self._members, places, strict=True):
            result[members] = values
        return result


def _by_barycentre(place: Whole, mine: Whole, theirs: Whole) -> Whole:
    """The new places in a column whose vertices `mine` have neighbours at `theirs`.

    A vertex without a neighbour stays beside the one that stands before it now.
    """
    count = np.bincount(mine, minlength=len(place))
    total = np.bincount(mine, theirs, minlength=len(place))
    order = np.argsort(place)
    centre = np.where(count[order] > 0, total[order] / np.maximum(count[order], 1), -1.0)
    known = np.maximum.accumulate(np.where(centre >= 0, np.arange(len(centre)), 0))
    centre = centre[known]
    result = np.empty_like(place)
    result[order[np.argsort(centre, kind="stable")]] = np.arange(len(place))
    return result


def walk_order(columns: Columns) -> Whole:
    """The places (v) by a depth-first walk that keeps the likeliest move in the middle.

    The other moves go above and below in turn, to the side where less stands so far.
    """
    size = _subtree_sizes(columns)
    onward: list[list[int]] = [[] for _ in columns.column]
    by_weight = np.lexsort((columns.edge, -size[columns.target], -columns.weight))
    for segment in by_weight.tolist():
        onward[columns.source[segment]].append(int(columns.target[segment]))
    entered = np.zeros(len(columns.column), np.bool_)
    entered[columns.target] = True
    sizes = size.tolist()
    stack = np.flatnonzero(~entered)[::-1].tolist()
    rank = [-1] * len(columns.column)
    taken = 0
    while stack:
        vertex = stack.pop()
        if rank[vertex] >= 0:
            continue
        rank[vertex] = taken
        taken += 1
        stack.extend(reversed(_around_the_first(onward[vertex], sizes)))
    return _places(columns.column, np.array(rank, np.int64))


def _around_the_first(children: list[int], sizes: list[int]) -> list[int]:
    """The children from top to bottom, the first of them in the middle."""
    over: list[int] = []
    under: list[int] = []
    weight_over = weight_under = 0
    for child in children[1:]:
        if weight_over < weight_under:
            over.append(child)
            weight_over += sizes[child]
        else:
            under.append(child)
            weight_under += sizes[child]
    return [*reversed(over), *children[:1], *under]


def _subtree_sizes(columns: Columns) -> Whole:
    """How many vertices hang on each one (v) in the tree of the likeliest entries."""
    size = np.ones(len(columns.column), np.int64)
    entry = likeliest(columns.target, columns.weight, len(columns.column))
    segments = entry[entry >= 0]
    left = columns.column[columns.source[segments]]
    for number in range(columns.width - 2, -1, -1):
        here = segments[left == number]
        np.add.at(size, columns.source[here], size[columns.target[here]])
    return size


def likeliest(end: Whole, weight: Floats, count: int) -> Whole:
    """For each vertex (`count`) the segment of most weight that has it at its `end`, or -1."""
    result = np.full(count, -1, np.int64)
    order = np.argsort(-weight, kind="stable")[::-1]
    result[end[order]] = order  # the last one written is the heaviest, the first of equals
    return result
