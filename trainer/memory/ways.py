"""By which moves a position is entered today: crossings by each of their orders in turn."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Final, TypeAlias

from trainer.repertoire.arrays import Bools, RepertoireArrays
from trainer.repertoire.graph import Edge

#: When a position was last asked by each entering move: key → (key before, UCI) → time.
LastEntries: TypeAlias = Mapping[int, Mapping[tuple[int, str], datetime]]

_NEVER: Final = datetime.min.replace(tzinfo=UTC)


class Ways:
    """The moves to positions on one day.

    `open` (n) tells where some move order leads through decisions that were all asked before; it
    is the caller's, who opens more as the plan goes on.
    """

    def __init__(
        self, arrays: RepertoireArrays, open_: Bools, last_entries: LastEntries, day: int
    ) -> None:
        self.arrays = arrays
        self.open = open_
        self._last_entries = last_entries
        self._day = day

    def main(self, number: int) -> Edge:
        """The main move of a decision."""
        return self.arrays.edges[int(self.arrays.main_edge[number])]

    def entries(self, number: int) -> list[Edge]:
        """The moves that enter a node, without those that close a cycle."""
        level = self.arrays.level
        return [
            edge
            for edge in self.arrays.nodes[number].entries
            if level[self.arrays.number(edge.parent)] < level[number]
        ]

    def entry(self, number: int) -> Edge | None:
        """The opponent's move by which a decision is entered this time.

        Among orders whose decisions were asked before, the one not used for the longest time.
        """
        used = self._last_entries.get(self.arrays.nodes[number].key, {})
        return min(
            self.entries(number),
            key=lambda edge: (
                not self.open[self.arrays.number(edge.parent)],
                used.get((edge.parent.key, edge.move.uci()), _NEVER) if used else _NEVER,
            ),
            default=None,
        )

    def replies(self, position: int) -> list[int]:
        """The decisions behind an opponent's position that are entered from there this time."""
        level = self.arrays.level
        found = []
        for reply in self.arrays.nodes[position].edges:
            after = self.arrays.number(reply.child)
            if (
                self.arrays.decision[after]
                and level[after] > level[position]
                and self.entry(after) is reply
            ):
                found.append(after)
        return found

    def leading_to(self, position: int) -> list[int]:
        """The decisions whose main move leads to an opponent's position."""
        return [
            parent
            for edge in self.entries(position)
            if self.is_main(edge, parent := self.arrays.number(edge.parent))
        ]

    def is_main(self, edge: Edge, parent: int) -> bool:
        """Whether a move is the main one of the decision where it is played."""
        main = self.arrays.main_edge[parent]
        return bool(main >= 0) and self.arrays.edges[main] is edge

    def open_behind(self, number: int, open_: Bools, seen: Bools) -> list[int]:
        """Open what follows a decision now known, up to the next one that is not; what was."""
        arrays = self.arrays
        opened = []
        behind = [self.main(number).child]
        while behind:
            place = arrays.number(behind.pop())
            if open_[place]:
                continue
            open_[place] = True
            opened.append(place)
            if not arrays.decision[place] or seen[place]:
                behind.extend(edge.child for edge in arrays.nodes[place].edges)
        return opened

    def lead_in(self, number: int) -> tuple[Edge, ...]:
        """The moves that show how a chosen position comes about.

        The player's last one, or his last two where orders cross on the way.
        """
        moves: list[Edge] = []
        crossed = False
        for _ in range(2):
            crossed = crossed or len(self.arrays.nodes[number].entries) > 1
            entry = self.entry(number)
            if entry is None:
                break
            moves.insert(0, entry)
            position = self.arrays.number(entry.parent)
            crossed = crossed or len(self.arrays.nodes[position].entries) > 1
            before = self._way_in(position)
            if before is None:
                break
            moves.insert(0, before)
            number = self.arrays.number(before.parent)
            if not crossed:
                break
        return tuple(moves)

    def moves_before(self, number: int, count: int) -> tuple[Edge, ...]:
        """The last `count` half-moves before a position, by the order whose turn it is."""
        moves: list[Edge] = []
        while len(moves) < count:
            entry = self._way_in(number) if len(moves) % 2 else self.entry(number)
            if entry is None:
                break
            moves.insert(0, entry)
            number = self.arrays.number(entry.parent)
        return tuple(moves)

    def _way_in(self, number: int) -> Edge | None:
        """The player's move that leads to an opponent's position this time.

        Several decisions may lead there. Which of them is shown changes from day to day.
        """
        entries = self.entries(number)
        known = [edge for edge in entries if self.open[self.arrays.number(edge.parent)]]
        entries = known or entries
        mains = [e for e in entries if self.is_main(e, self.arrays.number(e.parent))]
        entries = mains or entries
        return entries[self._day % len(entries)] if entries else None
