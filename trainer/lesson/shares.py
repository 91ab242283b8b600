"""How much of a repertoire leads to which structure, weighed by reach."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from trainer.lesson.structures import Found, StructureBook
from trainer.repertoire.arrays import RepertoireArrays
from trainer.repertoire.graph import Node
from trainer.repertoire.reach import ReplyShares, edge_shares, root_shares

#: Shares of all moves of a position sum to 1 but for the rounding of numbers.
_SURELY_NONE: Final = 1e-9


@dataclass(frozen=True)
class StructureShare:
    """One structure of a repertoire.

    `met` is the probability that the next game comes to it while the repertoire lasts, 0 to 1;
    `ends` the probability that the last prepared position of that game has it. `nodes` are the
    positions with it, in the order in which they were read.
    """

    found: Found
    met: float
    ends: float
    nodes: tuple[Node, ...]


def structure_shares(
    arrays: RepertoireArrays, book: StructureBook, reply_shares: ReplyShares | None = None
) -> list[StructureShare]:
    """The structures of a repertoire, the one met most often first.

    `met` is a sum along the lines from their ends: 1 where the position has the structure, else
    that of the moves weighed by their shares. A move that closes a cycle carries nothing.
    """
    of_node = [book.find(node.board()) for node in arrays.nodes]
    found: dict[str, Found] = {}
    nodes: dict[str, list[Node]] = {}
    for node, many in zip(arrays.nodes, of_node, strict=True):
        for one in many:
            found.setdefault(one.key, one)
            nodes.setdefault(one.key, []).append(node)
    number = {key: index for index, key in enumerate(found)}
    has = np.zeros((len(arrays.nodes), len(found)))
    for row, many in enumerate(of_node):
        for one in many:
            has[row, number[one.key]] = 1.0
    shares = edge_shares(arrays, reply_shares)
    # A game also leaves the repertoire where a reply comes for which nothing is prepared.
    left = 1.0 - np.bincount(arrays.parent, shares, minlength=len(arrays.nodes))
    ended = has * np.where(left > _SURELY_NONE, left, 0.0)[:, None]
    met, ends = has.copy(), ended.copy()
    for edges in arrays.levels_back():
        parents, children = arrays.parent[edges], arrays.child[edges]
        touched = np.unique(parents)
        for values in (met, ends):
            sums = np.zeros_like(values)
            np.add.at(sums, parents, shares[edges, None] * values[children])
            values[touched] = sums[touched]
        met[touched] = np.maximum(met[touched], has[touched])
        ends[touched] += ended[touched]
    start = root_shares(arrays)
    met_share, end_share = start @ met, start @ ends
    result = [
        StructureShare(
            one,
            min(1.0, float(met_share[number[key]])),
            min(1.0, float(end_share[number[key]])),
            tuple(nodes[key]),
        )
        for key, one in found.items()
    ]
    return sorted(result, key=lambda one: (-one.met, one.found.name))
