"""Taking moves and sections out of the graph, with exactly what hangs on them.

What another move order still reaches from the root of some section stays.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable

from trainer.repertoire.graph import Edge, Node, Section
from trainer.repertoire.workshop.claims import drop_disputes_through, keep_up
from trainer.repertoire.workshop.transaction import Transaction


def remove_moves(
    transaction: Transaction, gone: Collection[Edge], left: Iterable[Node] = ()
) -> tuple[int, int]:
    """Remove moves and all that no section root reaches any more; counts positions and moves.

    `left` are positions that were roots before the edit.
    """
    repertoire = transaction.repertoire
    dead = _unreachable(transaction, gone, left)
    dead_edges = dict.fromkeys(gone)
    for node in dead:
        dead_edges.update(dict.fromkeys(node.edges))
    if not dead_edges and not dead:
        return 0, 0
    parents = dict.fromkeys(edge.parent for edge in gone if edge.parent not in dead)
    for node in parents:
        transaction.set_list(node.edges, [edge for edge in node.edges if edge not in dead_edges])
    for node in dict.fromkeys(edge.child for edge in dead_edges if edge.child not in dead):
        transaction.set_list(
            node.entries, [edge for edge in node.entries if edge not in dead_edges]
        )
    transaction.remove_keys(repertoire.nodes, [node.key for node in dead])
    for section in repertoire.sections:
        if not section.stands.keys().isdisjoint(dead_edges):
            transaction.remove_keys(section.stands, dead_edges)
    transaction.remove_keys(repertoire.claims, dead)
    keep_up(transaction, parents)
    drop_disputes_through(transaction, dead_edges)
    return len(dead), len(dead_edges)


def remove_sections(transaction: Transaction, sections: Collection[Section]) -> tuple[int, int]:
    """Remove sections with the moves that stand in no other; counts positions and moves.

    Where another section's order crosses into one that goes, what follows the crossing stays.
    """
    repertoire = transaction.repertoire
    kept = [section for section in repertoire.sections if section not in sections]
    others: dict[Edge, None] = {}
    for section in kept:
        others.update(dict.fromkeys(section.stands))
    own: dict[Edge, None] = {}
    shared: set[Edge] = set()
    for section in sections:
        for edge in section.stands:
            if edge in others:
                shared.add(edge)
            else:
                own[edge] = None
    roots = {section.root for section in sections}
    doors = [edge.child for edge in others if edge not in shared]
    doors += [section.root for section in kept if section.root not in roots]
    for edge in _own_behind(doors, own):
        del own[edge]
    transaction.set_list(repertoire.sections, kept)
    live = {edge: None for edge in own if edge.parent.key in repertoire.nodes}
    return remove_moves(transaction, live, left=roots)


def _own_behind(doors: Iterable[Node], own: Collection[Edge]) -> dict[Edge, None]:
    """The moves of `own` that follow on positions which other orders reach by themselves."""
    found: dict[Edge, None] = {}
    stack = list(dict.fromkeys(doors))
    seen = set(stack)
    while stack:
        for edge in stack.pop().edges:
            if edge in own:
                found[edge] = None
            if edge.child not in seen:
                seen.add(edge.child)
                stack.append(edge.child)
    return found


def _unreachable(
    transaction: Transaction, gone: Collection[Edge], left: Iterable[Node]
) -> dict[Node, None]:
    """What no root reaches without `gone`. Only what is behind these moves is looked at."""
    roots = set(transaction.repertoire.roots)
    behind = dict.fromkeys(edge.child for edge in gone)
    behind.update(dict.fromkeys(node for node in left if node not in roots))
    stack = list(behind)
    while stack:
        for edge in stack.pop().edges:
            if edge.child not in behind and edge not in gone:
                behind[edge.child] = None
                stack.append(edge.child)
    # Alive: roots, and what is entered from outside; then what these lead to.
    alive = {
        node
        for node in behind
        if node in roots
        or any(edge not in gone and edge.parent not in behind for edge in node.entries)
    }
    stack = list(alive)
    while stack:
        for edge in stack.pop().edges:
            if edge not in gone and edge.child in behind and edge.child not in alive:
                alive.add(edge.child)
                stack.append(edge.child)
    return {node: None for node in behind if node not in alive}
