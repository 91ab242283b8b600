"""What is shown of one entry: worked out by a worker, shown by the page. No Qt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import chess

from trainer.notation.display import sentence_list
from trainer.repertoire.conflicts import Conflict
from trainer.repertoire.crossings import Crossing, CrossingOrders, orders_of_crossing
from trainer.repertoire.doors import Doors
from trainer.repertoire.graph import Edge, Node
from trainer.repertoire.near_misses import NearMiss
from trainer.repertoire.order_graph import LISTED, Order
from trainer.repertoire.orders import order_of
from trainer.repertoire.orders_words import seen_words
from trainer.repertoire.shortcuts import Shortcut
from trainer.ui.orders.edits import AddShortcut, ResolveConflict
from trainer.ui.orders.plan import Line, OrderPlan, plan_of
from trainer.ui.orders.words import OrderWords, counted, share

#: Lines drawn on one plan; more are listed in words only.
DRAWN: Final = 8
#: Moves that leave the doors, named one by one.
_EXITS: Final = 8


@dataclass(frozen=True)
class PairSide:
    """One of two look-alikes: which square to ring, and the prepared move."""

    board: chess.Board
    ring: chess.Square | None
    move: chess.Move
    title: str
    order: str


@dataclass(frozen=True, eq=False)
class Detail:
    """One entry. `node` is what it is about; `arrows` lie on the board at the end of a line.

    `lines` can be stepped through, `chosen` is the one to begin with and `ply` where; the first
    `len(plan.passes)` of them are drawn. `note` is what tells the two of `near_miss` apart.
    `actions` are buttons for edits, `paragraphs` further headings with their sentences, `drill`
    the positions that can be drilled at once.
    """

    node: Node
    title: str
    subtitle: str
    lines: tuple[Line, ...] = ()
    plan: OrderPlan | None = None
    lines_title: str = ""
    show_list: bool = True
    chosen: int = 0
    ply: int | None = None
    arrows: tuple[tuple[int, int], ...] = ()
    pair: tuple[PairSide, PairSide] | None = None
    near_miss: NearMiss | None = None
    note: str = ""
    drill: tuple[Node, ...] = ()
    drill_text: str = ""
    paragraphs: tuple[tuple[str, tuple[str, ...]], ...] = ()
    actions: tuple[tuple[str, object], ...] = ()


def line_of(
    words: OrderWords,
    root: Node,
    moves: Sequence[chess.Move],
    sans: Sequence[str],
    remarks: Sequence[str] = (),
) -> Line:
    """An order to be shown, from the starting position `root`."""
    notation, shown = words.notation, words.shown(root, sans)
    ends = [len(words.shown(root, sans[: ply + 1]).text(notation)) for ply in range(len(sans))]
    return Line(
        root.board(),
        tuple(moves),
        tuple(sans),
        tuple(words.san(san) for san in sans),
        tuple(words.move_word(shown, ply, san) for ply, san in enumerate(sans)),
        shown.text(notation),
        tuple(ends),
        tuple(remarks),
    )


def crossing_detail(words: OrderWords, crossing: Crossing) -> Detail:
    """All orders of a crossing, the likeliest first, and how they differ."""
    seen = words.sightings.total
    found = orders_of_crossing(words.graph, crossing.node, LISTED, "reach", seen)
    orders = _with_most_seen(found)
    called = words.technically(orders)
    allowed = {one.order.edges: one for one in found.allowed}
    lines, skipped = [], []
    for order, name in zip(orders, called, strict=True):
        first = _parting_ply(order, crossing.parting)
        own = allowed.get(order.edges[first:])
        likely = found.likeliest is not None and order.edges == found.likeliest.edges
        remarks = [_likelihood(order, likely and len(orders) > 1), name]
        if order.seen:
            most = found.most_seen is not None and order.edges == found.most_seen.edges
            sight = seen_words(words.sightings.of(order))
            remarks.insert(0, f"Met most often: {sight}" if most else f"Met {sight}")
        remarks += [] if own is None else words.allowed(order, own)
        lines.append(_order_line(words, order, [text for text in remarks if text]))
        skipped.append(first)
    name = words.title(crossing.node, found.likeliest)
    head = f"{words.order_count(crossing)}, {share(crossing.reach)}. {words.parting(crossing)}"
    return Detail(
        crossing.node,
        words.parted(crossing, found.most_seen or found.likeliest),
        f"{name}: {head}",
        tuple(lines),
        _plan(lines, skipped),
        _listed("The orders, the likeliest first", len(lines), crossing.order_count),
    )


def _with_most_seen(found: CrossingOrders) -> list[Order]:
    """The orders to be listed, with the one that the player sees most where it is unlikely."""
    orders, most = list(found.orders), found.most_seen
    if most is not None and all(order.edges != most.edges for order in orders):
        orders.append(most)
    return orders


def shortcut_detail(words: OrderWords, shortcut: Shortcut) -> Detail:
    """The unlisted way and the known one to the same position."""
    root, sans = words.way_to(shortcut.node)
    before = _edges(words, shortcut.node)
    behind = [shortcut.san, *([shortcut.via_san] if shortcut.via_san else [])]
    unlisted = line_of(
        words,
        root,
        [*(edge.move for edge in before), *shortcut.moves],
        [*sans, *behind],
        [_prepared_elsewhere(shortcut)],
    )
    known_root, known_sans = words.way_to(shortcut.target)
    known = line_of(
        words,
        known_root,
        [edge.move for edge in _edges(words, shortcut.target)],
        known_sans,
        ["The order by which the repertoire knows the position."],
    )
    lines = [unlisted, known]
    first = _common(unlisted, known) if root is known_root else 0
    return Detail(
        shortcut.node,
        words.move_after(shortcut.node, shortcut.san),
        f"{words.shortcut_sentence(shortcut)} It can come up {share(shortcut.reach)}.",
        tuple(lines),
        _plan(lines, [first, first]),
        "Both ways",
        ply=len(before),
        arrows=tuple((move.from_square, move.to_square) for move in shortcut.moves),
        actions=(("&Add to the repertoire  [Ins]", AddShortcut(shortcut)),),
    )


def near_miss_detail(words: OrderWords, pair: NearMiss) -> Detail:
    """Two look-alikes side by side."""
    alike = "The prepared move is the same." if pair.same_move else "The prepared moves differ."
    sides = []
    for node, ring in ((pair.first, pair.first_square), (pair.second, pair.second_square)):
        edge = node.edges[0]
        move = words.move_after(node, edge.san)
        sides.append(PairSide(node.board(), ring, edge.move, f"Play {move}", words.to(node)))
    return Detail(
        pair.first,
        _pair_title(words, pair),
        f"{words.apart(pair)} {alike}",
        pair=(sides[0], sides[1]),
        near_miss=pair,
        note=words.note(pair),
        drill=(pair.first, pair.second),
        drill_text="&Drill this pair",
    )


def conflict_detail(words: OrderWords, conflict: Conflict) -> Detail:
    """The claimed main moves with the sections that claim them."""
    node = conflict.node
    root, sans = words.way_to(node)
    moves = [words.move_after(node, claim.edge.san) for claim in conflict.claims]
    claims = []
    for number, (move, claim) in enumerate(zip(moves, conflict.claims, strict=True), start=1):
        titles = dict.fromkeys(f"“{section.title}”" for section in claim.sections)
        where = f" – {sentence_list(titles)}" if titles else ""
        asked = " It stands first and is asked." if number == 1 else ""
        claims.append(f"{number}: {move}{where}.{asked}")
    line = line_of(words, root, [edge.move for edge in _edges(words, node)], sans)
    return Detail(
        node,
        " or ".join(moves),
        f"{counted(len(moves), 'main move')} claimed after {words.to(node)}.",
        (line,),
        show_list=False,
        arrows=tuple(
            (claim.edge.move.from_square, claim.edge.move.to_square) for claim in conflict.claims
        ),
        paragraphs=(("Who claims what", tuple(claims)),),
        actions=tuple(
            (f"Make {move} the main move  [{number}]", ResolveConflict(node, claim.edge))
            for number, (move, claim) in enumerate(
                zip(moves, conflict.claims, strict=True), start=1
            )
        ),
    )


def doors_detail(words: OrderWords, doors: Doors) -> Detail:
    """The position where the system begins, its doors, and what leads there and what does not."""
    orders = [door.order for door in doors.doors]
    lines = [
        _order_line(words, order, [text for text in (_likelihood(order, False), name) if text])
        for order, name in zip(orders, words.technically(orders), strict=True)
    ]
    likeliest = orders[0] if orders else None
    leading = [move.edge for move in doors.first_moves if move.leads]
    leaving = [move.edge for move in doors.first_moves if not move.leads]
    exits = [words.to(edge.parent, edge.san) for edge in doors.exits[:_EXITS]]
    if len(doors.exits) > _EXITS:
        exits.append(f"and {len(doors.exits) - _EXITS:,} more")
    paragraphs = (
        ("First moves that lead here", _first_moves(words, leading)),
        ("First moves that leave it", _first_moves(words, leaving)),
        ("Later replies that leave it", (" · ".join(exits),) if exits else ()),
    )
    number = counted(doors.order_count, "door", doors.exact)
    return Detail(
        doors.node,
        words.title(doors.node, likeliest),
        f"{number}: orders by which this position arises, {share(doors.reach)}.",
        tuple(lines),
        _plan(lines, [0] * len(lines)),
        show_list=False,
        paragraphs=tuple((title, texts) for title, texts in paragraphs if texts),
    )


def _first_moves(words: OrderWords, edges: Sequence[Edge]) -> tuple[str, ...]:
    texts = dict.fromkeys(words.to(edge.parent, edge.san) for edge in edges)
    return (" · ".join(texts),) if texts else ()


def _order_line(words: OrderWords, order: Order, remarks: Sequence[str]) -> Line:
    moves = [edge.move for edge in order.edges]
    return line_of(words, order.root, moves, order.sans, remarks)


def _edges(words: OrderWords, node: Node) -> tuple[Edge, ...]:
    return order_of(words.graph.repertoire, node) or ()


def _plan(lines: Sequence[Line], skipped: Sequence[int]) -> OrderPlan | None:
    drawn = lines[:DRAWN]
    return plan_of(drawn, skipped[:DRAWN]) if any(line.moves for line in drawn) else None


def _parting_ply(order: Order, parting: Node | None) -> int:
    return 0 if parting is None else order.nodes.index(parting)


def _common(first: Line, second: Line) -> int:
    ply = 0
    while ply < min(len(first.moves), len(second.moves)) - 1:
        if first.moves[ply] != second.moves[ply]:
            break
        ply += 1
    return ply


def _likelihood(order: Order, likeliest: bool) -> str:
    text = share(order.likelihood)
    return f"The likeliest order, {text}" if likeliest else text[:1].upper() + text[1:]


def _listed(title: str, shown: int, total: int) -> str:
    return f"{title}: {shown} of {total:,} orders" if shown < total else title


def _prepared_elsewhere(shortcut: Shortcut) -> str:
    if shortcut.via is None:
        return "Not in the repertoire; the position is known at once."
    usual = "a move that you have prepared elsewhere" if shortcut.is_usual else "a natural move"
    return f"Not in the repertoire; your answer is {usual}."


def _pair_title(words: OrderWords, pair: NearMiss) -> str:
    first = words.san(pair.first.edges[0].san)
    second = words.san(pair.second.edges[0].san)
    return f"{first} in both" if pair.same_move else f"{first} or {second}?"
