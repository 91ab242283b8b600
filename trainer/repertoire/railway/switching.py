"""Fewer crossings still: neighbours in a column change places where that helps.

The greedy switching of P. Eades and D. Kelly, "Heuristics for reducing crossings in 2-layered
networks", Ars Combinatoria 21.A, 1986, counted towards both neighbouring columns at once.
"""

from __future__ import annotations

from bisect import bisect_left
from typing import Final

import numpy as np

from trainer.repertoire.railway.layers import Columns, Whole

PASSES: Final = 12


def switched(columns: Columns, place: Whole) -> Whole:
    """The places (v) after neighbours changed theirs; never more crossings than before."""
    count = len(columns.column)
    before: list[list[int]] = [[] for _ in range(count)]
    behind: list[list[int]] = [[] for _ in range(count)]
    for source, target in zip(columns.source.tolist(), columns.target.tolist(), strict=True):
        behind[source].append(target)
        before[target].append(source)
    places: list[int] = place.tolist()
    members: list[list[int]] = [[] for _ in range(columns.width)]
    column = columns.column.tolist()
    for vertex in np.argsort(place, kind="stable").tolist():
        members[column[vertex]].append(vertex)
    for _ in range(PASSES):
        changes = [_switch(order, before, behind, places) for order in members]
        if not any(changes):
            break
    return np.array(places, np.int32)


def _switch(
    order: list[int], before: list[list[int]], behind: list[list[int]], places: list[int]
) -> bool:
    """Go down one column once; whether anything changed."""
    left = [sorted(places[other] for other in before[vertex]) for vertex in order]
    right = [sorted(places[other] for other in behind[vertex]) for vertex in order]
    changed = False
    for upper in range(len(order) - 1):
        lower = upper + 1
        kept = _crossings(left[upper], left[lower]) + _crossings(right[upper], right[lower])
        if not kept:
            continue
        turned = _crossings(left[lower], left[upper]) + _crossings(right[lower], right[upper])
        if turned < kept:
            changed = True
            order[upper], order[lower] = order[lower], order[upper]
            left[upper], left[lower] = left[lower], left[upper]
            right[upper], right[lower] = right[lower], right[upper]
    for index, vertex in enumerate(order):
        places[vertex] = index
    return changed


def _crossings(upper: list[int], lower: list[int]) -> int:
    """How many lines to the places `upper` cross those to `lower`, both sorted."""
    if not upper or not lower or upper[-1] <= lower[0]:
        return 0
    return sum(bisect_left(lower, place) for place in upper)
