"""Growing one repertoire's moves onto another: the common part of pasting and merging."""

from __future__ import annotations

from dataclasses import dataclass, field

from trainer.notation.fastboard import FastBoard
from trainer.repertoire.graph import Edge, Node, Repertoire, Section
from trainer.repertoire.workshop.text import clean_paragraphs
from trainer.repertoire.workshop.transaction import Transaction


@dataclass
class Graft:
    """Which moves stand for those of the other repertoire here.

    `added` are the new ones in the order of the text; `met` those of them whose position was
    known before anything was added.
    """

    of: dict[Edge, Edge] = field(default_factory=dict)
    added: dict[Edge, None] = field(default_factory=dict)
    met: list[Edge] = field(default_factory=list)
    known: int = 0


def graft(transaction: Transaction, other: Repertoire) -> Graft:
    """Add all moves of `other` with their comments and signs; they stand in no section yet.

    Raises `KeyCollisionError`.
    """
    found = Graft()
    before = set(transaction.repertoire.nodes)
    for section in other.sections:
        for edge in section.stands:
            if edge not in found.of:
                _take(transaction, found, edge, before)
    return found


def root_of(transaction: Transaction, section: Section) -> Node:
    """The root of another repertoire's section, made here where it is new."""
    return transaction.add_position(FastBoard(section.root.packed, section.root.key))


def _take(transaction: Transaction, found: Graft, edge: Edge, before: set[int]) -> None:
    parent = transaction.add_position(FastBoard(edge.parent.packed, edge.parent.key))
    mine = parent.edge_for(edge.move)
    if mine is None:
        child = transaction.add_position(FastBoard(edge.child.packed, edge.child.key))
        mine = transaction.add_edge(parent, edge.move, child, edge.san)
        found.added[mine] = None
        if child.key in before:
            found.met.append(mine)
    else:
        found.known += 1
    found.of[edge] = mine
    transaction.set_attribute(mine, "nags", tuple(dict.fromkeys(mine.nags + edge.nags)))
    for name in ("comments", "before"):
        said = clean_paragraphs(getattr(edge, name))
        if said:
            both = tuple(dict.fromkeys(getattr(mine, name) + said))
            transaction.set_attribute(mine, name, both)
