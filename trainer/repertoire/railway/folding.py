"""What to fold away at first, so that a large repertoire is shown by its likeliest lines."""

from __future__ import annotations

from heapq import heappop, heappush

from trainer.repertoire.arrays import Floats, RepertoireArrays


def unlikely(arrays: RepertoireArrays, reach: Floats, most: int) -> frozenset[int]:
    """The positions to fold so that about `most` are shown, the likeliest.

    From the starting positions on, the likeliest position that is shown is opened, as long as no
    more than `most` are shown then. Nothing is folded where all have room, nor where only the
    last position of a line would be hidden: its own sign takes less room than a count.
    """
    if len(arrays.nodes) <= most:
        return frozenset()
    shown = set(arrays.roots.tolist())
    waiting: list[tuple[float, int]] = []
    for root in shown:
        heappush(waiting, (-float(reach[root]), root))
    closed = []
    while waiting:
        _, number = heappop(waiting)
        new = _new(arrays, number, shown)
        last = len(new) == 1 and not arrays.edges_of(new[0])
        if len(shown) + len(new) > most and not last:
            closed.append(number)
            continue
        shown.update(new)
        for child in new:
            heappush(waiting, (-float(reach[child]), child))
    # What hung on some of them was shown by another order after all.
    return frozenset(number for number in closed if _new(arrays, number, shown))


def _new(arrays: RepertoireArrays, number: int, shown: set[int]) -> list[int]:
    """The positions that a move leads to from `number` and that are not shown yet."""
    return sorted({int(arrays.child[edge]) for edge in arrays.edges_of(number)} - shown)
