"""Edits that the player asks for among the move orders.

The workshop carries out the first two; what tells look-alikes apart goes to the course.
"""

from __future__ import annotations

from dataclasses import dataclass

from trainer.repertoire.graph import Edge, Node
from trainer.repertoire.shortcuts import Shortcut


@dataclass(frozen=True)
class AddShortcut:
    """Add the one or two moves of a shortcut to the repertoire."""

    shortcut: Shortcut


@dataclass(frozen=True)
class ResolveConflict:
    """Make `edge` the main move of `node` and keep the others as accepted alternatives."""

    node: Node
    edge: Edge


@dataclass(frozen=True)
class TellApart:
    """Keep `text`, what tells two look-alikes apart; an empty one takes it away."""

    first: Node
    second: Node
    text: str
