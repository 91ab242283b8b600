"""How likely each reply is, measured in games.

A known reply that was played n times in the player's own games, of N in which the opponent moved
there, and b times in the reference base, of B, has the share

    (n + K · (b + 1) / (B + k)) / (N + K)

where k replies are known. What the base says is smoothed by one imagined game for each of those
(Laplace's rule of succession, "Essai philosophique sur les probabilités", 1814), so that none is
ever impossible. It counts as much as K games of the player's own, whatever the size of the base:
where he has none the base decides, and the more he has the less it says. Without a base all known
replies are alike in it. N and B count every move that was played there, so what is left of 1 is
how often it was one for which nothing is prepared.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from trainer.repertoire.arrays import Floats, RepertoireArrays
from trainer.storage.reply_counts import MoveCounts, ReplyCounts

#: How many of the player's own games the reference base counts for in each position.
BASE_COUNTS_AS: Final = 10.0


def measured_shares(
    arrays: RepertoireArrays, counts: ReplyCounts, base_counts_as: float = BASE_COUNTS_AS
) -> Floats | None:
    """The share of each reply by the number of its edge (m), None where nothing was counted.

    The shares of the player's own moves mean nothing.
    """
    if not counts:
        return None
    known = np.diff(arrays.edge_start).astype(np.float64)
    own, own_games = _counted(arrays, counts.own)
    base, base_games = _counted(arrays, counts.base)
    smoothed = (base + 1.0) / (base_games + known)[arrays.parent]
    games = (own_games + base_counts_as)[arrays.parent]
    played = own + base_counts_as * smoothed
    # Where the base counts for nothing and no own game was, there is nothing to go by.
    equal = (1.0 / np.maximum(known, 1.0))[arrays.parent]
    shares: Floats = np.where(games > 0, played / np.where(games > 0, games, 1.0), equal)
    return shares


def _counted(arrays: RepertoireArrays, counts: MoveCounts) -> tuple[Floats, Floats]:
    """How many games played each edge (m), and how many played any move in its position (n)."""
    played, games = np.zeros(len(arrays.edges)), np.zeros(len(arrays.nodes))
    for key, moves in counts.items():
        number = arrays.number_of.get(key)
        if number is None:
            continue
        games[number] = sum(moves.values())
        for edge in arrays.edges_of(number):
            played[edge] = moves.get(arrays.edges[edge].move.uci(), 0)
    return played, games
