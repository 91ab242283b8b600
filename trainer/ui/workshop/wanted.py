"""Edits that are asked for among the move orders, as edits of the workshop. No Qt."""

from __future__ import annotations

from trainer.repertoire.workshop import edits
from trainer.repertoire.workshop.edits import Edit
from trainer.ui.orders.edits import AddShortcut, ResolveConflict


def edit_for(wanted: object) -> Edit | None:
    """One step that does what is wanted; None for what is no edit of the repertoire."""
    if isinstance(wanted, AddShortcut):
        one = wanted.shortcut
        sans = [one.san] if one.via_san is None else [one.san, one.via_san]
        return edits.Paste(one.node.key, " ".join(sans))
    if isinstance(wanted, ResolveConflict):
        return edits.ResolveConflict(wanted.node.key, wanted.edge.move.uci())
    return None
