"""The lines of the plan as they are drawn from afar: straight strokes, as few as will do.

What lies on each other in one pen is one stroke: a branch with forty replies needs one stroke up
and down, and a line of twenty moves one across.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QLineF

if TYPE_CHECKING:
    from trainer.repertoire.arrays import Bools, Floats
    from trainer.repertoire.railway.layers import Whole


def strokes(
    pens: Whole, start: Floats, end: Floats, rail: Floats, slanted: Bools
) -> dict[int, list[QLineF]]:
    """The strokes of each pen.

    For s pieces of line: `pens` (s), `start` and `end` (s × 2) in plan units, `rail` (s) where a
    piece changes its row, `slanted` (s) which are drawn straight from end to end instead.
    """
    found: dict[int, list[QLineF]] = {}
    for pen in np.unique(pens).tolist():
        mine = pens == pen
        slant = mine & slanted
        lines = [
            QLineF(x0, y0, x1, y1)
            for (x0, y0), (x1, y1) in zip(start[slant].tolist(), end[slant].tolist(), strict=True)
        ]
        mine &= ~slanted
        level = mine & (start[:, 1] == end[:, 1])
        bent = mine & ~level
        row = np.concatenate([start[level, 1], start[bent, 1], end[bent, 1]])
        left = np.concatenate([start[level, 0], start[bent, 0], rail[bent]])
        right = np.concatenate([end[level, 0], rail[bent], end[bent, 0]])
        lines += [QLineF(x0, y, x1, y) for y, x0, x1 in _joined(row, left, right)]
        top = np.minimum(start[bent, 1], end[bent, 1])
        bottom = np.maximum(start[bent, 1], end[bent, 1])
        lines += [QLineF(x, y0, x, y1) for x, y0, y1 in _joined(rail[bent], top, bottom)]
        found[pen] = lines
    return found


def _joined(level: Floats, begin: Floats, end: Floats) -> list[tuple[float, float, float]]:
    """Intervals on levels, with those that touch or overlap on one level made one."""
    if not len(level):
        return []
    order = np.lexsort((begin, level))
    level, begin, end = level[order], begin[order], end[order]
    # Levels are set so far apart that the furthest end so far never reaches the next one.
    span = float(max(end.max(), begin.max()) - begin.min()) + 1.0
    shift = np.concatenate([[0], np.cumsum(np.diff(level) > 0)]) * span
    furthest = np.maximum.accumulate(end + shift)
    first = np.concatenate([[True], (begin + shift)[1:] > furthest[:-1] + 1e-6])
    starts = np.flatnonzero(first)
    last = np.append(starts[1:], len(level)) - 1
    ends = furthest[last] - shift[last]
    return list(zip(level[starts].tolist(), begin[starts].tolist(), ends.tolist(), strict=True))
