"""What the player wrote on pairs of positions that look alike."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from trainer.repertoire.graph import Node, Repertoire
from trainer.repertoire.orders import order_of, shown_order
from trainer.storage.records import PairNote


@dataclass(frozen=True, eq=False)
class LookAlike:
    """The other position of a pair, and what tells the two apart."""

    node: Node
    note: str


class PairNotes:
    """The notes by pairs of position keys, each pair in any order."""

    def __init__(self, notes: Iterable[PairNote] = ()) -> None:
        self._notes = {frozenset((note.first, note.second)): note.note for note in notes}

    def of(self, first: Node, second: Node) -> str:
        """The note on a pair, empty where there is none."""
        return self._notes.get(frozenset((first.key, second.key)), "")

    def keep(self, first: Node, second: Node, note: str) -> None:
        """Put a note in the place of what was there; an empty one takes it away."""
        pair = frozenset((first.key, second.key))
        self._notes.pop(pair, None)
        if note:
            self._notes[pair] = note

    def look_alikes(self, repertoire: Repertoire, node: Node) -> tuple[LookAlike, ...]:
        """The positions that `node` was told apart from, as far as the repertoire has them."""
        found = []
        for pair, note in self._notes.items():
            if node.key in pair:
                others = [repertoire.nodes.get(key) for key in pair if key != node.key]
                found += [LookAlike(other, note) for other in others if other is not None]
        return tuple(found)


def look_alike_sentence(repertoire: Repertoire, look_alike: LookAlike) -> str:
    """Which position is easily taken for this one, and what is played there, in letters."""
    node = look_alike.node
    edges = order_of(repertoire, node) or ()
    origin = edges[0].parent if edges else node
    order = shown_order(repertoire, origin, [edge.san for edge in edges]).text()
    move = f", where {node.edges[0].san} is prepared" if repertoire.is_decision(node) else ""
    return f"Not to be taken for the position after {order}{move}."
