"""The rows of each list, built when they are looked at. No Qt."""

from __future__ import annotations

from dataclasses import dataclass

import chess

from trainer.notation.display import sentence_list
from trainer.repertoire.conflicts import Conflict
from trainer.repertoire.crossings import Crossing
from trainer.repertoire.doors import Door
from trainer.repertoire.near_misses import NearMiss
from trainer.repertoire.orders_words import seen_words
from trainer.repertoire.shortcuts import Shortcut
from trainer.ui.orders.words import OrderWords, share


@dataclass(frozen=True)
class Row:
    """A diagram with a heading, an order (behind the words `lead`), and a remark."""

    board: chess.Board
    key: int
    heading: str
    order: str
    remark: str
    lead: str = ""

    @property
    def spoken(self) -> str:
        """All words of it: what is searched, and what is read aloud."""
        return ". ".join(text for text in (self.heading, self.led_order, self.remark) if text)

    @property
    def led_order(self) -> str:
        """The order with what leads up to it."""
        return f"{self.lead} {self.order}" if self.lead else self.order


def crossing_row(words: OrderWords, crossing: Crossing) -> Row:
    """`1…d5 or Nf6`, most often by an order, `12 times in drills`."""
    node = crossing.node
    likeliest = words.graph.likeliest(node)
    seen = next(iter(words.sightings.at(node)), None)
    order = likeliest if seen is None else seen.order
    text = "" if order is None else words.shown(order.root, order.sans).text(words.notation)
    lead = "likeliest by" if seen is None else "most often by"
    facts = [words.order_count(crossing), share(crossing.reach, short=True)]
    facts += [seen_words(seen)] if seen is not None else []
    remark = f"{', '.join(facts)} · {words.title(node, likeliest)}"
    lead = lead if text and crossing.order_count > 1 else ""
    return Row(node.board(), node.key, words.parted(crossing, order), text, remark, lead)


def shortcut_row(words: OrderWords, shortcut: Shortcut) -> Row:
    """`2…Nf6` after an order, and when the position is known."""
    node = shortcut.node
    remark = f"known {words.shortcut_lands(shortcut)}, {share(shortcut.reach, short=True)}"
    heading = words.move_after(node, shortcut.san)
    return Row(node.board(), node.key, heading, words.to(node), remark, "after")


def near_miss_row(words: OrderWords, pair: NearMiss) -> Row:
    """Both prepared moves, and what tells the positions apart."""
    first, second = (words.san(node.edges[0].san) for node in (pair.first, pair.second))
    heading = f"{first} in both" if pair.same_move else f"{first} or {second}"
    remark = words.apart_shortly(pair)
    if note := words.note(pair):
        remark += f" · {' '.join(note.split())}"
    return Row(pair.first.board(), pair.first.key, heading, words.to(pair.first), remark)


def conflict_row(words: OrderWords, conflict: Conflict) -> Row:
    """The claimed moves."""
    node = conflict.node
    moves = sentence_list(words.san(claim.edge.san) for claim in conflict.claims)
    titles = {section.title for claim in conflict.claims for section in claim.sections}
    remark = f"claimed by {len(titles)} sections" if len(titles) > 1 else "claimed by two orders"
    return Row(node.board(), node.key, moves.replace(" and ", " or "), words.to(node), remark)


def door_row(words: OrderWords, door: Door) -> Row:
    """A door by the moves that tell it from the others, and the opening it goes through."""
    order = door.order
    before = order.nodes[-2] if order.edges else order.root
    text = words.shown(order.root, order.sans).text(words.notation)
    remark = share(order.likelihood, short=True)
    if sight := seen_words(words.sightings.of(order)):
        remark += f", {sight}"
    if door.called is not None:
        remark += f" · {door.called}"
    return Row(before.board(), before.key, words.door(door), text, remark)
