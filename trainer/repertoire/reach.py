"""Reach of positions, and depth in hand.

Reach is the probability that the next game gets to a position when the player plays what is
prepared, and the opponent what he will. Depth in hand is the expected number of prepared moves in
a row, recalled right, in that game.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

import numpy as np

from trainer.repertoire.arrays import Floats, RepertoireArrays

#: What the accepted alternatives of a decision share of its reach. A player who prepared two
#: moves mostly plays the main one, but the positions behind the other are worth a little too.
ALTERNATIVE_SHARE = 0.1

#: How likely each reply is among all that the opponent plays in its position, a number for each
#: edge of the arrays (m). What is left of 1 in a position are replies for which nothing is
#: prepared; a line ends there.
ReplyShares: TypeAlias = Floats

#: The share of each reply (m) of some arrays, None where the known ones are equally likely.
Weigh: TypeAlias = Callable[[RepertoireArrays], ReplyShares | None]


def root_shares(arrays: RepertoireArrays) -> Floats:
    """What each node starts with (n): roots that no other root leads to share 1.

    They share by the number of sections that begin there: a player who keeps twelve sections
    from the first move and one from a set-up meets that set-up now and then only. A root that
    another one leads to adds its sections to nobody. Where two roots lead to each other, the
    first of them stands.
    """
    is_root = np.zeros(len(arrays.nodes), np.bool_)
    is_root[arrays.roots] = True
    below = np.zeros(len(arrays.nodes), np.bool_)
    for edges in arrays.levels():
        parents = arrays.parent[edges]
        below[arrays.child[edges[is_root[parents] | below[parents]]]] = True
    shares = np.zeros(len(arrays.nodes))
    shares[arrays.roots] = arrays.root_sections
    shares[below] = 0.0
    return shares / max(1.0, float(shares.sum()))


def edge_shares(
    arrays: RepertoireArrays,
    reply_shares: ReplyShares | None = None,
    alternative_share: float = ALTERNATIVE_SHARE,
) -> Floats:
    """The probability of each edge (m) once its parent stands on the board.

    At a decision the main move gets everything, but for `alternative_share` that accepted
    alternatives have in common. Opponent's replies have their `reply_shares` (none below 0, at
    most 1 together); without them the known ones are equally likely.
    """
    counts = np.diff(arrays.edge_start)[arrays.parent]
    main = np.where(counts > 1, 1.0 - alternative_share, 1.0)
    other = alternative_share / np.maximum(counts - 1, 1)
    prepared = np.where(arrays.rank == 0, main, other)
    replies = 1.0 / counts if reply_shares is None else reply_shares
    return np.where(arrays.decision[arrays.parent], prepared, replies)


def reach(
    arrays: RepertoireArrays,
    reply_shares: ReplyShares | None = None,
    alternative_share: float = ALTERNATIVE_SHARE,
) -> Floats:
    """The reach of every position (n), each in 0..1."""
    shares = edge_shares(arrays, reply_shares, alternative_share)
    result = root_shares(arrays)
    for edges in arrays.levels():
        np.add.at(result, arrays.child[edges], result[arrays.parent[edges]] * shares[edges])
    return result


def depth_values(
    arrays: RepertoireArrays, recall: Floats, reply_shares: ReplyShares | None = None
) -> Floats:
    """V of every position (n): expected prepared moves in a row, recalled right, from there.

    At a decision V = recall · (1 + V behind the main move); at an opponent's position V is the
    sum of V behind the replies, each times its probability; at the end of a line, and behind a
    reply for which nothing is prepared, V = 0.
    `recall` (n) counts at decisions only.
    """
    shares = edge_shares(arrays, reply_shares, 0.0)
    value = np.zeros(len(arrays.nodes))
    factor = np.where(arrays.decision[arrays.parent], recall[arrays.parent], 1.0) * shares
    # Recall of a decision counts even where its main move was cut for closing a cycle.
    value[arrays.decision] = recall[arrays.decision]
    for edges in arrays.levels_back():
        np.add.at(value, arrays.parent[edges], factor[edges] * value[arrays.child[edges]])
    return value


def depth_in_hand(
    arrays: RepertoireArrays, recall: Floats, reply_shares: ReplyShares | None = None
) -> float:
    """Expected prepared moves in a row, recalled right, in the next game.

    `recall` (n) is the recall of each position's main prepared move. A repertoire of no
    positions gives 0.
    """
    values = depth_values(arrays, recall, reply_shares)
    # Nothing else has a share; all positions as one product wake the threads of the algebra
    # library, which takes longer than all the rest.
    return float(root_shares(arrays)[arrays.roots] @ values[arrays.roots])
