"""Where a line of shown text may end.

Labels need this from the first moment, so nothing is imported here that takes time.
"""

from __future__ import annotations

import re
from typing import Final

_NUMBER: Final = r"(?:(?<=\b\d)|(?<=\b\d\d)|(?<=\b\d{3}))"
_MOVE: Final = r"(?:(?:[KQRBN♔♕♖♗♘][a-h]?[1-8]?x?|[a-h]x)?[a-h][1-8]|O-O)"
#: Where a line could end within a move: `O-O`, `8 Re1`, `7…Nc6`.
_BREAKS: Final = re.compile(rf"(?<=O)-(?=O)|{_NUMBER} (?={_MOVE})|(?<=\d)…(?=[\w♔♕♖♗♘])")
#: A word joiner behind what a line may end with, and a space that no line ends at.
_UNBROKEN: Final = {"-": "-\u2060", " ": "\u00a0", "…": "…\u2060"}


def kept_together(text: str) -> str:
    """The same to look at, but no line ends within castling or between a number and its move."""
    return _BREAKS.sub(lambda found: _UNBROKEN[found.group()], text)
