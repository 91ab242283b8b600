"""Whose progress a repertoire file continues that was moved or renamed."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from typing import Any

import chess

from trainer.position import signed_key
from trainer.storage.records import path_at

#: The least share of the positions with answers or notes that a moved file must still hold.
LEAST_SHARE = 0.5


def find_moved(
    select: Callable[[str, Sequence[object]], Sequence[Sequence[Any]]],
    side: chess.Color,
    decision_keys: Collection[int],
) -> int | None:
    """The id of the repertoire of `side` that now holds `decision_keys`, or None.

    Its file is no longer at its path, and at least half of its positions with answers, or with
    notes where nothing was answered yet, are among the keys; of several, the one with the largest
    share, then the youngest. `select` runs a query.
    """
    keys: set[int] | None = None
    best: int | None = None
    best_share = 0.0
    for number, place in select(
        "SELECT id, path FROM repertoires WHERE side = ? OR side IS NULL ORDER BY id DESC",
        (int(side),),
    ):
        if place and path_at(place).exists():
            continue
        answered = select(
            # One pass over the table is faster than its rows in the order of an index.
            "SELECT DISTINCT key FROM answers NOT INDEXED "
            "WHERE repertoire_id = ? AND kind IN ('drill', 'repeat', 'game')",
            (number,),
        ) or select(
            "SELECT lower_key FROM pair_notes WHERE repertoire_id = ? "
            "UNION SELECT higher_key FROM pair_notes WHERE repertoire_id = ?",
            (number, number),
        )
        if not answered:
            continue
        keys = {signed_key(key) for key in decision_keys} if keys is None else keys
        share = sum(key in keys for (key,) in answered) / len(answered)
        if share >= LEAST_SHARE and share > best_share:
            best, best_share = number, share
    return best
