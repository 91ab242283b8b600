"""The columns of the list of games."""

from __future__ import annotations

from enum import IntEnum


class Column(IntEnum):
    """A column, from the left."""

    DATE = 0
    WHITE = 1
    BLACK = 2
    OPPONENT = 3
    RESULT = 4
    KNOWN = 5
    LEFT = 6

    @property
    def title(self) -> str:
        """What stands above it."""
        return _TITLES[self]


_TITLES = ("Date", "White", "Black", "Opponent", "Result", "Known up to", "Left by")
