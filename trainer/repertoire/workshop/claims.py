"""Keeping conflicts in step with edits: who claims a main move, and when that is settled."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from trainer.repertoire.graph import Edge, Node, Place
from trainer.repertoire.workshop.transaction import Transaction


def claimed_in_order(node: Node, claimed: Collection[Edge]) -> list[Edge]:
    """The claimed moves of a decision in their order of priority, the main one first."""
    return [edge for number, edge in enumerate(node.edges) if number == 0 or edge in claimed]


def settle(transaction: Transaction, node: Node) -> None:
    """No section disputes the main move of `node` any more."""
    repertoire = transaction.repertoire
    transaction.remove_keys(repertoire.claims, (node,))
    for section in repertoire.sections:
        if section.disputes:
            kept = [place for place in section.disputes if place.edge.parent is not node]
            if len(kept) < len(section.disputes):
                transaction.set_list(section.disputes, kept)


def keep_up(transaction: Transaction, nodes: Iterable[Node]) -> None:
    """Bring the claims of positions in step with the moves that they have now."""
    claims = transaction.repertoire.claims
    for node in nodes:
        claimed = claims.get(node)
        if claimed is None:
            continue
        left = claimed_in_order(node, claimed)
        if len(left) < 2:
            settle(transaction, node)
        elif left != claimed:
            transaction.set_key(claims, node, left)


def drop_disputes_through(transaction: Transaction, gone: Collection[Edge]) -> None:
    """Drop the disputed choices whose moves, or moves before them, are gone."""
    for section in transaction.repertoire.sections:
        if section.disputes:
            known: dict[Place, bool] = {}
            kept = [place for place in section.disputes if not _broken(place, gone, known)]
            if len(kept) < len(section.disputes):
                transaction.set_list(section.disputes, kept)


def _broken(place: Place, gone: Collection[Edge], known: dict[Place, bool]) -> bool:
    """Whether a gone move is among the moves up to a place; `known` holds what was found."""
    chain: list[Place] = []
    step: Place | None = place
    broken = False
    while step is not None:
        if step in known:
            broken = known[step]
            break
        chain.append(step)
        if step.edge in gone:
            broken = True
            break
        step = step.before
    for step in chain:
        known[step] = broken
    return broken
