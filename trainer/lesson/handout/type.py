"""Type on a cairo context: faces, widths, and paragraphs broken into lines."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any, Final

#: Faces that are asked in turn for a character that the first one lacks.
_FACES: Final = ("serif", "DejaVu Serif", "DejaVu Sans", "sans-serif", "FreeSerif", "Symbola")


@dataclass(frozen=True)
class Style:
    """A size in points, and whether bold or slanted."""

    size: float
    bold: bool = False
    slanted: bool = False


@dataclass(frozen=True)
class Run:
    """Words set in one style."""

    text: str
    style: Style


def _words(runs: Iterable[Run]) -> Iterator[tuple[Run | None, list[Run]]]:
    """The words, each the runs that stand together with no space, with the space before it."""
    space: Run | None = None
    word: list[Run] = []
    for run in runs:
        for number, text in enumerate(run.text.split(" ")):
            if number:
                if word:
                    yield space, word
                    word = []
                space = Run(" ", run.style)
            if text:
                word.append(Run(text, run.style))
    if word:
        yield space, word


class Typesetter:
    """Measures and shows text on one context."""

    def __init__(self, cairo: Any, context: Any) -> None:
        self._cairo = cairo
        self._context = context
        self._fonts: dict[tuple[str, Style], Any] = {}
        self._lacking: dict[tuple[str, str], bool] = {}
        self._widths: dict[Run, float] = {}

    def width(self, run: Run) -> float:
        """How wide the text is, in points."""
        known = self._widths.get(run)
        if known is None:
            known = self._widths[run] = sum(
                self._font(face, run.style).text_extents(text)[4]
                for face, text in self._pieces(run)
            )
        return known

    def show(self, run: Run, x: float, y: float) -> float:
        """Put the text with its base line beginning at (x, y); where it ends."""
        for face, text in self._pieces(run):
            font = self._font(face, run.style)
            self._context.set_scaled_font(font)
            self._context.move_to(x, y)
            self._context.show_text(text)
            x += font.text_extents(text)[4]
        return x

    def lines(self, runs: Iterable[Run], width: float) -> list[list[Run]]:
        """The runs broken into lines no wider than `width`, at spaces; a longer word is cut."""
        lines: list[list[Run]] = [[]]
        used = 0.0
        for space, word in _words(runs):
            gap = self.width(space) if space is not None and lines[-1] else 0.0
            wide = sum(map(self.width, word))
            if lines[-1] and used + gap + wide > width:
                lines.append([])
                used = gap = 0.0
            if gap and space is not None:
                lines[-1].append(space)
            used += gap
            parts = (
                word if wide <= width else [part for run in word for part in self._cut(run, width)]
            )
            for part in parts:
                if lines[-1] and used + self.width(part) > width:
                    lines.append([])
                    used = 0.0
                lines[-1].append(part)
                used += self.width(part)
        return [line for line in lines if line]

    def _cut(self, word: Run, width: float) -> list[Run]:
        if self.width(word) <= width:
            return [word]
        parts, text = [], word.text
        while text:
            size = len(text)
            while size > 1 and self.width(Run(text[:size], word.style)) > width:
                size -= 1
            parts.append(Run(text[:size], word.style))
            text = text[size:]
        return parts

    def _pieces(self, run: Run) -> list[tuple[str, str]]:
        """The text in stretches of one face each."""
        pieces: list[tuple[str, str]] = []
        for character in run.text:
            face = next((one for one in _FACES if self._has(one, character)), _FACES[0])
            if pieces and pieces[-1][0] == face:
                pieces[-1] = (face, pieces[-1][1] + character)
            else:
                pieces.append((face, character))
        return pieces

    def _has(self, face: str, character: str) -> bool:
        if character < "\x7f":
            return True
        known = self._lacking.get((face, character))
        if known is None:
            glyphs = self._font(face, Style(10.0)).text_to_glyphs(
                0, 0, character, with_clusters=False
            )
            known = self._lacking[face, character] = all(glyph[0] for glyph in glyphs)
        return known

    def _font(self, face: str, style: Style) -> Any:
        font = self._fonts.get((face, style))
        if font is None:
            cairo = self._cairo
            toy = cairo.ToyFontFace(
                face,
                cairo.FONT_SLANT_ITALIC if style.slanted else cairo.FONT_SLANT_NORMAL,
                cairo.FONT_WEIGHT_BOLD if style.bold else cairo.FONT_WEIGHT_NORMAL,
            )
            # Widths as designed: hinting to a screen would make lines longer than measured.
            options = cairo.FontOptions()
            options.set_hint_style(cairo.HINT_STYLE_NONE)
            options.set_hint_metrics(cairo.HINT_METRICS_OFF)
            font = self._fonts[face, style] = cairo.ScaledFont(
                toy, cairo.Matrix(xx=style.size, yy=style.size), options=options
            )
        return font
