"""Move orders: the moves by which a position is reached.

A breadth-first walk against the moves finds a shortest order; it visits each position once, so
cycles do no harm.
"""

from __future__ import annotations

from collections import deque

from trainer.repertoire.graph import Edge, Node, Repertoire


def order_of(
    repertoire: Repertoire, node: Node, avoid: Node | None = None
) -> tuple[Edge, ...] | None:
    """One shortest move order from a root to `node`, empty at a root, None where none leads.

    The order does not pass through `avoid`. Of equally short orders the one through the earlier
    entering moves is taken.
    """
    roots = {root.key for root in repertoire.roots}
    if node.key in roots:
        return ()
    onward: dict[int, Edge] = {}
    queue = deque([node])
    while queue:
        for edge in queue.popleft().entries:
            before = edge.parent
            if before.key in onward or before is node or before is avoid:
                continue
            onward[before.key] = edge
            if before.key in roots:
                return _walk(before, node, onward)
            queue.append(before)
    return None


def order_through(repertoire: Repertoire, entering: Edge) -> tuple[Edge, ...] | None:
    """One shortest move order that reaches a position by `entering`, and not before it.

    None where no such order exists: the move then only repeats the position.
    """
    before = order_of(repertoire, entering.parent, avoid=entering.child)
    return None if before is None else (*before, entering)


def orders_to(repertoire: Repertoire, node: Node) -> list[tuple[Edge, ...]]:
    """One shortest move order for each move that enters `node`, in the order of these moves."""
    found = (order_through(repertoire, edge) for edge in node.entries)
    return [order for order in found if order is not None]


def _walk(start: Node, end: Node, onward: dict[int, Edge]) -> tuple[Edge, ...]:
    order = []
    current = start
    while current is not end:
        edge = onward[current.key]
        order.append(edge)
        current = edge.child
    return tuple(order)
