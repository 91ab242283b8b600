"""What there is to look at in the place Games."""

from __future__ import annotations

from enum import IntEnum


class Section(IntEnum):
    """In the order of the words."""

    GAMES = 0
    PLACES = 1
    DEPTH = 2
    NEVER = 3
    FORGOTTEN = 4


SECTION_NAMES = ("Games", "Where they leave", "Depth", "Never met", "Forgotten")
