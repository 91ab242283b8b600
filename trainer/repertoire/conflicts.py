"""Conflicts: decisions for which sections or move orders prepare different main moves."""

from __future__ import annotations

from dataclasses import dataclass

from trainer.repertoire.graph import Edge, Node, Repertoire, Section


@dataclass(frozen=True)
class Claim:
    """A move that is claimed as the main one, with the sections that do."""

    edge: Edge
    sections: tuple[Section, ...]


@dataclass(frozen=True)
class Conflict:
    """A decision in dispute. The first claim is the move that stands first now."""

    node: Node
    claims: tuple[Claim, ...]


def find_conflicts(repertoire: Repertoire) -> list[Conflict]:
    """All open conflicts, in the order in which they were read."""
    return [
        Conflict(
            node,
            tuple(
                Claim(edge, _claiming(repertoire, edge))
                for edge in repertoire.claims[node]
                if edge in node.edges
            ),
        )
        for node in repertoire.conflicts()
    ]


def resolve_conflict(repertoire: Repertoire, node: Node, chosen: Edge) -> None:
    """Settle the conflict at `node`: `chosen` becomes the main move.

    The other moves stay as accepted alternatives in their order, and no section disputes the
    decision any more, so that it stays settled when it is saved and read again.

    Raises `ValueError` where `chosen` is not a move of `node`.
    """
    if chosen not in node.edges:
        raise ValueError(f"{chosen!r} is not prepared in {node!r}")
    node.edges.remove(chosen)
    node.edges.insert(0, chosen)
    repertoire.claims.pop(node, None)
    for section in repertoire.sections:
        section.disputes = [place for place in section.disputes if place.edge.parent is not node]


def _claiming(repertoire: Repertoire, edge: Edge) -> tuple[Section, ...]:
    disputing = [
        section
        for section in repertoire.sections
        if any(place.edge is edge for place in section.disputes)
    ]
    if edge is edge.parent.edges[0]:
        # The move that came first was prepared without a dispute, where it was read first.
        first = next((one for one in repertoire.sections if edge in one.stands), None)
        if first is not None and first not in disputing:
            disputing.insert(0, first)
    return tuple(disputing)
