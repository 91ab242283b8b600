"""The five lists: what each is called, how it may be sorted, and what it says when empty."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from enum import IntEnum
from typing import Any

from trainer.repertoire.graph import Node
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


#: Sorts entries; the words know how deep they lie and how often they were met.
SortKey = Callable[[OrderWords, Any], Any]


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
    #: What is the same for an entry of a changed repertoire.
    identity: Callable[[Any], Hashable]
    #: A position of an entry.
    node: Callable[[Any], Node]
    detail: Callable[[OrderWords, Any], Detail] | None = None


def _depth(words: OrderWords, entry: Any) -> int:
    node = getattr(entry, "node", None) or entry.first
    return words.graph.depth(node) or 0


_EARLIEST = Sorting("Earliest first", _depth)

KINDS: dict[Section, ListKind] = {
    Section.CROSSINGS: ListKind(
        "Crossings",
        rows.crossing_row,
        "No two move orders of this repertoire reach the same position.",
        (
            Sorting("Most reached first"),
            Sorting("Most often met first", lambda words, one: -words.sightings.times(one.node)),
            Sorting("Most orders first", lambda _words, one: -one.order_count),
            _EARLIEST,
        ),
        lambda one: one.node.key,
        lambda one: one.node,
        detail.crossing_detail,
    ),
    Section.SHORTCUTS: ListKind(
        "Shortcuts",
        rows.shortcut_row,
        "No unlisted reply leads to a position that this repertoire knows.",
        (Sorting("Most reached first"), _EARLIEST),
        lambda one: (one.node.key, one.moves),
        lambda one: one.node,
        detail.shortcut_detail,
    ),
    Section.NEAR_MISSES: ListKind(
        "Near misses",
        rows.near_miss_row,
        "No two decisions of this repertoire look almost the same.",
        (
            Sorting("Different moves first"),
            Sorting("Most reached first", lambda _words, one: -one.weight),
            _EARLIEST,
        ),
        lambda one: frozenset((one.first.key, one.second.key)),
        lambda one: one.first,
        detail.near_miss_detail,
    ),
    Section.CONFLICTS: ListKind(
        "Conflicts",
        rows.conflict_row,
        "No two sections or move orders claim different main moves.",
        (Sorting("As in the file"), _EARLIEST),
        lambda one: one.node.key,
        lambda one: one.node,
        detail.conflict_detail,
    ),
    Section.DOORS: ListKind(
        "Entry doors",
        rows.door_row,
        "This repertoire has no decision yet, so no position where a system begins.",
        (
            Sorting("Likeliest first"),
            Sorting("Shortest first", lambda _words, one: len(one.order.edges)),
        ),
        lambda one: one.order.ucis,
        lambda one: one.order.nodes[-1],
    ),
}


def sorted_entries(words: OrderWords, entries: Sequence[Any], sorting: Sorting) -> Sequence[Any]:
    """The entries in another order; equal ones stay as they were."""
    key = sorting.key
    return entries if key is None else sorted(entries, key=lambda entry: key(words, entry))
