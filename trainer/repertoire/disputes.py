"""Where the orders of one file disagree on the main move of a position.

While a file is read its side may be unknown, so first moves that differ from the main one are
noted for both colours. What they need to survive saving is kept only for the player's own.
"""

from __future__ import annotations

from collections.abc import Iterable

import chess

from trainer.repertoire.graph import Edge, Node, Place, Section


class Written:
    """A move where it stands in the game being read; the root stands for no move.

    It knows the moves written behind it, as a chain from the last to the first. The same moves
    from the root are one place, even where a variation repeats its main move.
    """

    __slots__ = ("before", "behind", "beside", "edge")

    def __init__(self, edge: Edge | None, before: Written | None, beside: Written | None) -> None:
        self.edge = edge
        self.before = before
        self.beside = beside
        self.behind: Written | None = None


def keep_disputes(noted: Iterable[tuple[Section | None, Written]], side: chess.Color) -> None:
    """Fill `Section.disputes` from the places noted while reading.

    Each place is kept with the place in the same section, if there is one, where the main move
    is the first one.
    """
    by_section: dict[int, tuple[Section, list[tuple[Written, Edge]]]] = {}
    for section, written in noted:
        edge = written.edge
        if section is not None and edge is not None and edge.parent.turn == side:
            by_section.setdefault(id(section), (section, []))[1].append((written, edge))
    for section, disputed in by_section.values():
        mains = _places_of_mains(disputed)
        lasting: dict[Written, Place] = {}
        for written, edge in disputed:
            main = mains.pop(edge.parent, None)
            if main is not None:
                section.disputes.append(_lasting(main, lasting))
            section.disputes.append(_lasting(written, lasting))


def _places_of_mains(disputed: list[tuple[Written, Edge]]) -> dict[Node, Written]:
    """For the disputed positions: the first place of the section that has the main move first."""
    nodes = {edge.parent for _, edge in disputed}
    root = disputed[0][0]
    while root.before is not None:
        root = root.before
    found: dict[Node, Written] = {}
    stack = [root]
    while stack:
        place = stack.pop()
        first = behind = place.behind
        while behind is not None:
            stack.append(behind)
            first, behind = behind, behind.beside
        edge = None if first is None else first.edge
        if first is None or edge is None or edge.parent not in nodes:
            continue
        if edge is edge.parent.edges[0]:
            found.setdefault(edge.parent, first)
    return found


def _lasting(written: Written, lasting: dict[Written, Place]) -> Place:
    """The place as the section keeps it, linked to those before it, each made once."""
    missing: list[tuple[Written, Edge]] = []
    step: Written | None = written
    while step is not None and step.edge is not None and step not in lasting:
        missing.append((step, step.edge))
        step = step.before
    place = None if step is None else lasting.get(step)
    for step, edge in reversed(missing):
        place = lasting[step] = Place(edge, place)
    return lasting[written]
