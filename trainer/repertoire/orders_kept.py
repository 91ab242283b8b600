"""What the progress file knows of the move orders of a repertoire."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Self

from trainer.repertoire.graph import Node, Repertoire
from trainer.repertoire.order_graph import OrderGraph
from trainer.repertoire.orders_seen import Sightings, orders_in_drills
from trainer.repertoire.reader import LoadedRepertoire
from trainer.storage.answers import Answer
from trainer.storage.progress import ProgressStore
from trainer.storage.records import PairNote


@dataclass(frozen=True)
class KeptOrders:
    """The answers to a repertoire, and what its player wrote on look-alikes."""

    answers: tuple[Answer, ...] = ()
    notes: tuple[PairNote, ...] = ()

    @classmethod
    def of(cls, loaded: LoadedRepertoire, store: ProgressStore) -> Self:
        """What `store`, open to read only, keeps on a repertoire. Raises `ProgressError`."""
        if loaded.path is None:
            return cls()
        repertoire = loaded.repertoire
        keys = [node.key for node in repertoire.decisions()]
        number = store.identify(loaded.path, repertoire.side, keys)
        return cls(tuple(store.answers(number)), tuple(store.pair_notes(number)))

    def sightings(self, graph: OrderGraph) -> Sightings:
        """How often each order was met in drills."""
        return Sightings(graph, orders_in_drills(graph, self.answers))

    def pairs(self, repertoire: Repertoire) -> Iterator[tuple[Node, Node, str]]:
        """The noted pairs that the repertoire still has, the oldest note first."""
        for note in self.notes:
            first, second = repertoire.nodes.get(note.first), repertoire.nodes.get(note.second)
            if first is not None and second is not None:
                yield first, second, note.note
