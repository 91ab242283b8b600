"""What the page of the workshop says about a position. No Qt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import chess

from trainer.memory.plan import frequency
from trainer.notation.display import Notation, numbered, shown_san, shown_text
from trainer.notation.nags import glyphs, meanings
from trainer.notation.numbers import count
from trainer.repertoire.graph import Edge, Node, Repertoire
from trainer.repertoire.orders import MoveOrder, shown_order
from trainer.ui.workshop.findings import Findings
from trainer.ui.workshop.places import order_by

_LONGEST_OTHER = 70


@dataclass(frozen=True)
class Line:
    """A move that goes on from a position, as a line of text.

    `move` has its number and its signs; `role` says what it is among the moves, `facts` how
    often it is reached and what it joins; `note` is the first line of its comment.
    """

    move: str
    role: str
    facts: str
    note: str
    crosses: bool

    @property
    def spoken(self) -> str:
        """All of it, for who cannot see the page."""
        parts = (self.move, self.role, self.facts, self.note)
        return ". ".join(part.rstrip(".") for part in parts if part)


@dataclass(frozen=True)
class PageWords:
    """The texts of a page: `asked` says what is missing here, if anything is."""

    heading: str
    opening: str
    order: str
    facts: str
    others: str
    asked: str
    lines: tuple[Line, ...]


def page_words(
    repertoire: Repertoire,
    root: Node,
    way: Sequence[Edge],
    findings: Findings,
    notation: Notation,
    *,
    settled: bool,
) -> PageWords:
    """The page for the position at the end of `way` from `root`.

    With `settled` nothing is asked for: the position joins a line that is known already.
    """
    node = way[-1].child if way else root
    order = shown_order(repertoire, root, [edge.san for edge in way])
    opening = None
    if findings.book is not None:
        opening = findings.book.last_named(way) or findings.book.name_of(node.key)
    return PageWords(
        heading=_heading(repertoire, root, way, order, notation),
        opening="" if opening is None else str(opening),
        order=order.text(notation) if way else "",
        facts=_facts(repertoire, node, findings),
        others=_others(repertoire, node, way, findings, notation),
        asked="" if settled else _asked(repertoire, node),
        lines=tuple(_line(repertoire, edge, order, findings, notation) for edge in node.edges),
    )


def move_text(order: MoveOrder, sans: Sequence[str], notation: Notation) -> str:
    """Moves that follow on an order, with their number: `3…Nf6 4 g3`."""
    played = len(order.sans) + (0 if order.turn == chess.WHITE else 1)
    turn = chess.WHITE if played % 2 == 0 else chess.BLACK
    return numbered(sans, turn=turn, number=order.number + played // 2, notation=notation)


def _heading(
    repertoire: Repertoire,
    root: Node,
    way: Sequence[Edge],
    order: MoveOrder,
    notation: Notation,
) -> str:
    if way:
        before = MoveOrder(order.sans[:-1], order.turn, order.number)
        return _signed(move_text(before, [way[-1].san], notation), way[-1])
    titles = [section.title for section in repertoire.sections if section.root is root]
    if len(titles) == 1:
        return titles[0]
    return f"The beginning of {len(titles)} sections"


def _signed(text: str, edge: Edge) -> str:
    sign = glyphs(edge.nags)
    if not sign:
        return text
    return f"{text}{sign}" if edge.nags[0] in range(1, 7) else f"{text} {sign}"


def _facts(repertoire: Repertoire, node: Node, findings: Findings) -> str:
    mover = "White" if node.turn else "Black"
    whose = "you" if node.turn == repertoire.side else "the opponent"
    facts = [f"{mover} to move ({whose})."]
    reached = findings.reach.get(node.key)
    if reached:
        said = frequency(reached)
        facts.append(f"{said[:1].upper()}{said[1:]} here.")
    return " ".join(facts)


def _others(
    repertoire: Repertoire,
    node: Node,
    way: Sequence[Edge],
    findings: Findings,
    notation: Notation,
) -> str:
    """How else the position is reached; nothing where there is one order only."""
    known = findings.orders.get(node.key, 1)
    mine = way[-1] if way else None
    entering = [edge for edge in node.entries if edge is not mine]
    if known < 2 and not entering:
        return ""
    other = next((o for edge in entering if (o := order_by(repertoire, edge))), None)
    total = max(known, 1 + (other is not None)) - 1
    if total < 1:
        return ""
    more = "at least " if node.key in findings.more else ""
    leads = "leads" if total == 1 else "lead"
    sentence = f"{more}{count(total, 'other move order')} {leads} here".strip()
    sentence = sentence[:1].upper() + sentence[1:]
    if other is None:
        return f"{sentence}."
    shown = shown_order(repertoire, other[0].parent, [edge.san for edge in other])
    such = "" if total == 1 else "such as "
    return f"{sentence}: {such}{shown.text(notation, _LONGEST_OTHER)}."


def _asked(repertoire: Repertoire, node: Node) -> str:
    if node.edges:
        return ""
    if not any(node.board().legal_moves):
        return "The game is over here."
    if node.turn == repertoire.side:
        return "Nothing is prepared here: play your move on the board, or type it."
    return "The line ends here. Play a reply of the opponent to go on."


def _line(
    repertoire: Repertoire, edge: Edge, order: MoveOrder, findings: Findings, notation: Notation
) -> Line:
    node = edge.parent
    main = node.edges[0] is edge
    if node.turn == repertoire.side:
        claimed = edge in repertoire.claims.get(node, ())
        role = "main move" if main else "accepted alternative"
        if claimed:
            role += ", claimed as the main move"
    else:
        role = "reply"
    said = meanings(edge.nags)
    facts = [*said] if said else []
    reached = findings.reach.get(edge.child.key)
    if reached is not None:
        word = frequency(reached)
        facts.append(f"{word} there")
    crosses = len(edge.child.entries) > 1
    if crosses:
        ways = max(findings.orders.get(edge.child.key, 0), 2)
        facts.append(f"crossing of {ways:,} move orders")
    if not edge.child.edges:
        facts.append("the line ends there")
    text = next(iter((*edge.before, *edge.comments)), "")
    return Line(
        _signed(move_text(order, [edge.san], notation), edge),
        role,
        " · ".join(facts),
        shown_text(text, notation),
        crosses,
    )


def removal_sentence(edge: Edge, gone: int, behind: int, notation: Notation) -> str:
    """What deleting a move takes away; `behind` positions hang on it, `gone` of them go."""
    move = shown_san(edge.san, notation)
    stays = behind - gone
    if not gone:
        sentence = f"Deleting {move} takes away no position"
    else:
        sentence = f"Deleting {move} takes away {count(gone, 'position')}"
    if not stays:
        return f"{sentence}."
    if not gone:
        return f"{sentence}: other move orders reach all {behind:,} that hang on it."
    verb = "stays" if stays == 1 else "stay"
    return f"{sentence}; {stays:,} behind it {verb}, because other move orders reach them."


def positions_behind(edge: Edge) -> int:
    """How many positions follow a move, its own among them."""
    seen = {edge.child}
    stack = [edge.child]
    while stack:
        for following in stack.pop().edges:
            if following.child not in seen:
                seen.add(following.child)
                stack.append(following.child)
    return len(seen)
