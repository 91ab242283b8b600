"""The check of a repertoire: how much there is, and where it is not in order."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import chess

from trainer.notation.display import numbered, shorten_order
from trainer.repertoire.graph import Edge, Node, Repertoire
from trainer.repertoire.reader import LoadedRepertoire
from trainer.repertoire.sections import root_board
from trainer.repertoire.sharp import is_sharp

#: Entries of each kind that the text names.
_NAMED: Final = 5
_LONGEST_ORDER: Final = 90


@dataclass(frozen=True)
class Audit:
    """The counts of a repertoire and the lists behind them.

    `positions` are all distinct positions, the roots among them; `moves` distinct (position,
    move) pairs; `decisions` positions with the player to move and something prepared; `replies`
    moves of the opponent; `crossings` positions entered by two or more moves; `conflicts`
    decisions whose main move is disputed; `holes` replies after which nothing is prepared though
    the game goes on; `dead_ends` positions where a line stops with the player to move, or with
    the opponent to move in the middle of a fight (`trainer.repertoire.sharp`).
    """

    sections: int
    positions: int
    moves: int
    decisions: list[Node]
    replies: list[Edge]
    crossings: list[Node]
    conflicts: list[Node]
    holes: list[Edge]
    dead_ends: list[Node]

    def counts(self) -> dict[str, int]:
        """All counts by name, in the order in which they are shown."""
        return {
            "sections": self.sections,
            "positions": self.positions,
            "moves": self.moves,
            "decisions": len(self.decisions),
            "replies": len(self.replies),
            "crossings": len(self.crossings),
            "conflicts": len(self.conflicts),
            "holes": len(self.holes),
            "dead_ends": len(self.dead_ends),
        }


def audit(repertoire: Repertoire) -> Audit:
    """Check a repertoire."""
    side = repertoire.side
    ends = {
        node: node.board() for node in repertoire.nodes.values() if node.entries and not node.edges
    }
    # A line that ends the game is complete.
    open_ends = {node: board for node, board in ends.items() if any(board.legal_moves)}
    replies = repertoire.replies()
    return Audit(
        sections=len(repertoire.sections),
        positions=len(repertoire.nodes),
        moves=sum(len(node.edges) for node in repertoire.nodes.values()),
        decisions=repertoire.decisions(),
        replies=replies,
        crossings=repertoire.crossings(),
        conflicts=repertoire.conflicts(),
        holes=[edge for edge in replies if edge.child in open_ends],
        dead_ends=[
            node for node, board in open_ends.items() if board.turn == side or is_sharp(board)
        ],
    )


def check_report(loaded: LoadedRepertoire) -> dict[str, object]:
    """The check as plain values for JSON; its fields are part of the command line's interface."""
    repertoire = loaded.repertoire
    return {
        "side": "white" if repertoire.side == chess.WHITE else "black",
        **audit(repertoire).counts(),
        "skipped": [
            {"game": entry.game, "line": entry.line, "reason": entry.reason}
            for entry in loaded.skipped
        ],
    }


def check_text(loaded: LoadedRepertoire) -> str:
    """The check in words, with the worst entries named by the moves that lead to them."""
    repertoire = loaded.repertoire
    found = audit(repertoire)
    orders = _Orders(repertoire)
    side = "White" if repertoire.side == chess.WHITE else "Black"
    guess = " (guessed: no RepertoireSide tag says so)" if loaded.side_guessed else ""
    lines = [f"A repertoire for {side}{guess}.", ""]
    lines += (f"{name.replace('_', ' '):<10} {count:>8}" for name, count in found.counts().items())
    lines += _named(
        "Conflicts, with the main moves that are claimed",
        (
            f"{orders.to(node)}: {', '.join(edge.san for edge in repertoire.claims[node])}"
            for node in _first(found.conflicts, orders)
        ),
        len(found.conflicts),
    )
    lines += _named(
        "Holes, replies to which nothing is prepared",
        (orders.through(edge) for edge in _first_edges(found.holes, orders)),
        len(found.holes),
    )
    holes = {edge.child for edge in found.holes}
    others = [node for node in found.dead_ends if node not in holes]
    lines += _named(
        "Other dead ends, where a line stops in the middle of a fight",
        (orders.to(node) for node in _first(others, orders)),
        len(others),
    )
    return "\n".join(lines)


def _named(title: str, entries: Iterable[str], count: int) -> list[str]:
    if not count:
        return []
    more = [f"  and {count - _NAMED} more"] if count > _NAMED else []
    return ["", f"{title}:", *(f"  {entry}" for entry in entries), *more]


def _first(nodes: list[Node], orders: _Orders) -> list[Node]:
    """The nodes nearest to a root: what goes wrong early goes wrong often."""
    return sorted(nodes, key=orders.depth)[:_NAMED]


def _first_edges(edges: list[Edge], orders: _Orders) -> list[Edge]:
    return sorted(edges, key=lambda edge: orders.depth(edge.parent))[:_NAMED]


class _Orders:
    """The shortest move order from a section root to each position."""

    def __init__(self, repertoire: Repertoire) -> None:
        self._numbers: dict[Node, int] = {}
        self._last: dict[Node, Edge | None] = {}
        self._depths: dict[Node, int] = {}
        for section in repertoire.sections:
            if section.root not in self._last:
                board = root_board(section)
                self._numbers[section.root] = 1 if board is None else board.fullmove_number
                self._last[section.root] = None
                self._depths[section.root] = 0
        level = list(self._last)
        while level:
            below: list[Node] = []
            for node in level:
                for edge in node.edges:
                    if edge.child not in self._last:
                        self._last[edge.child] = edge
                        self._depths[edge.child] = self._depths[node] + 1
                        below.append(edge.child)
            level = below

    def depth(self, node: Node) -> int:
        """Half-moves from the nearest root."""
        return self._depths.get(node, len(self._depths))

    def to(self, node: Node) -> str:
        """The moves that lead to a position, in words."""
        return self._words(node, [])

    def through(self, edge: Edge) -> str:
        """The moves that lead to a move, and the move itself."""
        return self._words(edge.parent, [edge.san])

    def _words(self, node: Node, behind: list[str]) -> str:
        sans = behind[::-1]
        while (edge := self._last.get(node)) is not None:
            sans.append(edge.san)
            node = edge.parent
        if not sans:
            return "the first position"
        number = self._numbers.get(node, 1)
        text = numbered(sans[::-1], turn=node.turn, number=number)
        return shorten_order(text, _LONGEST_ORDER)
