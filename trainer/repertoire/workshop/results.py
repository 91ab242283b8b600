"""What an edit tells: what was added, what joined known positions, what went away."""

from __future__ import annotations

from dataclasses import dataclass

from trainer.notation.display import Notation
from trainer.repertoire.graph import Edge, Node, Repertoire, Section
from trainer.repertoire.orders import MoveOrder, order_of, shown_order
from trainer.repertoire.report import Skipped


@dataclass(frozen=True)
class Joined:
    """A new move led to a position that was known: `order` is a shortest move order to it."""

    node: Node
    order: MoveOrder

    def sentence(self, notation: Notation = "letters") -> str:
        """What the window says at the move."""
        return f"This is the position after {self.order.text(notation)}."


@dataclass(frozen=True)
class Added:
    """A move that was played into the repertoire.

    `joined` is None where its position is new. `existed` tells that the move was there already,
    so that nothing was changed.
    """

    edge: Edge
    joined: Joined | None = None
    existed: bool = False


@dataclass(frozen=True)
class Removed:
    """How many positions and moves went away."""

    positions: int
    moves: int


@dataclass(frozen=True)
class Pasted:
    """What was pasted: new moves, those of them that joined known positions, and the rest.

    `known` counts the moves that were there already. `skipped` is what could not be read, with
    the number of the game and the line in the pasted text.
    """

    added: tuple[Edge, ...]
    joined: tuple[tuple[Edge, Joined], ...]
    known: int
    skipped: tuple[Skipped, ...]


@dataclass(frozen=True)
class Merged:
    """What came from another repertoire; `conflicts` are decisions now in dispute."""

    sections: tuple[Section, ...]
    added: tuple[Edge, ...]
    known: int
    conflicts: tuple[Node, ...]


@dataclass(frozen=True)
class Edited:
    """An edit that has nothing else to tell than the section or position it was made in."""

    section: Section | None = None
    node: Node | None = None


Result = Added | Removed | Pasted | Merged | Edited


def joined(repertoire: Repertoire, node: Node) -> Joined | None:
    """How a known position is reached; None where no root leads to it."""
    order = order_of(repertoire, node)
    if order is None:
        return None
    origin = order[0].parent if order else node
    return Joined(node, shown_order(repertoire, origin, [edge.san for edge in order]))
