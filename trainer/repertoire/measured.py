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

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Final

import chess
import numpy as np

from trainer.notation.fastboard import key_after
from trainer.repertoire.arrays import Floats, RepertoireArrays
from trainer.repertoire.graph import Node
from trainer.storage.reply_counts import MoveCounts, ReplyCounts

#: How many of the player's own games the reference base counts for in each position.
BASE_COUNTS_AS: Final = 10.0
#: A reply is worth meeting where it comes in so many of all games, and was played at least twice
#: in those of the player or of the base, which may hold the same games.
WORTH_MEETING: Final = 0.005
_TWICE: Final = 2


@dataclass(frozen=True)
class Unprepared:
    """A reply that is played, and for which nothing is prepared.

    `move` in the position `number` of the arrays; `share` is its probability there, `reach` that
    of a game getting behind it, both 0 to 1. It was played in `own` of `own_games` games of the
    player's, and in `base` of `base_games`.
    """

    number: int
    move: chess.Move
    share: float
    reach: float
    own: int
    own_games: int
    base: int
    base_games: int


@dataclass(frozen=True)
class Measured:
    """Replies by these `counts`, the base counting for so many games of the player's own."""

    counts: ReplyCounts = field(default_factory=ReplyCounts)
    base_counts_as: float = BASE_COUNTS_AS

    def shares(self, arrays: RepertoireArrays) -> Floats | None:
        """The share of each reply (m) of these arrays; None where nothing was counted."""
        return measured_shares(arrays, self.counts, self.base_counts_as)

    def worth_meeting(self, arrays: RepertoireArrays, reach: Floats) -> list[Unprepared]:
        """What is played in `WORTH_MEETING` of all games or more and is not prepared for.

        `reach` (n) is that of `trainer.repertoire.reach.reach` by `shares`. A move that leads to
        a known position is left out. What is most reached comes first.
        """
        own, base = self.counts.own, self.counts.base
        found: list[Unprepared] = []
        for number, node in enumerate(arrays.nodes):
            if arrays.decision[number] or not node.edges or reach[number] < WORTH_MEETING:
                continue
            played = own.get(node.key, {}), base.get(node.key, {})
            found += (
                one
                for one in self._unlisted(number, node, float(reach[number]), *played)
                if max(one.own, one.base) >= _TWICE
                and one.reach >= WORTH_MEETING
                and key_after(node.packed, node.key, one.move) not in arrays.number_of
            )
        return sorted(found, key=lambda one: -one.reach)

    def _unlisted(
        self,
        number: int,
        node: Node,
        reach: float,
        own: Mapping[str, int],
        base: Mapping[str, int],
    ) -> Iterator[Unprepared]:
        """Every reply that was played in a position and that it does not have."""
        own_games, base_games = sum(own.values()), sum(base.values())
        together = own_games + self.base_counts_as
        listed = {edge.move.uci() for edge in node.edges}
        for uci in dict.fromkeys([*own, *base]):
            if uci in listed:
                continue
            mine, others = own.get(uci, 0), base.get(uci, 0)
            by_base = self.base_counts_as * others / (base_games + len(listed))
            share = (mine + by_base) / together if together else 0.0
            yield Unprepared(
                number=number,
                move=chess.Move.from_uci(uci),
                share=share,
                reach=reach * share,
                own=mine,
                own_games=own_games,
                base=others,
                base_games=base_games,
            )


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
