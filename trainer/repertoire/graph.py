"""The repertoire: a graph of positions.

Nodes are positions, edges are moves. The graph may have several roots and may contain cycles,
so nothing here recurses and nothing assumes a tree. A move's comments, NAGs and place in the
order belong to the edge. The first edge of a decision is its main prepared move.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import chess

from trainer.errors import KeyCollisionError
from trainer.position import pack_position, position_key, unpack_position

STARTING_TITLE = "Untitled section"


class Node:
    """One position, with the moves that leave it and the moves that enter it."""

    __slots__ = ("edges", "entries", "key", "packed")

    def __init__(self, key: int, packed: bytes) -> None:
        self.key = key
        self.packed = packed
        self.edges: list[Edge] = []
        self.entries: list[Edge] = []

    @property
    def turn(self) -> chess.Color:
        """The side to move."""
        return bool(self.packed[64])

    def board(self) -> chess.Board:
        """A fresh board with this position (move counters are not part of it)."""
        return unpack_position(self.packed)

    def edge_for(self, move: chess.Move) -> Edge | None:
        """The edge of `move`, or None where the repertoire does not know it."""
        for edge in self.edges:
            # Moves read from files are shared objects; comparing them by value costs far more.
            if edge.move is move or edge.move == move:
                return edge
        return None

    def __repr__(self) -> str:
        return f"<Node {self.board().epd()}>"


class Edge:
    """One move of the repertoire, from a position to a position.

    `comments` follow the move and `before` stand in front of it; both are tuples of paragraphs
    with single spaces. `nags` are the numbers of the PGN standard, section 10.
    """

    __slots__ = ("before", "child", "comments", "move", "nags", "parent", "san")

    def __init__(self, parent: Node, move: chess.Move, child: Node, san: str) -> None:
        self.parent = parent
        self.move = move
        self.child = child
        self.san = san
        self.nags: tuple[int, ...] = ()
        self.comments: tuple[str, ...] = ()
        self.before: tuple[str, ...] = ()

    def __repr__(self) -> str:
        return f"<Edge {self.san} of {self.parent.board().epd()}>"


class Place:
    """A move where it stands in the text of a section, linked to the place of the move before.

    The same move may stand at several places; `before` is None at a section's first move.
    """

    __slots__ = ("before", "edge")

    def __init__(self, edge: Edge, before: Place | None) -> None:
        self.edge = edge
        self.before = before

    def path(self) -> list[Edge]:
        """The moves from the section's root up to this one."""
        edges: list[Edge] = []
        place: Place | None = self
        while place is not None:
            edges.append(place.edge)
            place = place.before
        edges.reverse()
        return edges


@dataclass(eq=False)
class Section:
    """One game of the repertoire file.

    `stands` maps each move written in this section to the move written before it (None at the
    section's first move), in the order of the text. A move stands in the section that showed it
    first; a later section repeats a move only where it is needed to lead to one of its own, or
    where its choice of main move disagrees with what is prepared already. `disputes` are the
    places of those choices, each with the place in the same section where the main move was
    chosen, if there is one: what a conflict rests on, so that it survives saving.
    """

    root: Node
    tags: dict[str, str] = field(default_factory=dict)
    intro: tuple[str, ...] = ()
    stands: dict[Edge, Edge | None] = field(default_factory=dict)
    disputes: list[Place] = field(default_factory=list)

    @property
    def title(self) -> str:
        """What the section is called: its Event tag."""
        title = self.tags.get("Event", "").strip()
        return title if title and title != "?" else STARTING_TITLE


class Repertoire:
    """All that is prepared with one colour: positions by key, and the sections of the file."""

    def __init__(self, side: chess.Color = chess.WHITE) -> None:
        self.side = side
        self.nodes: dict[int, Node] = {}
        self.sections: list[Section] = []
        #: For a decision on which sections or orders disagree: each main move that was claimed.
        self.claims: dict[Node, list[Edge]] = {}

    # -- building ----------------------------------------------------------------------------

    def add_position(self, board: chess.Board) -> Node:
        """The node of the position on `board`, made where it is new.

        Raises `KeyCollisionError` when another position has the same key.
        """
        return self.add_packed(position_key(board), pack_position(board))

    def add_packed(self, key: int, packed: bytes) -> Node:
        """As `add_position`, for a position whose key and packed form are known already."""
        node = self.nodes.get(key)
        if node is None:
            node = self.nodes[key] = Node(key, packed)
        elif node.packed != packed:
            raise KeyCollisionError(
                f"Two different positions share the key {key:016x}: {node.board().epd()} and "
                f"{unpack_position(packed).epd()}; the second was not added, please report this."
            )
        return node

    def add_edge(self, parent: Node, move: chess.Move, child: Node, san: str) -> Edge:
        """Append `move` behind the other moves of `parent`. The move must be new there."""
        edge = Edge(parent, move, child, san)
        parent.edges.append(edge)
        child.entries.append(edge)
        return edge

    def dismantle(self) -> None:
        """Cut all positions and moves apart, so that they are freed without a search for cycles.

        Nothing may ask this repertoire for anything afterwards.
        """
        for node in self.nodes.values():
            node.edges = []
            node.entries = []
        self.nodes.clear()
        self.sections.clear()
        self.claims.clear()

    # -- asking ------------------------------------------------------------------------------

    def node_at(self, board: chess.Board) -> Node | None:
        """The node of the position on `board`, or None where the repertoire does not know it."""
        return self.nodes.get(position_key(board))

    @property
    def roots(self) -> list[Node]:
        """The distinct starting positions of the sections, in their order."""
        return list(dict.fromkeys(section.root for section in self.sections))

    def edges(self) -> Iterator[Edge]:
        """All moves, once each."""
        for node in self.nodes.values():
            yield from node.edges

    def is_decision(self, node: Node) -> bool:
        """Whether the player is to move and something is prepared."""
        return bool(node.edges) and node.turn == self.side

    def decisions(self) -> list[Node]:
        """All decisions, in the order in which they were read."""
        return [node for node in self.nodes.values() if self.is_decision(node)]

    def replies(self) -> list[Edge]:
        """All moves of the opponent that the repertoire knows."""
        return [edge for edge in self.edges() if edge.parent.turn != self.side]

    def crossings(self) -> list[Node]:
        """Positions entered by two or more distinct moves."""
        return [node for node in self.nodes.values() if len(node.entries) > 1]

    def conflicts(self) -> list[Node]:
        """Decisions on whose main move sections or orders disagree."""
        return [node for node in self.claims if self.is_decision(node)]
