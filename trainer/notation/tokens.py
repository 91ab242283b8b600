"""PGN text to tokens, in one linear pass that no file can break.

The import format of the PGN Standard (1994-03-12), sections 3 to 8 and 10, read with more
patience than it asks for. Nothing is nested here: brackets come out as tokens of their own.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final

# Kinds of tokens; the numbers are those of the groups in `_TOKEN`.
MOVE: Final = 1
OPEN: Final = 2
CLOSE: Final = 3
COMMENT: Final = 4
NAG: Final = 5
SUFFIX: Final = 6
RESULT: Final = 7
NUMBER_ONE: Final = 8
REST_OF_LINE: Final = 9
TAG: Final = 10
BROKEN_TAG: Final = 11
UNCLOSED: Final = 12
UNKNOWN: Final = 13

#: What ends a word. The set holds no class and no character over 255, which makes it fast.
_WORD: Final = r"[^\x00-\x20\x7f\x85\xa0(){}\[\];$!?]"
_TOKEN: Final = re.compile(
    rf"""
    [\x00-\x20]* (?:
      (?:(?:[2-9]|[1-9][0-9]+)\.+[\x00-\x20]*)?   # the number of a later move
      ([A-Za-z]{_WORD}*(?:\([QRBNqrbn]\)[+\#]*)?  # 1 a move, or any other word
        |[♔-♟]{_WORD}*|[0O]-[0O](?:-[0O])?[+\#]*|--|@@@@|0000)
    | (\()                                        # 2
    | (\))                                        # 3
    | \{{([^{{}}]*)\}}                            # 4 a comment in braces
    | \$({_WORD}*)                                # 5 a numeric annotation glyph
    | ([!?]+)                                     # 6
    | (1-0|0-1|1/2-1/2|½-½|\*)                    # 7
    | (1\.?(?![.\d/-])(?!\s*\.))                  # 8 the number of a first move
    | ;([^\n]*)                                   # 9 a comment to the line's end
    | (\[\s*\w[\w+\#=:-]*\s*"(?:[^"\\\n]|\\.)*"\s*\])   # 10 a tag pair
    | (^\[[^\n]*|\[[^\n\]]*\]?)                   # 11
    | (\{{)                                       # 12
    | ^%[^\n]*                                    # an escaped line
    | \d+\.*|\.+|\be\.p\.                         # move numbers
    | ({_WORD}+|\S)                               # 13
    )
    """,
    re.VERBOSE | re.MULTILINE,
)
_TAG: Final = re.compile(r'\[\s*(\w[\w+#=:-]*)\s*"(.*)"\s*\]', re.DOTALL)
_ESCAPED: Final = re.compile(r'\\(["\\])')
_NEXT_GAME: Final = re.compile(r'^\[Event "', re.MULTILINE)
_EN_PASSANT: Final = frozenset({"ep", "e.p", "ep.", "e.p."})

#: What stands for each result on the way in, and what the standard calls it.
RESULTS: Final = {"½-½": "1/2-1/2"}


#: One token: its kind, its text (of a comment: what is inside), its offset in the text.
Token = tuple[int, str, int]


def tokens(text: str) -> Iterator[Token]:
    """All tokens of a PGN text whose line ends are `\\n`; numbers of moves are left out.

    A comment that is never closed comes as `UNCLOSED`, and reading goes on at the next line
    that begins with `[Event "`.
    """
    position = 0
    while True:
        for match in _TOKEN.finditer(text, position):
            kind = match.lastindex
            if kind is None:
                continue
            if kind == UNCLOSED:
                # Braces do not nest, so the first one that closes ends the comment.
                start = match.end()
                inside, position = _long_comment(text, start)
                yield UNCLOSED if inside is None else COMMENT, inside or "", start - 1
                break
            word = match[kind]
            if word in _EN_PASSANT and kind == MOVE:
                continue
            yield kind, word, match.start(kind)
        else:
            return


def _long_comment(text: str, start: int) -> tuple[str | None, int]:
    """What a comment that opened before `start` says, and where reading goes on.

    A comment may quote a whole game. It counts as never closed where no brace closes it, or
    where the header of a game stands in it and then another comment opens before one closes:
    that brace is the next game's.
    """
    end = text.find("}", start)
    header = _NEXT_GAME.search(text, start, len(text) if end < 0 else end)
    if end >= 0 and (header is None or text.find("{", header.end(), end) < 0):
        return text[start:end], end + 1
    return None, len(text) if header is None else header.start()


def tag_pair(text: str) -> tuple[str, str] | None:
    """Name and value of a tag pair, or None where it cannot be read.

    Quotes inside the value that were not escaped are taken as they are.
    """
    match = _TAG.fullmatch(text.strip())
    if match is None:
        return None
    return match[1], _ESCAPED.sub(r"\1", match[2])


def paragraphs(comment: str) -> tuple[str, ...]:
    """The paragraphs of a comment: white space made single, an empty line between two of them."""
    if "\n" not in comment:
        words = comment.split()
        return (" ".join(words),) if words else ()
    found: list[str] = []
    current: list[str] = []
    for line in comment.split("\n"):
        words = line.split()
        if words:
            current += words
        elif current:
            found.append(" ".join(current))
            current = []
    if current:
        found.append(" ".join(current))
    return tuple(found)


def is_quiet_sign(text: str) -> bool:
    """Whether an unknown token holds no letter and no digit: a sign, not a move."""
    return not any(character.isalnum() for character in text)


class LineFinder:
    """Line numbers (from 1) of rising offsets in a text, each counted from the one before."""

    def __init__(self, text: str) -> None:
        self._text = text
        self._offset = 0
        self._line = 1

    @property
    def last(self) -> int:
        """The line that was asked for last."""
        return self._line

    def line(self, offset: int) -> int:
        """The line on which `offset` stands."""
        if offset < self._offset:
            self._offset, self._line = 0, 1
        self._line += self._text.count("\n", self._offset, offset)
        self._offset = offset
        return self._line
