"""Where a new move stands: the section that writes it, and the move before it there."""

from __future__ import annotations

from collections.abc import Iterable

import chess

from trainer.notation.fastboard import FastBoard
from trainer.repertoire.graph import Edge, Node, Repertoire, Section
from trainer.repertoire.workshop.transaction import Transaction


def play(
    transaction: Transaction, node: Node, move: chess.Move, wanted: Section | None = None
) -> tuple[Edge, bool]:
    """Add a legal move that is new at `node`; returns it and whether its position was known.

    It stands in the section `wanted` if that one comes to this position, else beside the other
    moves of the position, else behind a move that enters it.
    """
    san = node.board().san(move)
    after = FastBoard(node.packed, node.key)
    after.push(move)
    known = after.key in transaction.repertoire.nodes
    child = transaction.add_position(after)
    edge = transaction.add_edge(node, move, child, san)
    place = place_of(transaction.repertoire, edge, wanted)
    if place is not None:
        section, before = place
        transaction.add_key(section.stands, edge, before)
    return edge, known


def place_of(
    repertoire: Repertoire, edge: Edge, wanted: Section | None = None
) -> tuple[Section, Edge | None] | None:
    """The section where a new move may stand, and the move before it there; None if nowhere."""
    node = edge.parent
    sections: Iterable[Section] = repertoire.sections
    if wanted is not None:
        sections = (wanted, *sections)
    siblings = [other for other in node.edges if other is not edge]
    if wanted is None:
        for section in sections:
            for other in siblings:
                if other in section.stands:
                    before = section.stands[other]
                    if _stands_behind(section, node, before):
                        return section, before
    for section in sections:
        if section.root is node:
            return section, None
        for entry in node.entries:
            if entry is not edge and entry in section.stands:
                return section, entry
    return None


def _stands_behind(section: Section, node: Node, before: Edge | None) -> bool:
    if before is None:
        return section.root is node
    return before.child is node and before in section.stands
