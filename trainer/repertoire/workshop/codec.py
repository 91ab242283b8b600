"""Edits as plain values for the journal, and back."""

from __future__ import annotations

from dataclasses import asdict, fields
from typing import Any, Final

from trainer.repertoire.workshop import edits
from trainer.repertoire.workshop.text import EditError

_KINDS: Final = (
    edits.AddMove,
    edits.DeleteMove,
    edits.SetOrder,
    edits.MakeMain,
    edits.ResolveConflict,
    edits.SetComments,
    edits.SetBefore,
    edits.SetNags,
    edits.SetTags,
    edits.SetTitle,
    edits.SetIntro,
    edits.AddSection,
    edits.MoveSection,
    edits.DeleteSections,
    edits.Paste,
    edits.Merge,
)
_BY_NAME: Final = {kind.__name__: kind for kind in _KINDS}


def encode(edit: edits.Edit) -> dict[str, Any]:
    """The edit as values of JSON."""
    assert isinstance(edit, _KINDS)
    return {"edit": type(edit).__name__, **asdict(edit)}


def decode(values: dict[str, Any]) -> edits.Edit:
    """The edit that `encode` gave. Raises `EditError` where there is no such edit."""
    kind = _BY_NAME.get(str(values.get("edit")))
    given = {name: _frozen(value) for name, value in values.items() if name != "edit"}
    if kind is None or set(given) != {field.name for field in fields(kind)}:
        raise EditError("This edit was written by another version of the program.")
    edit: edits.Edit = kind(**given)
    return edit


def _frozen(value: Any) -> Any:
    return tuple(_frozen(item) for item in value) if isinstance(value, list) else value
