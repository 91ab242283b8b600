"""Move orders: the moves by which a position is reached.

A breadth-first walk against the moves finds a shortest order; it visits each position once, so
cycles do no harm.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import chess

from trainer.notation.display import Notation, numbered, shorten_order
from trainer.repertoire.graph import Edge, Node, Repertoire

#: In place of a title that says nothing but the answer.
_UNNAMED: Final = "A section"


def order_of(repertoire: Repertoire, node: Node) -> tuple[Edge, ...] | None:
    """One shortest move order from a root to `node`, empty at a root, None where none leads.

    Of equally short orders the one through the earlier entering moves is taken.
    """
    roots = {root.key for root in repertoire.roots}
    if node.key in roots:
        return ()
    onward: dict[int, Edge] = {}
    queue = deque([node])
    while queue:
        for edge in queue.popleft().entries:
            before = edge.parent
            if before.key in onward or before is node:
                continue
            onward[before.key] = edge
            if before.key in roots:
                return _walk(before, node, onward)
            queue.append(before)
    return None


@dataclass(frozen=True)
class MoveOrder:
    """A move order to be shown: `sans` from a starting position with `turn` to move.

    Where that is not the starting position of the game, `section` is the title of the section
    that begins there, as far as it does not say what is prepared there, else empty; `number` is
    the number of the first move.
    """

    sans: tuple[str, ...]
    turn: chess.Color = chess.WHITE
    number: int = 1
    section: str = ""

    def text(self, notation: Notation = "letters", limit: int | None = None) -> str:
        """As books print it, `1 Nf3 d5 2 g3`, or where it begins if there is no move.

        `limit` cuts the moves in front to so many characters.
        """
        text = numbered(self.sans, turn=self.turn, number=self.number, notation=notation)
        if limit is not None:
            text = shorten_order(text, limit)
        if self.section:
            return f"{self.section}: {text or 'the position it begins with'}"
        return text or "the starting position"


def shown_order(repertoire: Repertoire, origin: Node, sans: Sequence[str]) -> MoveOrder:
    """The order `sans` (SAN) from `origin`, the starting position of a section, to be shown."""
    section = next((one for one in repertoire.sections if one.root is origin), None)
    fen = section.tags.get("FEN") if section is not None else None
    if section is None or fen is None:
        return MoveOrder(tuple(sans), origin.turn)
    title = _without_answers(section.title, repertoire, origin)
    return MoveOrder(tuple(sans), origin.turn, _move_number(fen), title)


def _without_answers(title: str, repertoire: Repertoire, origin: Node) -> str:
    """The title up to the first move that is prepared where its section begins.

    A question is shown with it, and must not be answered by it.
    """
    first = [origin] if origin.turn == repertoire.side else [edge.child for edge in origin.edges]
    prepared = {edge.san for node in first for edge in node.edges}
    said: list[str] = []
    for word in title.split():
        if word.lstrip("0123456789.").strip(",:;()") in prepared:
            while said and not said[-1].strip("0123456789.:;,("):
                said.pop()
            return " ".join(said).rstrip(" :;,(") or _UNNAMED
        said.append(word)
    return title


def _move_number(fen: str) -> int:
    try:
        return chess.Board(fen).fullmove_number
    except ValueError:
        return 1


def _walk(start: Node, end: Node, onward: dict[int, Edge]) -> tuple[Edge, ...]:
    order = []
    current = start
    while current is not end:
        edge = onward[current.key]
        order.append(edge)
        current = edge.child
    return tuple(order)
