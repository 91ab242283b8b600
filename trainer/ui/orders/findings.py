"""What is looked for among the move orders, in steps that a worker takes. No Qt."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Final, TypeAlias

import chess

from trainer.errors import ResourceMissingError
from trainer.memory.course import Course
from trainer.position import position_key
from trainer.repertoire.conflicts import Conflict, find_conflicts
from trainer.repertoire.crossings import Crossing, find_crossings
from trainer.repertoire.doors import Doors, entry_doors, suggest_system_position
from trainer.repertoire.graph import Node, Repertoire
from trainer.repertoire.near_misses import NearMiss, find_near_misses
from trainer.repertoire.openings import OpeningBook
from trainer.repertoire.order_graph import OrderGraph
from trainer.repertoire.orders_allowed import Shortcuts
from trainer.repertoire.orders_seen import Sightings, orders_in_drills, orders_in_games
from trainer.repertoire.shortcuts import Shortcut, find_shortcuts

Cancelled = Callable[[], bool]
Progress = Callable[[float], None]
#: The player's games held against a course: the keys of the positions of each. Asked by a worker.
GamesOf: TypeAlias = Callable[[Course], Iterable[Sequence[int]]]

#: Positions searched for shortcuts in one piece of work. Each piece begins with a table of the
#: whole repertoire; between two of them other work gets its turn.
PIECE: Final = 10_000


@dataclass(frozen=True, eq=False)
class FoundShortcuts:
    """Shortcuts in their order, the same by position and move, and how many lead on."""

    entries: list[Shortcut]
    by_move: Shortcuts
    onward: int

    @classmethod
    def of(cls, found: Iterable[Shortcut]) -> FoundShortcuts:
        """What was found, in pieces, of one repertoire."""
        entries = sorted(found, key=lambda one: (one.goes_back, -one.reach))
        by_move = {(one.node, one.move): one for one in entries}
        return cls(entries, by_move, sum(not one.goes_back for one in entries))


@dataclass(frozen=True, eq=False)
class Kept:
    """What an edit has left as it was, until all is found again; None where nothing was found."""

    pairs: list[NearMiss] | None
    shortcuts: FoundShortcuts | None


@dataclass(frozen=True, eq=False)
class Basics:
    """What is known at once. `notice` says why there are no names of openings, if so.

    `state` is that of the repertoire when it was looked through, `answers` how many answers were
    counted for `sightings`. `pieces` are the positions that are to be searched for shortcuts, cut
    into pieces. `kept` is there after an edit.
    """

    graph: OrderGraph
    book: OpeningBook
    crossings: list[Crossing]
    conflicts: list[Conflict]
    doors: Doors | None
    sightings: Sightings
    answers: int
    notice: str
    state: tuple[int, int, int]
    pieces: list[list[Node]]
    kept: Kept | None = None

    @property
    def is_current(self) -> bool:
        """Whether nothing was added to the repertoire since, taken away or settled.

        Edits are made between two pieces of work; what was found before does not fit then.
        """
        return state_of(self.graph.repertoire) == self.state


def is_outdated(course: Course) -> bool:
    """Whether the repertoire was edited since the course was built."""
    arrays = course.arrays
    return state_of(course.repertoire)[:2] != (len(arrays.nodes), len(arrays.edges))


def state_of(repertoire: Repertoire) -> tuple[int, int, int]:
    """Positions, moves and disputed decisions."""
    nodes = repertoire.nodes
    return len(nodes), sum(len(node.edges) for node in nodes.values()), len(repertoire.claims)


def find_basics(
    course: Course, games_of: GamesOf | None = None, before: Kept | None = None
) -> Basics:
    """Crossings, conflicts and the doors into the position where the system seems to begin.

    `before` is what was found before an edit.
    """
    graph = OrderGraph(course.repertoire, course.arrays, course.reply_shares)
    notice = ""
    try:
        book = OpeningBook.load()
    except ResourceMissingError as error:
        book, notice = OpeningBook({}), str(error)
    system = suggest_system_position(graph)
    for root in course.repertoire.roots[:1]:
        # What these work out for the whole graph is kept there; the window shall not wait for it.
        graph.depth(root)
        graph.likeliest(root)
    sightings, answers = find_sightings(graph, course, games_of)
    return Basics(
        graph,
        book,
        find_crossings(graph),
        find_conflicts(course.repertoire),
        None if system is None else entry_doors(graph, system, book),
        sightings,
        answers,
        notice,
        state_of(course.repertoire),
        _shortcut_pieces(course.repertoire),
        None if before is None else _what_stands(course.repertoire, before),
    )


def _what_stands(repertoire: Repertoire, before: Kept) -> Kept:
    pairs, shortcuts = before.pairs, before.shortcuts
    return Kept(
        None if pairs is None else [one for one in pairs if _still_alike(repertoire, one)],
        None
        if shortcuts is None
        else FoundShortcuts.of(
            one for one in shortcuts.entries if _still_unlisted(repertoire, one)
        ),
    )


def _still_alike(repertoire: Repertoire, pair: NearMiss) -> bool:
    return all(
        repertoire.nodes.get(node.key) is node and repertoire.is_decision(node)
        for node in (pair.first, pair.second)
    )


def _still_unlisted(repertoire: Repertoire, shortcut: Shortcut) -> bool:
    nodes = (shortcut.node, shortcut.target)
    if any(repertoire.nodes.get(node.key) is not node for node in nodes):
        return False
    return shortcut.node.edge_for(shortcut.move) is None


def find_sightings(
    graph: OrderGraph, course: Course, games_of: GamesOf | None
) -> tuple[Sightings, int]:
    """How often each order was seen, and how many answers were counted for that."""
    answers = course.answers
    games = {} if games_of is None else orders_in_games(graph, games_of(course))
    return Sightings(graph, orders_in_drills(graph, answers), games), len(answers)


def find_pairs(basics: Basics, progress: Progress, cancelled: Cancelled) -> list[NearMiss]:
    """All near misses. Raises `SearchCancelledError`."""
    return find_near_misses(basics.graph, progress=progress, cancelled=cancelled)


def _shortcut_pieces(repertoire: Repertoire) -> list[list[Node]]:
    nodes = [node for node in repertoire.nodes.values() if node.turn != repertoire.side]
    return [nodes[begin : begin + PIECE] for begin in range(0, len(nodes), PIECE)]


def find_piece(
    basics: Basics, piece: list[Node], progress: Progress, cancelled: Cancelled
) -> list[Shortcut]:
    """The shortcuts of one piece. Raises `SearchCancelledError`."""
    return find_shortcuts(basics.graph, piece, progress=progress, cancelled=cancelled)


def position_of_fen(basics: Basics, fen: str) -> Node | str:
    """The position that a FEN or EPD describes, or a sentence on why there is none."""
    words = fen.split()
    try:
        if len(words) < 2:
            raise ValueError("side to move missing")
        board = chess.Board(" ".join([*words[:4], "0", "1"] if len(words) >= 4 else words))
    except ValueError:
        return "This is not a FEN: paste the whole line, with the side to move behind the board."
    repertoire = basics.graph.repertoire
    node = repertoire.nodes.get(position_key(board))
    if node is None:
        return "The repertoire does not know this position; choose one of its own."
    if basics.graph.depth(node) is None:
        return "No move order of the repertoire leads to this position."
    return node
