"""Where games begin and end in the bytes of a PGN file.

A game begins with the tag pairs after the moves of the one before, with or without an empty line
between; after an empty line an `Event` tag always begins one. A line that looks like a tag pair
inside a comment begins nothing. A comment that is never closed ends where the next game's header
stands, by the same rule as in `notation.tokens`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final

#: Start of a game, start of its moves, end of the game: offsets in the bytes.
Span = tuple[int, int, int]

_HEADER: Final = re.compile(
    rb"\s*(?:\[[^\n]*(?:\n|\Z)(?:[ \t\r]*(?:\n|\Z)(?!\[Event ))?|[%;][^\n]*(?:\n|\Z))*"
)
_TAG_LINE: Final = re.compile(rb'\[[A-Za-z0-9][\w+#=:-]*[ \t]+"')
_NEXT_GAME: Final = re.compile(rb'^\[Event "', re.MULTILINE)
_COMMENTS: Final = re.compile(rb"\{[^}]*(\}|\Z)|;[^\n]*|^%[^\n]*", re.MULTILINE)


def spans(data: bytes, *, final: bool = True) -> Iterator[Span]:
    """The games in `data`, which begins at a game.

    Unless `data` is the `final` part of a file, the last game is left out: it may go on.
    """
    position, length = 0, len(data)
    while position < length:
        header = _HEADER.match(data, position)
        moves = position if header is None else header.end()
        end = _next_start(data, moves, final)
        if end >= length and not final:
            return
        if not data[position:end].isspace():
            yield position, moves, end
        position = end


def _next_start(data: bytes, moves: int, final: bool) -> int:
    """Where the game after the one whose moves begin at `moves` begins."""
    looked, length = max(moves - 1, 0), len(data)
    while True:
        found = data.find(b"\n[", looked)
        limit = length if found < 0 else found + 1
        opened = _open_comment(data, looked, limit)
        if opened < 0:
            if found < 0 or _TAG_LINE.match(data, limit):
                return limit
            looked = limit
            continue
        closed = data.find(b"}", opened)
        if closed < 0 and not final:
            return length
        header = _NEXT_GAME.search(data, opened, length if closed < 0 else closed)
        if closed < 0 or (header is not None and data.find(b"{", header.end(), closed) >= 0):
            return length if header is None else header.start()
        looked = closed + 1


def _open_comment(data: bytes, start: int, end: int) -> int:
    """Where the comment opened that is still open at `end`, or -1."""
    if data.find(b"{", start, end) < 0:
        return -1
    if data.find(b";", start, end) < 0 and data.find(b"\n%", start, end) < 0:
        closed = data.rfind(b"}", start, end)
        return data.find(b"{", max(closed, start), end)
    for match in _COMMENTS.finditer(data, start, end):
        if match[0].startswith(b"{") and not match[1]:
            return match.start()
    return -1
