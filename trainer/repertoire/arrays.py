"""The repertoire as numpy arrays, for what is computed over all positions at once.

Compiled once from a `Repertoire` and never changed. Node and edge numbers follow the order in
which positions and moves were read, so the same repertoire always gives the same arrays.

Reach and depth are sums along lines and need an order in which every position comes after the
positions before it. A repertoire may contain cycles (repetitions), so the moves that close one
are cut: an iterative depth-first walk from the starting positions marks each move that leads
back to a position still on the walk. Such a move stays in the repertoire and in the edge
arrays; it only carries no reach and no depth, since a game that repeats has gained nothing.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import TypeAlias

import chess
import numpy as np
import numpy.typing as npt

from trainer.repertoire.graph import Edge, Node, Repertoire

Ints: TypeAlias = npt.NDArray[np.int32]
Floats: TypeAlias = npt.NDArray[np.float64]
Bools: TypeAlias = npt.NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class RepertoireArrays:
    """All positions and moves of a repertoire in numbers.

    With n nodes and m edges: `nodes` and `edges` are the objects by number, `number_of` the
    number of a position key. `decision` (n) tells the decisions. The edges of node i are
    `edge_start[i]` up to, not including, `edge_start[i + 1]`, in their order of priority;
    `parent`, `child` and `rank` (m) are the ends of an edge and its place among its siblings.
    `main_edge` (n) is the main edge of a decision, -1 elsewhere. `roots` are the numbers of the
    starting positions in their order, `root_sections` how many sections begin at each.

    `level_edges` lists the edges that no cycle was cut at, sorted by the level of the parent,
    and `level_bounds` (levels + 1) where each level begins: every such edge leads to a higher
    level. `level` (n) is the level of a node.
    """

    side: chess.Color
    nodes: list[Node]
    edges: list[Edge]
    number_of: dict[int, int]
    decision: Bools
    edge_start: Ints
    parent: Ints
    child: Ints
    rank: Ints
    main_edge: Ints
    roots: Ints
    root_sections: Ints
    level: Ints
    level_edges: Ints
    level_bounds: Ints

    @classmethod
    def compile(cls, repertoire: Repertoire) -> RepertoireArrays:
        """The arrays of `repertoire` as it is now."""
        number_of = {key: number for number, key in enumerate(repertoire.nodes)}
        nodes = list(repertoire.nodes.values())
        edges = [edge for node in nodes for edge in node.edges]
        counts = np.fromiter((len(node.edges) for node in nodes), np.int32, len(nodes))
        edge_start = np.zeros(len(nodes) + 1, np.int32)
        np.cumsum(counts, out=edge_start[1:])
        parent = np.repeat(np.arange(len(nodes), dtype=np.int32), counts)
        child = np.fromiter((number_of[edge.child.key] for edge in edges), np.int32, len(edges))
        rank = np.arange(len(edges), dtype=np.int32) - edge_start[parent]
        turn = np.fromiter((node.packed[64] for node in nodes), np.bool_, len(nodes))
        decision = (turn == repertoire.side) & (counts > 0)
        main_edge = np.where(decision, edge_start[:-1], -1).astype(np.int32)
        begins = Counter(section.root.key for section in repertoire.sections)
        roots = np.array([number_of[root.key] for root in repertoire.roots], np.int32)
        level, forward = _levels(edge_start, child, roots)
        level_edges = np.flatnonzero(forward).astype(np.int32)
        edge_level = level[parent[level_edges]]
        level_edges = level_edges[np.argsort(edge_level, kind="stable")]
        depth = int(edge_level.max()) + 1 if len(edge_level) else 0
        level_bounds = np.zeros(depth + 1, np.int32)
        np.cumsum(np.bincount(edge_level, minlength=depth), out=level_bounds[1:])
        return cls(
            side=repertoire.side,
            nodes=nodes,
            edges=edges,
            number_of=number_of,
            decision=decision,
            edge_start=edge_start,
            parent=parent,
            child=child,
            rank=rank,
            main_edge=main_edge,
            roots=roots,
            root_sections=np.array([begins[root.key] for root in repertoire.roots], np.int32),
            level=level,
            level_edges=level_edges,
            level_bounds=level_bounds,
        )

    def levels(self) -> Iterator[Ints]:
        """The edge numbers of each level, from the starting positions on."""
        bounds = self.level_bounds.tolist()
        for begin, end in pairwise(bounds):
            yield self.level_edges[begin:end]

    def levels_back(self) -> Iterator[Ints]:
        """The edge numbers of each level, the deepest first."""
        bounds = self.level_bounds.tolist()
        for end, begin in pairwise(reversed(bounds)):
            yield self.level_edges[begin:end]

    def number(self, node: Node) -> int:
        """The number of `node`. Raises `KeyError` where the arrays do not hold it."""
        return self.number_of[node.key]

    def edges_of(self, number: int) -> range:
        """The edge numbers of a node, the main one first."""
        return range(int(self.edge_start[number]), int(self.edge_start[number + 1]))


def _levels(edge_start: Ints, child: Ints, roots: Ints) -> tuple[Ints, Bools]:
    """The level of each node, and which edges lead forward (were not cut).

    A level is the length of the longest way to the node, found by peeling off the nodes that
    nothing enters. Only what is left when nothing can be peeled holds cycles and needs the walk.
    """
    forward = np.ones(len(child), np.bool_)
    level, peeled = _peel(edge_start, child, forward)
    if not peeled.all():
        _cut_cycles(edge_start, child, roots, peeled, forward)
        level, peeled = _peel(edge_start, child, forward)
    return level, forward


def _peel(edge_start: Ints, child: Ints, forward: Bools) -> tuple[Ints, Bools]:
    """Longest-way levels over the `forward` edges, and which nodes got one."""
    count = len(edge_start) - 1
    level = np.zeros(count, np.int32)
    peeled = np.zeros(count, np.bool_)
    missing = np.bincount(child[forward], minlength=count)
    front = np.flatnonzero(missing == 0)
    depth = 0
    while len(front):
        level[front] = depth
        peeled[front] = True
        begin, length = edge_start[front], edge_start[front + 1] - edge_start[front]
        within = np.arange(length.sum()) - np.repeat(np.cumsum(length) - length, length)
        leaving = np.repeat(begin, length) + within
        children, entered = np.unique(child[leaving[forward[leaving]]], return_counts=True)
        missing[children] -= entered
        front = children[missing[children] == 0]
        depth += 1
    return level, peeled


def _cut_cycles(edge_start: Ints, child: Ints, roots: Ints, peeled: Bools, forward: Bools) -> None:
    """Clear `forward` at each edge that leads back to a node on the depth-first walk.

    The walk begins at starting positions, then where lines enter the cycles, so that the edge
    cut is the one that leads back towards the start.
    """
    starts, children = edge_start.tolist(), child.tolist()
    parents = np.repeat(np.arange(len(peeled)), np.diff(edge_start))
    entered = np.unique(child[peeled[parents] & ~peeled[child]]).tolist()
    done = peeled.tolist()
    on_walk = [False] * len(done)
    for begin in [*roots.tolist(), *entered, *np.flatnonzero(~peeled).tolist()]:
        if done[begin]:
            continue
        on_walk[begin] = True
        stack = [(begin, iter(range(starts[begin], starts[begin + 1])))]
        while stack:
            node, leaving = stack[-1]
            for edge in leaving:
                target = children[edge]
                if on_walk[target]:
                    forward[edge] = False
                elif not done[target]:
                    on_walk[target] = True
                    stack.append((target, iter(range(starts[target], starts[target + 1]))))
                    break
            else:
                on_walk[node] = False
                done[node] = True
                stack.pop()
