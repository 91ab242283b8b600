"""What the map shows of one course, in arrays: gathered off the UI thread, without Qt."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Final

import chess
import numpy as np

from trainer.notation.display import Notation, shown_san
from trainer.position import position_key
from trainer.repertoire.railway.layers import plies_of, root_plies

if TYPE_CHECKING:
    from trainer.memory.course import Course
    from trainer.repertoire.arrays import Bools, Floats, Ints, RepertoireArrays
    from trainer.repertoire.graph import Node
    from trainer.repertoire.railway.layers import Whole

_START: Final = position_key(chess.Board())


@dataclass(frozen=True, eq=False)
class Plan:
    """One repertoire with all that is drawn at its positions (n) and moves (m).

    `reach` (n) rests on `reply_shares` (m), None where replies are equally likely. `recall` (n)
    is NaN where nothing was asked yet and at positions that are no decision. `hole`
    are positions where the player is to move and nothing is prepared though the game goes on,
    `conflict` decisions with a disputed main move, `crossing` positions that two or more moves
    enter, `end` positions where a line ends. `ply` (n) are the half-moves made before, `entry`
    (n) the number of the likeliest move that leads there, -1 at a starting position. `titles` are
    the titles of the sections that begin elsewhere than the game, by position.
    """

    arrays: RepertoireArrays
    root_plies: list[int]
    reach: Floats
    reply_shares: Floats | None
    recall: Floats
    hole: Bools
    conflict: Bools
    crossing: Bools
    end: Bools
    root: Bools
    ply: Whole
    entry: Ints
    titles: dict[int, str]

    @classmethod
    def of(cls, course: Course, now: datetime) -> Plan:
        """The plan of a course with recall as of `now`."""
        arrays, repertoire = course.arrays, course.repertoire
        count = len(arrays.nodes)
        table = course.states.table(arrays)
        recall = np.where(
            arrays.decision & table.seen, table.recall(course.states.today(now)), np.nan
        )
        leaving = np.diff(arrays.edge_start)
        entering = np.bincount(arrays.child, minlength=count)
        end = leaving == 0
        hole = np.zeros(count, np.bool_)
        for number in np.flatnonzero(end & (entering > 0)).tolist():
            node = arrays.nodes[number]
            if node.turn == repertoire.side:
                hole[number] = any(node.board().legal_moves)
        conflict = np.zeros(count, np.bool_)
        conflict[[arrays.number(node) for node in repertoire.conflicts()]] = True
        root = np.zeros(count, np.bool_)
        root[arrays.roots] = True
        titles: dict[int, str] = {}
        for section in repertoire.sections:
            if section.root.key != _START:
                titles.setdefault(arrays.number(section.root), section.title)
        plies = root_plies(repertoire)
        entry = _entries(arrays, course.reach)
        entry[arrays.roots[entering[arrays.roots] == 0]] = -1
        return cls(
            arrays=arrays,
            root_plies=plies,
            reach=course.reach,
            reply_shares=course.reply_shares,
            recall=recall,
            hole=hole,
            conflict=conflict,
            crossing=entering > 1,
            end=end,
            root=root,
            ply=plies_of(arrays, plies),
            entry=entry,
            titles=titles,
        )

    def node(self, number: int) -> Node:
        """The position with a number."""
        return self.arrays.nodes[number]

    def move_text(self, edge: int, notation: Notation, *, always_number: bool = False) -> str:
        """A move with its number as books print it; Black's only where it begins a branch."""
        move = self.arrays.edges[edge]
        ply = int(self.ply[self.arrays.parent[edge]])
        san = shown_san(move.san, notation)
        if move.parent.turn:
            return f"{ply // 2 + 1} {san}"
        if always_number or self.arrays.rank[edge] > 0:
            return f"{ply // 2 + 1}…{san}"
        return san


def _entries(arrays: RepertoireArrays, reach: Floats) -> Ints:
    """For each position (n) the number of its likeliest entering move, the first of equals."""
    entry = np.full(len(arrays.nodes), -1, np.int32)
    forward = arrays.level_edges
    order = forward[np.lexsort((-forward, reach[arrays.parent[forward]]))]
    entry[arrays.child[order]] = order
    return entry
