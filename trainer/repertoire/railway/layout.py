"""The layout of the map: a place for every position shown, a route for every move."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from trainer.repertoire.arrays import Bools, Floats, RepertoireArrays
from trainer.repertoire.railway.layers import (
    Columns,
    Whole,
    cut_into_columns,
    forward_edges,
    hidden_counts,
    plies_of,
    visible_nodes,
)
from trainer.repertoire.railway.ordering import crossing_count, ordered
from trainer.repertoire.railway.rows import rows
from trainer.repertoire.reach import ReplyShares, edge_shares


@dataclass(frozen=True, eq=False)
class MapLayout:
    """Where everything stands, in whole columns to the right and rows downward.

    With n positions and m moves in the arrays: `visible` (n) tells what is shown, `x` and `y`
    (n) are column and row, -1 where nothing is shown. `ply` (columns) are the half-moves made
    before each column. `folded` (n) tells behind which positions nothing is shown, `hidden` (n)
    how many positions unfolding one of them would show.

    `edges` (k) are the numbers of the moves shown, `closing` (k) those that lead back and close
    a cycle, `weight` (k) the reach of the move. The route of move i runs through the points
    `route[route_start[i]:route_start[i + 1]]` (column, row), its ends among them. `crossings`
    is how many pairs of lines cross.
    """

    visible: Bools
    x: Whole
    y: Whole
    ply: Whole
    folded: Bools
    hidden: Whole
    edges: Whole
    closing: Bools
    weight: Floats
    route: Whole
    route_start: Whole
    crossings: int

    @property
    def width(self) -> int:
        """How many columns there are."""
        return len(self.ply)

    @property
    def height(self) -> int:
        """How many rows there are."""
        return int(self.y.max(initial=-1)) + 1


def layout(
    arrays: RepertoireArrays,
    reach: Floats,
    folded: Iterable[int] = frozenset(),
    plies: Iterable[int] | None = None,
    reply_shares: ReplyShares | None = None,
) -> MapLayout:
    """Lay out a repertoire; the same input always gives the same plan.

    `reach` (n) is the reach of each position, `folded` the numbers of positions behind which
    nothing is shown, `plies` the half-moves before each starting position (`root_plies`) and
    `reply_shares` what `reach` rests on.
    """
    folded = sorted(set(folded))
    visible = visible_nodes(arrays, folded)
    closed = np.zeros(len(arrays.nodes), np.bool_)
    closed[folded] = True
    shown = visible[arrays.parent] & visible[arrays.child] & ~closed[arrays.parent]
    forward = forward_edges(arrays)
    weight = reach[arrays.parent] * edge_shares(arrays, reply_shares)
    ahead = np.flatnonzero(shown & forward).astype(np.int32)
    back = np.flatnonzero(shown & ~forward).astype(np.int32)
    columns = cut_into_columns(arrays, plies_of(arrays, plies), visible, ahead, weight)
    place = ordered(columns)
    row = rows(columns, place)
    x = np.full(len(arrays.nodes), -1, np.int32)
    y = np.full(len(arrays.nodes), -1, np.int32)
    x[columns.nodes] = columns.column[: len(columns.nodes)]
    y[columns.nodes] = row[: len(columns.nodes)]
    route, route_start = _routes(columns, row, len(ahead))
    ends = np.stack([arrays.parent[back], arrays.child[back]], axis=1).reshape(-1)
    route = np.concatenate([route, np.stack([x[ends], y[ends]], axis=1)])
    steps = np.full(len(back), 2, np.int32)
    route_start = np.concatenate([route_start, route_start[-1] + np.cumsum(steps)])
    edges = np.concatenate([ahead, back])
    return MapLayout(
        visible=visible,
        x=x,
        y=y,
        ply=columns.ply,
        folded=closed,
        hidden=hidden_counts(arrays, folded, visible),
        edges=edges,
        closing=np.arange(len(edges)) >= len(ahead),
        weight=weight[edges],
        route=route.astype(np.int32),
        route_start=route_start.astype(np.int32),
        crossings=crossing_count(columns, place),
    )


def _routes(columns: Columns, row: Whole, count: int) -> tuple[Whole, Whole]:
    """The points of the first `count` moves, and where each begins (count + 1)."""
    _, first, segments = np.unique(columns.edge, return_index=True, return_counts=True)
    start = np.zeros(count + 1, np.int64)
    np.cumsum(segments + 1, out=start[1:])
    vertices = np.empty(start[-1], np.int64)
    step = np.arange(len(columns.edge)) - np.repeat(first, segments)
    owner = np.repeat(np.arange(count), segments)
    vertices[start[owner] + step] = columns.source
    vertices[start[1:] - 1] = columns.target[first + segments - 1]
    return np.stack([columns.column[vertices], row[vertices]], axis=1), start
