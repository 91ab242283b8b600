"""Words into lines under 80 characters, filled greedily (PGN Standard, section 8.2)."""

from __future__ import annotations

from typing import Final

#: Export lines hold "no more than 79 characters" (PGN Standard, section 4.3: under 80).
LONGEST_LINE: Final = 79

#: A line that began with one of these would be an escape, a tag pair or a comment to a reader
#: that looks at beginnings of lines only.
_NEVER_FIRST: Final = ("%", "[", ";")


class LineFiller:
    """Takes words one by one and gives the lines."""

    def __init__(self) -> None:
        self._lines: list[str] = []
        self._line: list[str] = []
        self._length = 0
        self._word = ""
        self._prefix = ""

    def word(self, text: str) -> None:
        """The next word; a space or a line end goes before it."""
        self._flush()
        self._word = self._prefix + text
        self._prefix = ""

    def open_bracket(self) -> None:
        """An opening bracket, joined to the word that follows."""
        self._prefix += "("

    def close_bracket(self) -> None:
        """A closing bracket, joined to the word before."""
        if self._word:
            self._word += ")"
        else:
            self.word(")")

    def comment(self, paragraph: str) -> None:
        """A comment of one paragraph: in braces, or to the end of the line if it holds one."""
        if "}" in paragraph:
            self._rest_of_line(paragraph)
            return
        first, *others = f"{{{paragraph}}}".split(" ")
        self.word(first)
        for other in others:
            if other.startswith(_NEVER_FIRST):
                self._word += " " + other
            else:
                self.word(other)

    def lines(self) -> list[str]:
        """All lines so far; the filler is empty afterwards."""
        self._flush()
        self._end_line()
        lines, self._lines = self._lines, []
        return lines

    def _rest_of_line(self, paragraph: str) -> None:
        self.word(f"; {paragraph}")
        self._flush()
        self._end_line()

    def _flush(self) -> None:
        word, self._word = self._word, ""
        if not word:
            return
        if self._line and self._length + 1 + len(word) > LONGEST_LINE:
            self._end_line()
        self._length += len(word) + (1 if self._line else 0)
        self._line.append(word)

    def _end_line(self) -> None:
        if self._line:
            self._lines.append(" ".join(self._line))
            self._line = []
            self._length = 0
