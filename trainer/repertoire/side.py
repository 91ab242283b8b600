"""Whose repertoire a file is, where it does not say."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

import chess

from trainer.repertoire.graph import Node

SIDE_TAG: Final = "RepertoireSide"
SIDE_NAMES: Final = {chess.WHITE: "White", chess.BLACK: "Black"}


def side_from_tag(value: str) -> chess.Color | None:
    """The colour that a `RepertoireSide` tag names, in any case, or None for anything else."""
    return {"white": chess.WHITE, "black": chess.BLACK}.get(value.strip().lower())


def guess_side(nodes: Iterable[Node]) -> chess.Color:
    """The side that has one move where the other branches.

    The side with fewer second, third … moves is the player. Where both branch equally often, it
    is the side that makes the last move of more lines, because a prepared line ends with the
    player's own move; where that is equal too, White.
    """
    branches = {chess.WHITE: 0, chess.BLACK: 0}
    last_moves = {chess.WHITE: 0, chess.BLACK: 0}
    for node in nodes:
        if node.edges:
            branches[node.turn] += len(node.edges) - 1
        elif node.entries:
            last_moves[not node.turn] += 1
    if branches[chess.WHITE] != branches[chess.BLACK]:
        return branches[chess.WHITE] < branches[chess.BLACK]
    return last_moves[chess.WHITE] >= last_moves[chess.BLACK]
