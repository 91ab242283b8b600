"""What kind of note a paragraph is: a reason, a plan or a trick.

A note is a comment of a move in the file, as any program shows it. A paragraph that begins with
`Plan:` or `Trick:` is one of these; every other one says why the move is played.
"""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum
from typing import Final


class NoteKind(StrEnum):
    """Why a move is played, what comes next, or what to watch for."""

    REASON = "Reason"
    PLAN = "Plan"
    TRICK = "Trick"


_LED: Final = (NoteKind.PLAN, NoteKind.TRICK)


def lead(kind: NoteKind) -> str:
    """What a paragraph of this kind begins with in the file; nothing for a reason."""
    return "" if kind is NoteKind.REASON else f"{kind}:"


def note_kind(paragraph: str) -> NoteKind:
    """The kind of a paragraph."""
    for kind in _LED:
        if paragraph.lstrip().casefold().startswith(lead(kind).casefold()):
            return kind
    return NoteKind.REASON


def without_lead(paragraph: str) -> str:
    """What a paragraph says, without the word that names its kind."""
    return paragraph.lstrip()[len(lead(note_kind(paragraph))) :].strip()


def sorted_notes(paragraphs: Iterable[str]) -> dict[NoteKind, list[str]]:
    """The paragraphs of each kind, in their order and without the leading word."""
    found: dict[NoteKind, list[str]] = {kind: [] for kind in NoteKind}
    for paragraph in paragraphs:
        kind = note_kind(paragraph)
        text = paragraph if kind is NoteKind.REASON else without_lead(paragraph)
        if text:
            found[kind].append(text)
    return found
