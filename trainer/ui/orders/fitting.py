"""Text cut to a few lines, in front or at the end."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QFontMetrics


def wrapped(text: str, metrics: QFontMetrics, width: int) -> list[str]:
    """`text` broken into lines of `width` pixels at spaces; a longer word is elided."""
    lines: list[str] = []
    line = ""
    for word in text.split(" "):
        longer = f"{line} {word}" if line else word
        if not line or metrics.horizontalAdvance(longer) <= width:
            line = longer
        else:
            lines.append(line)
            line = word
    lines.append(line)
    return [_elided(line, metrics, width) for line in lines]


def fitted(
    text: str, metrics: QFontMetrics, width: int, lines: int, *, front: bool = False
) -> list[str]:
    """At most so many lines; what is too much is left out at the end, or in `front`."""
    if lines == 1 and not front:
        return [_elided(text, metrics, width)]
    found = wrapped(text, metrics, width)
    if len(found) <= lines:
        return found
    words = text.split(" ")
    # The longest part that fits, by halving.
    least, most = 1, len(words)
    while least < most:
        kept = (least + most + 1) // 2
        part = _part(words, kept, front=front)
        if len(wrapped(part, metrics, width)) <= lines:
            least = kept
        else:
            most = kept - 1
    return wrapped(_part(words, least, front=front), metrics, width)[:lines]


def _part(words: list[str], kept: int, *, front: bool) -> str:
    return "… " + " ".join(words[-kept:]) if front else " ".join(words[:kept]) + " …"


def _elided(line: str, metrics: QFontMetrics, width: int) -> str:
    if metrics.horizontalAdvance(line) <= width:
        return line
    return metrics.elidedText(line, Qt.TextElideMode.ElideRight, width)
