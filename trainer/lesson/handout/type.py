"""Type on a cairo context: faces, widths, and paragraphs broken into lines."""

from __future__ import annotations

from collections.abc import Iterable
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
        for run in runs:
            for number, word in enumerate(run.text.split(" ")):
                space = Run(" ", run.style) if number else None
                piece = Run(word, run.style)
                wide = self.width(piece) + (self.width(space) if space else 0.0)
                if space and used and used + wide > width:
                    lines.append([])
                    used, space, wide = 0.0, None, self.width(piece)
                if space:
                    lines[-1].append(space)
                for part in self._cut(piece, width):
                    if used and used + self.width(part) > width and part is not piece:
                        lines.append([])
                        used = 0.0
                    lines[-1].append(part)
                    used += self.width(part)
                used += self.width(space) if space else 0.0
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
            font = self._fonts[face, style] = cairo.ScaledFont(
                toy, cairo.Matrix(xx=style.size, yy=style.size)
            )
        return font
