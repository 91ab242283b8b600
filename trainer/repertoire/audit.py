"""The check of a repertoire: how much there is, and where it is not in order."""

from __future__ import annotations

from dataclasses import dataclass

from trainer.repertoire.graph import Edge, Node, Repertoire
from trainer.repertoire.sharp import is_sharp


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
