"""Where in the repertoire the page is, and where a step of editing happened. No Qt."""

from __future__ import annotations

from dataclasses import dataclass, replace

from trainer.repertoire.graph import Edge, Node, Repertoire
from trainer.repertoire.orders import order_of
from trainer.repertoire.workshop import edits
from trainer.repertoire.workshop.edits import Edit


@dataclass(frozen=True)
class Spot:
    """A position by the way the player came, and the line that is chosen there."""

    root: Node
    way: tuple[Edge, ...] = ()
    chosen: Edge | None = None

    @property
    def node(self) -> Node:
        """The position."""
        return self.way[-1].child if self.way else self.root

    @property
    def entry(self) -> Edge | None:
        """The last move of the way, whose note the page shows."""
        return self.way[-1] if self.way else None

    def on(self, edge: Edge) -> Spot:
        """One move further."""
        return Spot(self.root, (*self.way, edge))

    def back(self) -> Spot:
        """One move back, with the line chosen that was left."""
        return Spot(self.root, self.way[:-1], self.way[-1]) if self.way else self

    def still_there(self, repertoire: Repertoire) -> Spot | None:
        """As much of the way as is left after an edit; None where its beginning is gone."""
        if repertoire.nodes.get(self.root.key) is not self.root:
            return None
        if self.root not in repertoire.roots:
            return None
        left: list[Edge] = []
        for edge in self.way:
            if edge not in edge.parent.edges or edge.child.key not in repertoire.nodes:
                break
            left.append(edge)
        if len(left) == len(self.way):
            gone = self.chosen is not None and self.chosen not in self.node.edges
            return replace(self, chosen=None) if gone else self
        return Spot(self.root, tuple(left))


def spot_of(repertoire: Repertoire, node: Node, near: Spot | None = None) -> Spot | None:
    """A position by a shortest way, or by the way of `near` where that comes by it.

    None where no section leads there.
    """
    if near is not None:
        if near.node is node:
            return near
        if near.root is node:
            return Spot(node)
        for number, edge in enumerate(near.way, start=1):
            if edge.child is node:
                return Spot(near.root, near.way[:number])
    order = order_of(repertoire, node)
    if order is None:
        return None
    return Spot(order[0].parent if order else node, order)


def first_spot(repertoire: Repertoire) -> Spot | None:
    """Where the first section begins."""
    roots = repertoire.roots
    return Spot(roots[0]) if roots else None


def order_by(repertoire: Repertoire, entering: Edge) -> tuple[Edge, ...] | None:
    """A shortest move order that reaches a position by one of the moves that enter it.

    None where that only repeats the position.
    """
    before = order_of(repertoire, entering.parent)
    if before is None or any(edge.parent is entering.child for edge in before):
        return None
    return (*before, entering)


def other_way(repertoire: Repertoire, spot: Spot) -> Spot | None:
    """The same position by another move order; None where there is one only.

    The order parts from the present one at the last crossing on the way, and takes the next of
    the moves that enter it.
    """
    node = spot.node
    if not spot.way:
        # A starting position: the next one, as a way around for files with several.
        roots = repertoire.roots
        if len(roots) < 2:
            return None
        return Spot(roots[(roots.index(node) + 1) % len(roots)])
    for number in range(len(spot.way), 0, -1):
        edge, rest = spot.way[number - 1], spot.way[number:]
        entries = edge.child.entries
        at = entries.index(edge) if edge in entries else -1
        for step in range(1, len(entries)):
            order = order_by(repertoire, entries[(at + step) % len(entries)])
            if order is not None:
                return Spot(order[0].parent, (*order, *rest))
    return None


def has_other_way(repertoire: Repertoire, spot: Spot) -> bool:
    """Whether there may be another way, without looking for it."""
    if not spot.way:
        return len(repertoire.roots) > 1
    return any(len(edge.child.entries) > 1 for edge in spot.way)


def spot_of_edit(repertoire: Repertoire, edit: Edit, near: Spot | None) -> Spot | None:
    """Where an edit was made, or would be made again."""
    node = repertoire.nodes.get(getattr(edit, "position", -1))
    if node is None:
        number = getattr(edit, "section", None)
        if isinstance(number, int) and 0 <= number < len(repertoire.sections):
            return Spot(repertoire.sections[number].root)
        return near or first_spot(repertoire)
    spot = spot_of(repertoire, node, near)
    name = getattr(edit, "move", "")
    edge = next((edge for edge in node.edges if edge.move.uci() == name), None)
    if spot is None or edge is None:
        return spot
    if not isinstance(edit, edits.SetComments | edits.SetBefore | edits.SetNags):
        return replace(spot, chosen=edge)
    return near if near is not None and near.entry is edge else spot.on(edge)
