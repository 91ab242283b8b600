"""The move orders of a repertoire in words, for `stemline orders`."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Final

import chess

from trainer.notation.display import sentence_list
from trainer.repertoire.conflicts import Conflict, find_conflicts
from trainer.repertoire.crossings import Crossing, find_crossings
from trainer.repertoire.doors import entry_doors, suggest_system_position
from trainer.repertoire.graph import Node
from trainer.repertoire.near_misses import Difference, NearMiss, find_near_misses
from trainer.repertoire.openings import OpeningBook
from trainer.repertoire.order_graph import Order, OrderGraph
from trainer.repertoire.orders import shown_order
from trainer.repertoire.reader import LoadedRepertoire
from trainer.repertoire.shortcuts import Shortcut, find_shortcuts

#: Entries of each kind that the text names, and orders of each position.
_NAMED: Final = 8
_ORDERS: Final = 4


def orders_text(loaded: LoadedRepertoire, book: OpeningBook) -> str:
    """Crossings, shortcuts, conflicts, near misses and the doors into the system, in words."""
    repertoire = loaded.repertoire
    graph = OrderGraph(repertoire)
    words = _Words(graph, book)
    side = "White" if repertoire.side == chess.WHITE else "Black"
    guess = " (guessed: no RepertoireSide tag says so)" if loaded.side_guessed else ""
    lines = [f"Move orders of a repertoire for {side}{guess}."]
    conflicts = find_conflicts(repertoire)
    lines += _listed(
        "Conflicts, where two main moves are claimed",
        len(conflicts),
        map(words.conflict, conflicts[:_NAMED]),
    )
    crossings = find_crossings(graph)
    lines += _listed(
        "Crossings, which several moves enter",
        len(crossings),
        map(words.crossing, crossings[:_NAMED]),
    )
    shortcuts = find_shortcuts(graph)
    onward = [shortcut for shortcut in shortcuts if not shortcut.goes_back]
    lines += _listed(
        "Shortcuts, unlisted replies that lead to a known position",
        len(onward),
        map(words.shortcut, onward[:_NAMED]),
    )
    if len(onward) < len(shortcuts):
        lines.append(f"  {len(shortcuts) - len(onward)} more only take moves back")
    apart = [pair for pair in find_near_misses(graph) if not pair.same_move]
    lines += _listed(
        "Near misses, look-alikes with different prepared moves",
        len(apart),
        map(words.near_miss, apart[:_NAMED]),
    )
    system = suggest_system_position(graph)
    if system is not None:
        lines += words.doors(system)
    return "\n".join(lines)


def _listed(title: str, count: int, entries: Iterable[list[str]]) -> list[str]:
    lines = ["", f"{title}: {count}"]
    for entry in entries:
        lines += (f"  {line}" for line in entry)
    if count > _NAMED:
        lines.append(f"  and {count - _NAMED} more")
    return lines


class _Words:
    """What is found, told in moves from the starting position and in names of openings."""

    def __init__(self, graph: OrderGraph, book: OpeningBook) -> None:
        self._graph = graph
        self._book = book

    def conflict(self, conflict: Conflict) -> list[str]:
        """The position, and each claimed move with the sections that claim it."""
        lines = [self._to(conflict.node)]
        for claim in conflict.claims:
            titles = dict.fromkeys(f"“{section.title}”" for section in claim.sections)
            where = f" in {sentence_list(titles)}" if titles else ""
            lines.append(f"  {claim.edge.san}{where}")
        return lines

    def crossing(self, crossing: Crossing) -> list[str]:
        """The likeliest orders of a position, with what each is called on the way."""
        orders = self._graph.orders(crossing.node, _ORDERS, "reach")
        named = self._named(crossing.node)
        count = "" if crossing.exact else "at least "
        head = f"{count}{_plural(crossing.order_count, 'order')}, {_share(crossing.reach)}"
        lines = [f"{head}: {named}" if named else head]
        lines += (f"  {line}" for line in self._orders(orders))
        if crossing.order_count > len(orders):
            lines.append(f"  and {crossing.order_count - len(orders):,} more")
        return lines

    def shortcut(self, shortcut: Shortcut) -> list[str]:
        """The unlisted move, what meets it, and the order by which the position is known."""
        met = f", met by {shortcut.via_san}" if shortcut.via_san else ""
        return [
            f"{self._to(shortcut.node, shortcut.san)}{met} ({_share(shortcut.reach)})",
            f"  is known from {self._to(shortcut.target)}",
        ]

    def near_miss(self, pair: NearMiss) -> list[str]:
        """Both positions with their moves, and the man that tells them apart."""
        return [
            f"{self._to(pair.first)}: play {pair.first.edges[0].san}",
            f"{self._to(pair.second)}: play {pair.second.edges[0].san}",
            f"  {_apart(pair)}",
        ]

    def doors(self, node: Node) -> list[str]:
        """The ways into the position where the system may be said to begin."""
        found = entry_doors(self._graph, node, self._book, _ORDERS)
        count = f"{'' if found.exact else 'at least '}{_plural(found.order_count, 'order')}"
        lines = ["", f"Doors into {self._to(node)}: {count}"]
        lines += (f"  {line}" for line in self._orders([door.order for door in found.doors]))
        sides = ("lead there", True), ("leave it", False)
        for title, leads in sides:
            moves = dict.fromkeys(
                self._to(move.edge.parent, move.edge.san)
                for move in found.first_moves
                if move.leads == leads
            )
            if moves:
                lines.append(f"  First moves that {title}: {'; '.join(moves)}")
        return lines

    def _orders(self, orders: Sequence[Order]) -> Iterator[str]:
        names = self._book.names_of_orders([order.edges for order in orders])
        differ = len({opening.name for opening in names if opening is not None}) > 1
        for order, opening in zip(orders, names, strict=True):
            text = self._text(order.root, order.sans)
            yield f"{text} – {opening}" if opening is not None and differ else text

    def _named(self, node: Node) -> str:
        opening = self._book.name_of(node.key)
        return "" if opening is None else str(opening)

    def _to(self, node: Node, *behind: str) -> str:
        """The likeliest order to a position, and moves behind it."""
        order = self._graph.likeliest(node)
        if order is None:
            return self._text(node, behind)
        return self._text(order.root, [*order.sans, *behind])

    def _text(self, root: Node, sans: Sequence[str]) -> str:
        return shown_order(self._graph.repertoire, root, sans).text()


def _share(reach: float) -> str:
    return f"in {100 * reach:.1f} % of games"


def _plural(count: int, word: str) -> str:
    return f"{count:,} {word}{'' if count == 1 else 's'}"


def _apart(pair: NearMiss) -> str:
    if pair.piece is None or pair.first_square is None or pair.second_square is None:
        return "Only the right to castle or to take en passant differs."
    owner = "White" if pair.color == chess.WHITE else "Black"
    first, second = (
        chess.square_name(square) for square in (pair.first_square, pair.second_square)
    )
    move = ", one move more," if pair.difference is Difference.TEMPO else ""
    return f"{owner}’s {chess.piece_name(pair.piece)} stands on {first}, or{move} on {second}."
