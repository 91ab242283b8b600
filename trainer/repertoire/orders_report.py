"""The move orders of a repertoire as plain values, for `stemline orders --json`."""

from __future__ import annotations

from trainer.repertoire.conflicts import find_conflicts
from trainer.repertoire.crossings import find_crossings
from trainer.repertoire.graph import Node
from trainer.repertoire.order_graph import OrderGraph
from trainer.repertoire.orders_kept import KeptOrders
from trainer.repertoire.orders_seen import Sightings
from trainer.repertoire.shortcuts import find_shortcuts


def orders_report(graph: OrderGraph, kept: KeptOrders | None = None) -> dict[str, object]:
    """Crossings, shortcuts and conflicts; the fields are part of the command line's interface.

    Positions are FENs with an en-passant square only where the capture is legal, and with the
    counters `0 1`, since these are no part of a position. Moves are in SAN. Of each crossing the
    20 shortest orders are listed, from the position where each begins; `order_count` counts all.
    `via` is the player's move behind an unlisted one, or null where the position is known at
    once. What is most reached comes first.

    `kept` is what the progress file knows: by which order a crossing was met most often, and what
    the player wrote on look-alikes.
    """
    repertoire = graph.repertoire
    kept = kept or KeptOrders()
    sightings = kept.sightings(graph)
    return {
        "crossings": [
            {
                "fen": fen_of(crossing.node),
                "orders": [order.sans for order in graph.orders(crossing.node)],
                "order_count": crossing.order_count,
                "most_seen": _most_seen(sightings, crossing.node),
            }
            for crossing in find_crossings(graph)
        ],
        "shortcuts": [
            {
                "from_fen": fen_of(shortcut.node),
                "move": shortcut.san,
                "to_fen": fen_of(shortcut.target),
                "via": shortcut.via_san,
            }
            for shortcut in find_shortcuts(graph)
        ],
        "conflicts": [
            {
                "fen": fen_of(conflict.node),
                "moves": [claim.edge.san for claim in conflict.claims],
            }
            for conflict in find_conflicts(repertoire)
        ],
        "notes": [
            {"fens": [fen_of(first), fen_of(second)], "note": note}
            for first, second, note in kept.pairs(repertoire)
        ],
    }


def _most_seen(sightings: Sightings, node: Node) -> dict[str, object] | None:
    seen = next(iter(sightings.at(node)), None)
    if seen is None:
        return None
    return {"order": seen.order.sans, "drills": seen.drills, "games": seen.games}


def fen_of(node: Node) -> str:
    """The FEN of a position: en passant only where legal, counters `0 1`."""
    return node.board().fen(en_passant="legal")
