"""Edits that are asked for elsewhere in the window, as edits of the workshop. No Qt.

The edits are imported where they are made: the start of the window shall not wait for them.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import chess

    from trainer.repertoire.graph import Edge, Node
    from trainer.repertoire.workshop.edits import Edit


def edit_for(wanted: object) -> Edit | None:
    """What is wanted among the move orders; None for what is no edit of the repertoire."""
    from trainer.repertoire.workshop.edits import Paste
    from trainer.repertoire.workshop.edits import ResolveConflict as Settle
    from trainer.ui.orders.edits import AddShortcut, ResolveConflict

    if isinstance(wanted, AddShortcut):
        one = wanted.shortcut
        sans = [one.san] if one.via_san is None else [one.san, one.via_san]
        return Paste(one.node.key, " ".join(sans))
    if isinstance(wanted, ResolveConflict):
        return Settle(wanted.node.key, wanted.edge.move.uci())
    return None


def added_move(node: Node, move: chess.Move) -> Edit:
    """A move that was played in a game."""
    from trainer.repertoire.workshop.edits import AddMove

    return AddMove.at(node, move)


def taken_line(node: Node, sans: str) -> Edit:
    """A line of the engine, its moves in SAN."""
    from trainer.repertoire.workshop.edits import Paste

    return Paste(node.key, sans)


def added_note(edge: Edge, paragraphs: Sequence[str]) -> Edit:
    """More paragraphs behind the note of a move."""
    from trainer.repertoire.workshop.edits import SetComments

    return SetComments(edge.parent.key, edge.move.uci(), (*edge.comments, *paragraphs))
