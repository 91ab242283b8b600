"""What is not in order in a repertoire, entry by entry, each with the remedy at hand."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import chess

from trainer.repertoire.arrays import Floats, RepertoireArrays
from trainer.repertoire.audit import audit
from trainer.repertoire.graph import Edge, Node, Repertoire
from trainer.repertoire.measured import Unprepared
from trainer.repertoire.orders import MoveOrder, shown_order
from trainer.storage.answers import Answer, AnswerKind, Grade

#: A line is too long where it goes on for this many half-moves behind the point from which on
#: fewer than one game in `RARE` gets anywhere.
LONG_TAIL: Final = 8
RARE: Final = 1000.0
#: A decision is often missed from so many misses on, if they are at least this share.
OFTEN_MISSED: Final = 2
MISSED_SHARE: Final = 1 / 3


class EntryKind(StrEnum):
    """What is the matter."""

    HOLE = "hole"
    UNPREPARED = "unprepared"
    DEAD_END = "dead end"
    CONFLICT = "conflict"
    NO_REASON = "no reason"
    TOO_LONG = "too long"


class Remedy(StrEnum):
    """What the window offers to do about it."""

    ADD_MOVE = "add a move"
    ADD_REPLY = "add the reply and your answer"
    CHOOSE_MAIN = "choose the main move"
    WRITE_REASON = "write down why"
    CUT_LINE = "cut the line"


@dataclass(frozen=True)
class AuditEntry:
    """One thing that is not in order.

    `node` is the position to go to, `order` a shortest move order to it, `reach` the probability
    that a game gets there, 0 to 1. `edges` are the moves it is about: what is claimed, the move
    without a reason, the first move to cut; empty where a move is missing. Where a reply is
    missing, that is `reply`; `node` is the position before it, `order` and `reach` go behind it.
    """

    kind: EntryKind
    node: Node
    order: MoveOrder
    reach: float
    sentence: str
    remedy: Remedy
    edges: tuple[Edge, ...] = ()
    reply: chess.Move | None = None

    def board(self) -> chess.Board:
        """The position that it is about."""
        board = self.node.board()
        if self.reply is not None:
            board.push(self.reply)
        return board


def audit_entries(
    repertoire: Repertoire,
    arrays: RepertoireArrays,
    reach: Floats,
    answers: Iterable[Answer] = (),
    unprepared: Iterable[Unprepared] = (),
) -> list[AuditEntry]:
    """All entries, the most reached first; of equally reached ones in the order of `EntryKind`.

    `arrays` are those of `repertoire`, `reach` (n) is that of `trainer.repertoire.reach.reach`;
    `answers` are those of the player to this repertoire, without those taken back; `unprepared`
    are the replies worth meeting of these arrays (`trainer.repertoire.measured`).
    """
    audited = _Audited(repertoire, arrays, reach)
    entries = [
        *audited.ends(),
        *audited.unprepared(unprepared),
        *audited.conflicts(),
        *audited.without_reason(answers),
        *audited.too_long(),
    ]
    kinds = list(EntryKind)
    return sorted(entries, key=lambda entry: (-entry.reach, kinds.index(entry.kind)))


class _Audited:
    def __init__(self, repertoire: Repertoire, arrays: RepertoireArrays, reach: Floats) -> None:
        self._arrays = arrays
        self._reach = reach.tolist()
        self._repertoire = repertoire
        self._last = _shortest_orders(arrays)

    def ends(self) -> Iterator[AuditEntry]:
        """Holes, and the other dead ends."""
        found = audit(self._repertoire)
        holes: dict[Node, list[Edge]] = {}
        for edge in found.holes:
            holes.setdefault(edge.child, []).append(edge)
        for node, edges in holes.items():
            yield self._entry(
                EntryKind.HOLE,
                node,
                f"Nothing is prepared against {edges[0].san}.",
                Remedy.ADD_MOVE,
                tuple(edges),
            )
        for node in found.dead_ends:
            if node in holes:
                continue
            said = (
                "Nothing is prepared here."
                if node.turn == self._repertoire.side
                else "The line stops in the middle of a fight."
            )
            yield self._entry(EntryKind.DEAD_END, node, said, Remedy.ADD_MOVE)

    def unprepared(self, replies: Iterable[Unprepared]) -> Iterator[AuditEntry]:
        """Replies worth meeting that the repertoire does not have."""
        for one in replies:
            node = self._arrays.nodes[one.number]
            san = node.board().san(one.move)
            yield AuditEntry(
                EntryKind.UNPREPARED,
                node,
                self._order(node, san),
                one.reach,
                f"Nothing is prepared against {san}, {_played(one)}.",
                Remedy.ADD_REPLY,
                reply=one.move,
            )

    def conflicts(self) -> Iterator[AuditEntry]:
        """Decisions in dispute."""
        for node in self._repertoire.conflicts():
            claimed = tuple(self._repertoire.claims[node])
            names = " and ".join(edge.san for edge in claimed)
            yield self._entry(
                EntryKind.CONFLICT,
                node,
                f"{names} are both prepared as the main move.",
                Remedy.CHOOSE_MAIN,
                claimed,
            )

    def without_reason(self, answers: Iterable[Answer]) -> Iterator[AuditEntry]:
        """Main moves that are often missed and say nothing about why."""
        asked: Counter[tuple[int, str]] = Counter()
        missed: Counter[tuple[int, str]] = Counter()
        for answer in answers:
            if answer.kind is AnswerKind.DRILL:
                place = (answer.key, answer.move)
                asked[place] += 1
                missed[place] += answer.grade is Grade.MISSED
        for node in self._repertoire.decisions():
            edge = node.edges[0]
            place = (node.key, edge.move.uci())
            often = missed[place] >= OFTEN_MISSED and missed[place] >= MISSED_SHARE * asked[place]
            if often and not (edge.comments or edge.before):
                yield self._entry(
                    EntryKind.NO_REASON,
                    node,
                    f"{edge.san} was missed {missed[place]} times out of {asked[place]}, and no "
                    "note says why it is played.",
                    Remedy.WRITE_REASON,
                    (edge,),
                )

    def too_long(self) -> Iterator[AuditEntry]:
        """Lines that go on and on where hardly a game ever comes."""
        deepest = _plies_behind(self._arrays)
        rare = 1.0 / RARE
        arrays = self._arrays
        for number, node in enumerate(arrays.nodes):
            if self._reach[number] < rare or not node.edges:
                continue
            for index in arrays.edges_of(number):
                child = int(arrays.child[index])
                if 0.0 < self._reach[child] < rare and deepest[child] >= LONG_TAIL:
                    edge = arrays.edges[index]
                    yield self._entry(
                        EntryKind.TOO_LONG,
                        edge.child,
                        f"The line goes on for {deepest[child]} half-moves, but fewer than one "
                        f"game in {RARE:,.0f} comes here.",
                        Remedy.CUT_LINE,
                        (edge,),
                    )

    def _entry(
        self,
        kind: EntryKind,
        node: Node,
        sentence: str,
        remedy: Remedy,
        edges: tuple[Edge, ...] = (),
    ) -> AuditEntry:
        reach = self._reach[self._arrays.number(node)]
        return AuditEntry(kind, node, self._order(node), reach, sentence, remedy, edges)

    def _order(self, node: Node, *last: str) -> MoveOrder:
        """A shortest order to a position, and on from there."""
        sans = [*reversed(last)]
        while (edge := self._last.get(node)) is not None:
            sans.append(edge.san)
            node = edge.parent
        return shown_order(self._repertoire, node, sans[::-1])


def _played(one: Unprepared) -> str:
    """`played in 3 of 14 games of yours and in 31 of 258 of the base`."""
    counted = [
        f"in {number:,} of {games:,} {whose}"
        for number, games, whose in (
            (one.own, one.own_games, "games of yours"),
            (one.base, one.base_games, "games of the base"),
        )
        if number
    ]
    return f"played {' and '.join(counted)}"


def _shortest_orders(arrays: RepertoireArrays) -> dict[Node, Edge | None]:
    """For each position the last move of a shortest order to it; None at a root."""
    last: dict[Node, Edge | None] = {arrays.nodes[root]: None for root in arrays.roots}
    level = list(last)
    while level:
        below: list[Node] = []
        for node in level:
            for edge in node.edges:
                if edge.child not in last:
                    last[edge.child] = edge
                    below.append(edge.child)
        level = below
    return last


def _plies_behind(arrays: RepertoireArrays) -> list[int]:
    """The half-moves of the longest line behind each position (n), cycles cut."""
    behind = [0] * len(arrays.nodes)
    parents, children = arrays.parent.tolist(), arrays.child.tolist()
    for edges in arrays.levels_back():
        for edge in edges.tolist():
            parent = parents[edge]
            behind[parent] = max(behind[parent], behind[children[edge]] + 1)
    return behind
