"""How likely each reply is, measured in games.

Of the replies known in a position, one that was played n times in the player's own games and b
times in the reference base, where all of them together were played B times and k of them are
known, weighs

    n + K · (b + 1) / (B + k)

The second part is what the base says, smoothed by one imagined game for each reply (Laplace's
rule of succession, "Essai philosophique sur les probabilités", 1814), so that no known reply is
ever impossible. It counts as much as K games of the player's own, whatever the size of the base:
where he has none the base decides, and the more he has the less it says. Without a base all
replies are alike in it.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from trainer.repertoire.arrays import Floats, RepertoireArrays
from trainer.storage.reply_counts import MoveCounts, ReplyCounts

#: How many of the player's own games the reference base counts for in each position.
BASE_COUNTS_AS: Final = 10.0


def measured_weights(
    arrays: RepertoireArrays, counts: ReplyCounts, base_counts_as: float = BASE_COUNTS_AS
) -> Floats | None:
    """The weight of each reply by the number of its edge (m), None where nothing was counted.

    The weights of the player's own moves mean nothing.
    """
    if not counts:
        return None
    own, base = _by_edge(arrays, counts.own), _by_edge(arrays, counts.base)
    positions = len(arrays.nodes)
    known = np.bincount(arrays.parent, minlength=positions)
    together = np.bincount(arrays.parent, base, minlength=positions)
    smoothed = (base + 1.0) / (together + known)[arrays.parent]
    weights: Floats = own + base_counts_as * smoothed
    return weights


def _by_edge(arrays: RepertoireArrays, counts: MoveCounts) -> Floats:
    found = np.zeros(len(arrays.edges))
    for key, moves in counts.items():
        number = arrays.number_of.get(key)
        if number is None:
            continue
        for edge in arrays.edges_of(number):
            found[edge] = moves.get(arrays.edges[edge].move.uci(), 0)
    return found
