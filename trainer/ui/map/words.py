"""What the map says about one position. No Qt."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trainer.notation.display import Notation, percent, sentence_list, shown_san, shown_text
from trainer.notation.numbers import count
from trainer.repertoire.orders import order_of, shown_order

if TYPE_CHECKING:
    from trainer.repertoire.graph import Repertoire
    from trainer.repertoire.openings import OpeningBook
    from trainer.ui.map.plan import Plan

_LONGEST_ORDER = 600


@dataclass(frozen=True)
class PositionWords:
    """Texts for one position: `title` is the move that led there, `facts` short sentences."""

    title: str
    order: str
    opening: str
    facts: tuple[str, ...]
    note: tuple[str, ...]

    def spoken(self) -> str:
        """All of it in one text, for who cannot see the plan."""
        parts = [self.title, self.order, self.opening, *self.facts, *self.note]
        return " ".join(part if part[-1:] in ".?!" else f"{part}." for part in parts if part)


def position_words(
    plan: Plan,
    repertoire: Repertoire,
    number: int,
    *,
    hidden: int = 0,
    notation: Notation = "letters",
    book: OpeningBook | None = None,
) -> PositionWords:
    """What is said about the position `number`, `hidden` positions of which are folded away."""
    node = plan.node(number)
    entry = int(plan.entry[number])
    edge = plan.arrays.edges[entry] if entry >= 0 else None
    order = order_of(repertoire, node) or ()
    origin = order[0].parent if order else node
    shown = shown_order(repertoire, origin, [step.san for step in order])
    opening = None if book is None else book.last_named(order) or book.name_of(node.key)
    title = plan.titles.get(number, "Start")
    if edge is not None:
        title = plan.move_text(entry, notation, always_number=True)
    note = () if edge is None else (*edge.before, *edge.comments)
    return PositionWords(
        title=title,
        order=shown.text(notation, _LONGEST_ORDER) if order else "",
        opening="" if opening is None else str(opening),
        facts=tuple(_facts(plan, number, hidden, notation)),
        note=tuple(shown_text(paragraph, notation) for paragraph in note),
    )


def _facts(plan: Plan, number: int, hidden: int, notation: Notation) -> list[str]:
    arrays = plan.arrays
    moves = [shown_san(edge.san, notation) for edge in plan.node(number).edges]
    facts = [f"Reach {percent(float(plan.reach[number]))}."]
    if plan.hole[number]:
        facts.append("A hole: nothing is prepared here.")
    elif arrays.decision[number]:
        prepared = moves[0] + (f", also {sentence_list(moves[1:])}" if moves[1:] else "")
        facts.append(f"Prepared: {prepared}.")
        recall = float(plan.recall[number])
        facts.append("Never asked yet." if np.isnan(recall) else f"Recall {percent(recall)}.")
    elif moves:
        word = "Reply" if len(moves) == 1 else "Replies"
        facts.append(f"{word}: {sentence_list(moves)}.")
    else:
        facts.append("The line ends here.")
    if plan.conflict[number]:
        facts.append("A conflict: two main moves are claimed.")
    if plan.crossing[number]:
        ways = int((arrays.child == number).sum())
        facts.append(f"A crossing: {count(ways, 'move')} lead here.")
    if hidden:
        facts.append(f"Folded: {count(hidden, 'position')} more.")
    return facts
