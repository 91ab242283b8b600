"""What the place called Move orders says, in the notation of the player. No Qt."""

from __future__ import annotations

from collections.abc import Sequence

import chess

from trainer.memory.apart import PairNotes
from trainer.notation.display import Notation, shown_san
from trainer.notation.numbers import count
from trainer.repertoire.crossings import Allowed, Crossing, moves_that_part
from trainer.repertoire.doors import Door
from trainer.repertoire.graph import Node
from trainer.repertoire.near_misses import Difference, NearMiss
from trainer.repertoire.openings import Opening, OpeningBook
from trainer.repertoire.order_graph import Order, OrderGraph
from trainer.repertoire.orders import MoveOrder, order_of, shown_order
from trainer.repertoire.orders_allowed import Shortcuts, worth_telling
from trainer.repertoire.orders_seen import Sightings
from trainer.repertoire.orders_words import allowed_sentences, move_word
from trainer.repertoire.shortcuts import Shortcut

#: Moves in a heading.
_PARTED = 2


class OrderWords:
    """Texts about one repertoire."""

    def __init__(
        self,
        graph: OrderGraph,
        book: OpeningBook,
        notation: Notation,
        sightings: Sightings | None = None,
    ) -> None:
        self.graph = graph
        self.book = book
        self.notation: Notation = notation
        self.sightings = Sightings(graph) if sightings is None else sightings
        #: Those found so far; what an order allows may be one of them.
        self.shortcuts: Shortcuts = {}
        #: What the player wrote on pairs of positions.
        self.pair_notes = PairNotes()
        #: The doors of the list, which are told from each other.
        self.doors: Sequence[Door] = ()

    # -- orders --------------------------------------------------------------------------------

    def shown(self, root: Node, sans: Sequence[str]) -> MoveOrder:
        """Moves from a starting position, to be shown."""
        return shown_order(self.graph.repertoire, root, sans)

    def way_to(self, node: Node) -> tuple[Node, tuple[str, ...]]:
        """Where one shortest order to a position begins, and its moves."""
        edges = order_of(self.graph.repertoire, node)
        if not edges:
            return node, ()
        return edges[0].parent, tuple(edge.san for edge in edges)

    def to(self, node: Node, *behind: str) -> str:
        """One shortest order to a position, and moves behind it."""
        root, sans = self.way_to(node)
        return self.shown(root, (*sans, *behind)).text(self.notation)

    def move_after(self, node: Node, *behind: str) -> str:
        """The last of the moves `behind` a position, with its number: `2…Nf6`."""
        root, sans = self.way_to(node)
        return self.move_word(self.shown(root, sans), len(sans) + len(behind) - 1, behind[-1])

    def move_word(self, order: MoveOrder, ply: int, san: str) -> str:
        """A move with its number, `ply` half-moves after the beginning of `order`."""
        return move_word(order, ply, san, self.notation)

    def san(self, san: str) -> str:
        """A move without its number."""
        return shown_san(san, self.notation)

    # -- names ---------------------------------------------------------------------------------

    def title(self, node: Node, order: Order | None) -> str:
        """What a position is called: by its own name, or by that of its likeliest order."""
        opening = self.book.name_of(node.key)
        if opening is None and order is not None:
            opening = self.book.last_named(order.edges)
        return opening.name if opening is not None else "A position without a name"

    def technically(self, orders: Sequence[Order]) -> list[str]:
        """For each order what it is called on the way, empty where all are called alike."""
        edges = [order.edges for order in orders]
        names = self.book.names_of_orders(edges)
        another = self.book.is_another_opening(edges)
        differ = len({str(name) for name in names if name is not None}) > 1
        return [_technically(name, another) if name and differ else "" for name in names]

    # -- crossings -----------------------------------------------------------------------------

    def order_count(self, crossing: Crossing) -> str:
        """`4 orders`, `at least 4 orders`."""
        return counted(crossing.order_count, "order", crossing.exact)

    def parting(self, crossing: Crossing) -> str:
        """Where the orders part."""
        if crossing.order_count == 1:
            return "The other moves that lead here only repeat the position."
        if crossing.parting is None:
            return "The orders begin at different starting positions."
        if self.graph.depth(crossing.parting) == 0:
            return "The orders part at the first move."
        return f"The orders part after {self.to(crossing.parting)}."

    def parted(self, crossing: Crossing, order: Order | None) -> str:
        """How orders part and by which move they have met, if a game goes by `order`.

        `1…d5 or Nf6 meet after 3…e6`: what tells crossings of one opening apart.
        """
        met = "" if order is None else f" meet after {self.last_move(order)}"
        if crossing.order_count == 1:
            return "Only a repetition"
        if crossing.parting is None:
            return f"Different starts{met}"
        moves = [edge.san for edge in moves_that_part(crossing)]
        words = [self.move_after(crossing.parting, moves[0])]
        words += [self.san(san) for san in moves[1:]]
        if len(words) == 1:
            return f"Ways behind {words[0]}{met}"
        if len(words) > _PARTED:
            return f"{', '.join(words[:_PARTED])} …{met}"
        return f"{' or '.join(words)}{met}"

    def last_move(self, order: Order) -> str:
        """The last move of an order, with its number."""
        if not order.edges:
            return "the starting position"
        shown = self.shown(order.root, order.sans)
        return self.move_word(shown, len(order.edges) - 1, order.sans[-1])

    def door(self, door: Door) -> str:
        """By which moves a door is told from the others: `By 1…b6`, `By 1…b6 and 3…Nf6`."""
        order = door.order
        others = [one.order for one in self.doors if one.order.edges != order.edges]
        shared = [_shared(order, other) for other in others if other.root is order.root]
        if not order.edges or not shared:
            return "The only door" if not others else "From another start"
        shown = self.shown(order.root, order.sans)
        # Where it leaves them all, and where it leaves the last of them.
        plies = sorted({min(shared), max(shared)})
        words = [self.move_word(shown, ply, order.sans[ply]) for ply in plies]
        return f"By {' and '.join(words)}"

    def allowed(self, order: Order, allowed: Allowed) -> list[str]:
        """What an order allows the opponent and the others do not."""
        repertoire = self.graph.repertoire
        told = worth_telling(self.graph, allowed, self.book, self.shortcuts)
        return allowed_sentences(repertoire, order, allowed, told, self.notation)

    # -- shortcuts -----------------------------------------------------------------------------

    def shortcut_lands(self, shortcut: Shortcut) -> str:
        """`at once`, or after which move of the player."""
        if shortcut.via_san is None:
            return "at once"
        via = self.move_after(shortcut.node, shortcut.san, shortcut.via_san)
        return f"after your {via}"

    def shortcut_sentence(self, shortcut: Shortcut) -> str:
        """The whole finding in one sentence."""
        move = self.move_after(shortcut.node, shortcut.san)
        after = self.to(shortcut.node)
        lands = self.shortcut_lands(shortcut)
        return (
            f"After {after}: {move} is not in the repertoire but reaches a known position {lands}."
        )

    # -- near misses ---------------------------------------------------------------------------

    def apart(self, pair: NearMiss) -> str:
        """The man that tells two positions apart."""
        if pair.piece is None or pair.first_square is None or pair.second_square is None:
            return "Only the right to castle or to take en passant differs."
        owner = "White" if pair.color == chess.WHITE else "Black"
        man = chess.piece_name(pair.piece)
        first = chess.square_name(pair.first_square)
        second = chess.square_name(pair.second_square)
        more = ", one move more," if pair.difference is Difference.TEMPO else ""
        return f"{owner}’s {man} stands on {first} here, and{more} on {second} there."

    def note(self, pair: NearMiss) -> str:
        """What the player wrote on a pair."""
        return self.pair_notes.of(pair.first, pair.second)

    def apart_shortly(self, pair: NearMiss) -> str:
        """The same in a few words."""
        if pair.piece is None or pair.first_square is None or pair.second_square is None:
            return "other rights"
        first = chess.square_name(pair.first_square)
        second = chess.square_name(pair.second_square)
        return f"{chess.piece_name(pair.piece)} on {first} or {second}"


def counted(number: int, noun: str, exact: bool = True) -> str:
    """`3 orders`, `at least 3 orders`."""
    return count(number, noun) if exact else f"at least {count(number, noun)}"


def share(reach: float, *, short: bool = False) -> str:
    """A reach in words, never rounded to nothing: `in 12 % of games`; `short` without `in`."""
    value = 100 * reach
    if value >= 9.95:
        text = f"{value:.0f} % of games"
    elif value >= 0.095:
        text = f"{value:.1f} % of games"
    else:
        text = "under 0.1 % of games"
    return text if short else f"in {text}"


def _technically(opening: Opening, another: bool) -> str:
    if not another:
        return str(opening)
    article = "an" if opening.name[:1] in "AEIOU" else "a"
    return f"technically {article} {opening}"


def _shared(first: Order, second: Order) -> int:
    """How many moves two orders have in common at their beginning."""
    pairs = zip(first.edges, second.edges, strict=False)
    return next(
        (ply for ply, (one, other) in enumerate(pairs) if one is not other),
        min(len(first.edges), len(second.edges)) - 1,
    )
