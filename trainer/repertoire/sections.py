"""What each section of a file keeps of the moves that it repeats from earlier ones."""

from __future__ import annotations

import chess

from trainer.position import position_key
from trainer.repertoire.graph import Edge, Node, Place, Repertoire, Section


def root_board(section: Section) -> chess.Board | None:
    """The board on which a section begins, or None where that is the usual starting position.

    The FEN tag keeps its move numbers as long as it still is the position of the root.
    """
    fen = section.tags.get("FEN", "")
    if fen:
        try:
            board = chess.Board(fen)
        except ValueError:
            pass
        else:
            if position_key(board) == section.root.key:
                return board
    board = section.root.board()
    return None if board.fen() == chess.STARTING_FEN else board


def settle_claims(repertoire: Repertoire) -> None:
    """Fill `claims` from the disputes of the sections, for the side that is known by now.

    While reading, the first moves that disagree are noted for both colours; those of the
    opponent are no decisions and are dropped here. The claimed moves are in their order of
    priority, so the main one is first.
    """
    claimed: dict[Node, set[Edge]] = {}
    for section in repertoire.sections:
        section.disputes = [
            place for place in section.disputes if place.edge.parent.turn == repertoire.side
        ]
        for place in section.disputes:
            claimed.setdefault(place.edge.parent, set()).add(place.edge)
    repertoire.claims = {
        node: [edge for number, edge in enumerate(node.edges) if number == 0 or edge in edges]
        for node, edges in claimed.items()
    }


def keep_what_counts(section: Section, homed: list[Edge], side: chess.Color) -> None:
    """Drop from `section.stands` the known moves that lead to nothing of this section's own.

    Kept are the moves that it showed first (`homed`), those that lead to them or to a disputed
    choice, and the main move beside any of these, so that no order seems to prefer another. A
    section with nothing of its own keeps its first line.
    """
    stands = section.stands
    if len(homed) == len(stands):
        return
    kept = set(homed)
    for edge in homed:
        _keep_up(stands, stands[edge], kept)
    for place in section.disputes:
        step: Place | None = place
        while step is not None:
            _keep_up(stands, step.edge, kept)
            step = step.before
    if len(kept) == len(stands):
        return
    if not kept:
        kept.update(first_line(stands))
    for known in list(kept):
        main = known.parent.edges[0]
        if main in kept or known.parent.turn != side:
            continue
        if stands.get(main, main) is stands[known]:
            kept.add(main)
    if len(kept) == len(stands):
        return
    section.stands = {edge: before for edge, before in stands.items() if edge in kept}


def first_line(stands: dict[Edge, Edge | None]) -> list[Edge]:
    """The line that takes the first move written at every place, up to where it ends."""
    first: dict[Edge | None, Edge] = {}
    for edge, before in stands.items():
        first.setdefault(before, edge)
    line: list[Edge] = []
    current = first.get(None)
    while current is not None:
        line.append(current)
        current = first.get(current)
    return line


def _keep_up(stands: dict[Edge, Edge | None], edge: Edge | None, kept: set[Edge]) -> None:
    while edge is not None and edge not in kept and edge in stands:
        kept.add(edge)
        edge = stands[edge]
