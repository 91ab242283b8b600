"""The move orders of a repertoire in words, for `stemline orders`."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Final

import chess

from trainer.notation.display import sentence_list
from trainer.repertoire.conflicts import Conflict, find_conflicts
from trainer.repertoire.crossings import Crossing, find_crossings, orders_of_crossing
from trainer.repertoire.doors import entry_doors, suggest_system_position
from trainer.repertoire.graph import Node
from trainer.repertoire.near_misses import Difference, NearMiss, find_near_misses
from trainer.repertoire.openings import OpeningBook
from trainer.repertoire.order_graph import Order, OrderGraph
from trainer.repertoire.orders import shown_order
from trainer.repertoire.orders_allowed import worth_telling
from trainer.repertoire.orders_kept import KeptOrders
from trainer.repertoire.orders_words import allowed_sentences, seen_words
from trainer.repertoire.reader import LoadedRepertoire
from trainer.repertoire.shortcuts import Shortcut, find_shortcuts

#: Entries of each kind that the text names, and orders of each position.
_NAMED: Final = 8
_ORDERS: Final = 4


def orders_text(
    loaded: LoadedRepertoire,
    book: OpeningBook,
    kept: KeptOrders | None = None,
    graph: OrderGraph | None = None,
) -> str:
    """Crossings, shortcuts, conflicts, near misses and the doors into the system, in words.

    `kept` is what the progress file knows of them, `graph` that of the repertoire where replies
    are not all alike.
    """
    repertoire = loaded.repertoire
    graph = graph or OrderGraph(repertoire)
    shortcuts = find_shortcuts(graph)
    words = _Words(graph, book, kept or KeptOrders(), shortcuts)
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

    def __init__(
        self, graph: OrderGraph, book: OpeningBook, kept: KeptOrders, shortcuts: list[Shortcut]
    ) -> None:
        self._graph = graph
        self._book = book
        self._sightings = kept.sightings(graph)
        self._notes = {
            frozenset((first, second)): note
            for first, second, note in kept.pairs(graph.repertoire)
        }
        self._shortcuts = {(one.node, one.move): one for one in shortcuts}

    def conflict(self, conflict: Conflict) -> list[str]:
        """The position, and each claimed move with the sections that claim it."""
        lines = [self._to(conflict.node)]
        for claim in conflict.claims:
            titles = dict.fromkeys(f"“{section.title}”" for section in claim.sections)
            where = f" in {sentence_list(titles)}" if titles else ""
            lines.append(f"  {claim.edge.san}{where}")
        return lines

    def crossing(self, crossing: Crossing) -> list[str]:
        """The likeliest orders of a position: names on the way, how often met, what they allow."""
        found = orders_of_crossing(
            self._graph, crossing.node, _ORDERS, "reach", self._sightings.total
        )
        orders = list(found.orders)
        if found.most_seen is not None and all(
            order.edges != found.most_seen.edges for order in orders
        ):
            orders.append(found.most_seen)
        allowed = {one.order.edges: one for one in found.allowed}
        named = self._named(crossing.node)
        count = "" if crossing.exact else "at least "
        head = f"{count}{_plural(crossing.order_count, 'order')}, {_share(crossing.reach)}"
        lines = [f"{head}: {named}" if named else head]
        for order, line in zip(orders, self._orders(orders), strict=True):
            lines.append(f"  {line}")
            first = 0 if crossing.parting is None else order.nodes.index(crossing.parting)
            own = allowed.get(order.edges[first:])
            if own is not None:
                told = worth_telling(self._graph, own, self._book, self._shortcuts)
                sentences = allowed_sentences(
                    self._graph.repertoire, order, own, told, counts=False
                )
                lines += (f"    {sentence}" for sentence in sentences)
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
        """Both positions with their moves, what tells them apart, and the player's own note."""
        note = self._notes.get(frozenset((pair.first, pair.second)), "")
        return [
            f"{self._to(pair.first)}: play {pair.first.edges[0].san}",
            f"{self._to(pair.second)}: play {pair.second.edges[0].san}",
            f"  {_apart(pair)}",
            *([f"  {' '.join(note.split())}"] if note else []),
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
            text = f"{text} – {opening}" if opening is not None and differ else text
            met = seen_words(self._sightings.of(order))
            yield f"{text} – met {met}" if met else text

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
