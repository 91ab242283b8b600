"""The five lists: what each is called, how it may be sorted, and what it says when empty."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import IntEnum
from typing import Any

from trainer.repertoire.order_graph import OrderGraph
from trainer.ui.orders import detail, rows
from trainer.ui.orders.detail import Detail
from trainer.ui.orders.rows import Row
from trainer.ui.orders.words import OrderWords


class Section(IntEnum):
    """The lists in the order of their words."""

    CROSSINGS = 0
    SHORTCUTS = 1
    NEAR_MISSES = 2
    CONFLICTS = 3
    DOORS = 4


#: Sorts entries; the graph knows how deep they lie.
SortKey = Callable[[OrderGraph, Any], Any]


@dataclass(frozen=True)
class Sorting:
    """One way to sort; without a key entries stay as they were found."""

    name: str
    key: SortKey | None = None


@dataclass(frozen=True)
class ListKind:
    """All that is particular to one list."""

    name: str
    row: Callable[[OrderWords, Any], Row]
    empty: str
    sortings: tuple[Sorting, ...]
    detail: Callable[[OrderWords, Any], Detail] | None = None


def _depth(graph: OrderGraph, entry: Any) -> int:
    node = getattr(entry, "node", None) or entry.first
    return graph.depth(node) or 0


_EARLIEST = Sorting("Earliest first", _depth)

KINDS: dict[Section, ListKind] = {
    Section.CROSSINGS: ListKind(
        "Crossings",
        rows.crossing_row,
        "No two move orders of this repertoire reach the same position.",
        (
            Sorting("Most reached first"),
            Sorting("Most orders first", lambda _graph, one: -one.order_count),
            _EARLIEST,
        ),
        detail.crossing_detail,
    ),
    Section.SHORTCUTS: ListKind(
        "Shortcuts",
        rows.shortcut_row,
        "No unlisted reply leads to a position that this repertoire knows.",
        (Sorting("Most reached first"), _EARLIEST),
        detail.shortcut_detail,
    ),
    Section.NEAR_MISSES: ListKind(
        "Near misses",
        rows.near_miss_row,
        "No two decisions of this repertoire look almost the same.",
        (
            Sorting("Different moves first"),
            Sorting("Most reached first", lambda _graph, one: -one.weight),
            _EARLIEST,
        ),
        detail.near_miss_detail,
    ),
    Section.CONFLICTS: ListKind(
        "Conflicts",
        rows.conflict_row,
        "No two sections or move orders claim different main moves.",
        (Sorting("As in the file"), _EARLIEST),
        detail.conflict_detail,
    ),
    Section.DOORS: ListKind(
        "Entry doors",
        rows.door_row,
        "This repertoire has no decision yet, so no position where a system begins.",
        (
            Sorting("Likeliest first"),
            Sorting("Shortest first", lambda _graph, one: len(one.order.edges)),
        ),
    ),
}


def sorted_entries(graph: OrderGraph, entries: Sequence[Any], sorting: Sorting) -> Sequence[Any]:
    """The entries in another order; equal ones stay as they were."""
    key = sorting.key
    return entries if key is None else sorted(entries, key=lambda entry: key(graph, entry))
