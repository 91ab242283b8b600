"""Walking along the lines of the plan with the keys. No Qt."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from trainer.repertoire.railway.layout import MapLayout
    from trainer.ui.map.plan import Plan


class Walker:
    """Where the walk stands on the plan, and the way it came."""

    def __init__(self, plan: Plan) -> None:
        self._plan = plan
        self._way: list[int] = []

    @property
    def place(self) -> int | None:
        """The number of the chosen position, None before any is chosen."""
        return self._way[-1] if self._way else None

    def go(self, number: int) -> None:
        """Stand on a position, wherever the walk was."""
        if not self._way or self._way[-1] != number:
            self._way = [number]

    def ahead(self, layout: MapLayout) -> int | None:
        """Follow the main or first move; the new place, None where the line shows no more."""
        place = self.place
        if place is None:
            return None
        for child in self._children(place, layout):
            self._way.append(child)
            return child
        return None

    def back(self, layout: MapLayout) -> int | None:
        """Back the way the walk came, else along the likeliest move that leads here."""
        if len(self._way) > 1:
            self._way.pop()
            return self._way[-1]
        place = self.place
        before = None if place is None else self._before(place, layout)
        if before is not None:
            self._way = [before]
        return before

    def beside(self, step: int, layout: MapLayout) -> int | None:
        """The sibling above (-1) or below (1); else the next position in the same column."""
        place = self.place
        if place is None:
            return None
        before = self._way[-2] if len(self._way) > 1 else self._before(place, layout)
        others = [] if before is None else self._children(before, layout)
        found = _next(place, others, step, layout)
        if found is not None:
            assert before is not None
            self._way = [*self._way[:-2], before, found]
            return found
        column = np.flatnonzero(layout.visible & (layout.x == layout.x[place])).tolist()
        found = _next(place, column, step, layout)
        if found is not None:
            self._way = [found]
        return found

    def _children(self, number: int, layout: MapLayout) -> list[int]:
        if layout.folded[number]:
            return []
        children = self._plan.arrays.child[list(self._plan.arrays.edges_of(number))].tolist()
        return [child for child in children if layout.visible[child]]

    def _before(self, number: int, layout: MapLayout) -> int | None:
        arrays = self._plan.arrays
        entering = np.flatnonzero(arrays.child == number)
        parents = arrays.parent[entering]
        shown = layout.visible[parents] & ~layout.folded[parents]
        if not shown.any():
            return None
        reach = np.where(shown, self._plan.reach[parents], -1.0)
        return int(parents[np.argmax(reach)])


def _next(place: int, others: list[int], step: int, layout: MapLayout) -> int | None:
    """Of `others` the nearest above or below `place`."""
    here = int(layout.y[place]) * step
    ahead = [other for other in others if int(layout.y[other]) * step > here]
    return min(ahead, key=lambda other: int(layout.y[other]) * step, default=None)
