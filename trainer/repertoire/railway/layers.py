"""The first half of the layout: what is shown, in which column, and the graph of columns.

A column is a number of half-moves from the start of the game. Columns in which nothing stands
are left out, so a set-up from move 30 does not stretch the plan.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt

from trainer.repertoire.arrays import Bools, Floats, RepertoireArrays
from trainer.repertoire.graph import Repertoire
from trainer.repertoire.sections import root_board

#: Whole numbers of any width.
Whole: TypeAlias = npt.NDArray[np.integer[Any]]


def root_plies(repertoire: Repertoire) -> list[int]:
    """For each of `repertoire.roots`, half-moves made before it by its own move number."""
    plies: dict[int, int] = {}
    for section in repertoire.sections:
        board = root_board(section)
        plies.setdefault(section.root.key, 0 if board is None else max(0, board.ply()))
    return [plies[root.key] for root in repertoire.roots]


def forward_edges(arrays: RepertoireArrays) -> Bools:
    """Which edges (m) were not cut for closing a cycle."""
    forward = np.zeros(len(arrays.edges), np.bool_)
    forward[arrays.level_edges] = True
    return forward


def plies_of(arrays: RepertoireArrays, plies: Iterable[int] | None = None) -> Whole:
    """Half-moves made before each position (n), by its longest order.

    `plies` are those of the starting positions, 0 where it is None; a starting position that
    another one leads to counts from there.
    """
    result = np.zeros(len(arrays.nodes), np.int32)
    if plies is not None:
        result[arrays.roots] = np.fromiter(plies, np.int32, len(arrays.roots))
    result[arrays.child[arrays.level_edges]] = 0
    for edges in arrays.levels():
        np.maximum.at(result, arrays.child[edges], result[arrays.parent[edges]] + 1)
    return result


def visible_nodes(arrays: RepertoireArrays, folded: Iterable[int]) -> Bools:
    """Which positions (n) a line still leads to when nothing is shown behind the `folded`."""
    closed = np.zeros(len(arrays.nodes), np.bool_)
    closed[list(folded)] = True
    entered = np.zeros(len(arrays.nodes), np.bool_)
    entered[arrays.child[arrays.level_edges]] = True
    starts = ~entered
    starts[arrays.roots] = True
    return _reached(arrays, np.flatnonzero(starts), closed)


def _reached(arrays: RepertoireArrays, starts: Whole, closed: Bools) -> Bools:
    seen = np.zeros(len(arrays.nodes), np.bool_)
    seen[starts] = True
    front = starts
    while len(front):
        front = front[~closed[front]]
        begin = arrays.edge_start[front]
        length = arrays.edge_start[front + 1] - begin
        within = np.arange(length.sum()) - np.repeat(np.cumsum(length) - length, length)
        children = np.unique(arrays.child[np.repeat(begin, length) + within])
        front = children[~seen[children]]
        seen[front] = True
    return seen


def hidden_counts(arrays: RepertoireArrays, folded: Iterable[int], visible: Bools) -> Whole:
    """For each folded position (n) how many positions show when it alone is unfolded."""
    counts = np.zeros(len(arrays.nodes), np.int32)
    numbers = list(folded)
    for number in numbers:
        if not visible[number]:
            continue
        closed = visible.copy()  # what is shown already is not gone through
        closed[numbers] = True
        closed[number] = False
        found = _reached(arrays, np.array([number], np.int32), closed)
        counts[number] = int((found & ~visible).sum())
    return counts


@dataclass(frozen=True, eq=False)
class Columns:
    """The shown graph cut into columns: every segment leads from one column to the next.

    The first `len(nodes)` vertices are the positions of numbers `nodes`; the others are bends
    of moves that pass over a column. `column` (v) is the column of a vertex, `ply` (columns)
    the half-moves made before it. Segments (s) lead from `source` to `target` (vertices)
    and belong to `edge` (numbers of the arrays), `weight` is the reach of that move.
    """

    nodes: Whole
    column: Whole
    ply: Whole
    source: Whole
    target: Whole
    edge: Whole
    weight: Floats

    @property
    def width(self) -> int:
        """How many columns there are."""
        return len(self.ply)


def cut_into_columns(
    arrays: RepertoireArrays, plies: Whole, visible: Bools, edges: Whole, weight: Floats
) -> Columns:
    """The columns of the `visible` positions and the forward `edges` between them.

    `plies` (n) as of `plies_of`, `weight` (m) the reach of each move.
    """
    nodes = np.flatnonzero(visible).astype(np.int32)
    used, column = np.unique(plies[nodes], return_inverse=True)
    vertex = np.full(len(arrays.nodes), -1, np.int64)
    vertex[nodes] = np.arange(len(nodes))
    start, end = vertex[arrays.parent[edges]], vertex[arrays.child[edges]]
    bends = column[end] - column[start] - 1
    owner = np.repeat(np.arange(len(edges)), bends + 1)
    step = np.arange(len(owner)) - np.repeat(np.cumsum(bends + 1) - bends - 1, bends + 1)
    first_bend = len(nodes) + np.cumsum(bends) - bends
    source = np.where(step == 0, start[owner], first_bend[owner] + step - 1)
    target = np.where(step == bends[owner], end[owner], first_bend[owner] + step)
    bend_owner = np.repeat(np.arange(len(edges)), bends)
    bend_step = np.arange(len(bend_owner)) - np.repeat(np.cumsum(bends) - bends, bends)
    return Columns(
        nodes=nodes,
        column=np.concatenate([column, column[start[bend_owner]] + bend_step + 1]).astype(
            np.int32
        ),
        ply=used.astype(np.int32),
        source=source.astype(np.int32),
        target=target.astype(np.int32),
        edge=edges[owner].astype(np.int32),
        weight=weight[edges[owner]],
    )
