"""What knowing a move is worth: depth in hand, and its derivative by each recall.

At a decision V = R · (1 + Σ p · V(next decision)), where p is the probability of the reply that
leads there; depth in hand is the sum of V over the starting decisions, weighted. So

- W = 1 + Σ p · R(next) · W(next) is what a game gains from here on once the move is recalled,
  computed from the ends of the lines up;
- A is the probability that a game gets here with every move before recalled, from the starts
  down;
- w = A · W is the derivative of depth in hand by R, exactly, as long as no line meets a position
  twice, which the cutting of cycles sees to.

The graph of decisions is cut into levels, and each level is a handful of operations on arrays.
All of it is computed for many players at once: recalls are (decisions, players).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from trainer.repertoire.arrays import Floats, RepertoireArrays

Indices = npt.NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class _Pull:
    """One level: each of `targets` takes the sum of `weight` · source over its links.

    The links of one target stand together and begin at `begins`.
    """

    targets: Indices
    sources: Indices
    weight: Floats
    begins: Indices

    def sums(self, values: Floats) -> Floats:
        """The sums (targets, players) of `values` (decisions, players)."""
        links: Floats = values[self.sources] * self.weight[:, None]
        totals: Floats = np.add.reduceat(links, self.begins, axis=0)
        return totals


@dataclass(frozen=True, eq=False)
class DecisionGraph:
    """The decisions of a repertoire, and with what probability one follows another.

    With d decisions: `nodes` (d) are their numbers in the arrays, `place` (n) the reverse, -1 at
    other positions. `start` (d) is the probability that a game meets a decision first. A link
    leads from `before` to `after` with `probability`, once a prepared move of `before` is played.
    """

    nodes: Indices
    place: Indices
    start: Floats
    before: Indices
    after: Indices
    probability: Floats
    up: tuple[_Pull, ...]
    down: tuple[_Pull, ...]

    @classmethod
    def of(cls, arrays: RepertoireArrays, shares: Floats, starts: Floats) -> DecisionGraph:
        """The decisions of `arrays`.

        `shares` (m) is the probability of each edge once its parent stands on the board,
        `starts` (n) that of a game beginning at a node. Shares of replies may sum to less than
        1: what is missing are replies for which nothing is prepared, where a line ends.
        """
        nodes = np.flatnonzero(arrays.decision)
        place = np.full(len(arrays.nodes), -1, np.intp)
        place[nodes] = np.arange(len(nodes))
        forward = np.zeros(len(arrays.edges), np.bool_)
        forward[arrays.level_edges] = True
        parent, child = arrays.parent, arrays.child
        out_of_decision = forward & arrays.decision[parent] & (shares > 0)
        first = np.flatnonzero(out_of_decision)
        replies_from = arrays.edge_start[child[first]].astype(np.intp)
        counts = arrays.edge_start[child[first] + 1] - replies_from
        which = np.repeat(first, counts)
        reply = _ranges(replies_from, counts)
        before, after = place[parent[which]], place[child[reply]]
        weight = shares[which] * shares[reply]
        kept = (after >= 0) & (weight > 0) & forward[reply]
        before, after, weight = before[kept], after[kept], weight[kept]
        start = starts[nodes].copy()
        for node in np.flatnonzero((starts > 0) & ~arrays.decision):
            edges = np.arange(arrays.edge_start[node], arrays.edge_start[node + 1])
            edges = edges[forward[edges] & (place[child[edges]] >= 0)]
            np.add.at(start, place[child[edges]], starts[node] * shares[edges])
        level = arrays.level[nodes]
        return cls(
            nodes=nodes,
            place=place,
            start=start,
            before=before,
            after=after,
            probability=weight,
            up=_pulls(before, after, weight, level, deepest_first=True),
            down=_pulls(after, before, weight, level, deepest_first=False),
        )

    def __len__(self) -> int:
        return len(self.nodes)

    def behind(self, recall: Floats) -> Floats:
        """W of every decision: moves in a row from here on, once its move is recalled (d, k)."""
        known = np.empty_like(recall)
        worth = np.ones_like(recall)
        known[:] = recall
        for pull in self.up:
            worth[pull.targets] += pull.sums(known)
            known[pull.targets] = recall[pull.targets] * worth[pull.targets]
        return worth

    def arrival(self, recall: Floats) -> Floats:
        """A of every decision: a game gets here, with all before it recalled (d, k)."""
        come = np.zeros_like(recall)
        come += self.start[:, None]
        passed = come * recall
        for pull in self.down:
            come[pull.targets] += pull.sums(passed)
            passed[pull.targets] = come[pull.targets] * recall[pull.targets]
        return come

    def worth(self, recall: Floats) -> Floats:
        """w = A · W, the derivative of depth in hand by the recall of each decision (d, k)."""
        return self.arrival(recall) * self.behind(recall)

    def depth(self, recall: Floats) -> Floats:
        """Depth in hand of each player (k)."""
        total: Floats = self.start @ (recall * self.behind(recall))
        return total


def _ranges(begins: Indices, counts: npt.NDArray[np.integer]) -> Indices:
    """The numbers from each of `begins` on, `counts` of them, one after the other."""
    ends = np.cumsum(counts)
    total = int(ends[-1]) if len(ends) else 0
    numbers: Indices = np.arange(total) - np.repeat(ends - counts, counts)
    numbers += np.repeat(begins, counts)
    return numbers


def _pulls(
    target: Indices,
    source: Indices,
    weight: Floats,
    level: npt.NDArray[np.integer],
    *,
    deepest_first: bool,
) -> tuple[_Pull, ...]:
    """The links by the level of their target, each level's grouped by target."""
    rank = -level[target] if deepest_first else level[target]
    order = np.lexsort((target, rank))
    target, source, weight, rank = target[order], source[order], weight[order], rank[order]
    pulls = []
    bounds = [0, *(np.flatnonzero(np.diff(rank)) + 1).tolist(), len(rank)]
    for begin, end in pairwise(bounds):
        if begin == end:
            continue
        here = target[begin:end]
        begins = np.concatenate(([0], np.flatnonzero(np.diff(here)) + 1))
        pulls.append(_Pull(here[begins], source[begin:end], weight[begin:end], begins))
    return tuple(pulls)
