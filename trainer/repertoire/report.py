"""What is told about a repertoire: what could not be read, and what its check found."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Skipped:
    """Something in a file that was not read: its game and line, both from 1, and the reason."""

    game: int
    line: int
    reason: str
