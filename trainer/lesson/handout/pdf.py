"""A lesson as printed pages: text, diagrams in pairs, questions on their own pages, answers last.

Two passes: the first lays out what stands on which page, the second draws, so that every page can
say of how many it is.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, Final

from trainer.lesson.handout.model import (
    Diagram,
    Heading,
    Lesson,
    Lines,
    Paper,
    Question,
    Text,
)
from trainer.lesson.handout.movetext import Kind, words
from trainer.lesson.handout.paint import DiagramPainter, load_cairo
from trainer.lesson.handout.type import Run, Style, Typesetter

#: Points: margins of a page, the gap between two columns, the width of a diagram.
_MARGIN: Final = 54.0
_GUTTER: Final = 20.0
_DIAGRAM: Final = 176.0
_LEADING: Final = 1.36

_TITLE: Final = Style(20.0, bold=True)
_HEADING: Final = Style(13.0, bold=True)
_BODY: Final = Style(10.2)
_BOLD: Final = Style(10.2, bold=True)
_SLANTED: Final = Style(10.2, slanted=True)
_SMALL: Final = Style(8.6)

_Draw = Callable[[Any, Typesetter, DiagramPainter], None]


@dataclass
class _Page:
    draws: list[_Draw] = field(default_factory=list)


class _Layout:
    """Puts things one below the other, and begins a new page where there is no room."""

    def __init__(self, paper: Paper, measure: Typesetter) -> None:
        self.width, self.height = paper.size
        self.measure = measure
        self.pages = [_Page()]
        self.y = _MARGIN

    @property
    def room(self) -> float:
        return self.height - _MARGIN - 18.0 - self.y

    @property
    def inner(self) -> float:
        return self.width - 2 * _MARGIN

    def new_page(self) -> None:
        if self.pages[-1].draws:
            self.pages.append(_Page())
        self.y = _MARGIN

    def need(self, height: float) -> None:
        if height > self.room and self.y > _MARGIN:
            self.new_page()

    def space(self, height: float) -> None:
        if self.y > _MARGIN:
            self.y += height

    def text(
        self,
        runs: list[Run],
        *,
        left: float = _MARGIN,
        width: float | None = None,
        keep: float = 0.0,
    ) -> None:
        """A paragraph; `keep` is the room that must be left below its first line."""
        for line in self.measure.lines(runs, self.inner if width is None else width):
            high = max(run.style.size for run in line) * _LEADING
            self.need(high + keep)
            self.put_line(line, left, self.y)
            self.y += high

    def put_line(self, line: list[Run], left: float, top: float) -> None:
        base = top + max(run.style.size for run in line)

        def draw(_context: Any, setter: Typesetter, _painter: DiagramPainter) -> None:
            x = left
            for run in line:
                x = setter.show(run, x, base)

        self.pages[-1].draws.append(draw)

    def put_diagram(self, diagram: Diagram, left: float, top: float) -> None:
        def draw(context: Any, _setter: Typesetter, painter: DiagramPainter) -> None:
            painter.paint(context, diagram, left, top, _DIAGRAM)

        self.pages[-1].draws.append(draw)

    def row(self, cells: list[tuple[Diagram, list[Run]]]) -> None:
        """One or two diagrams side by side, each with its words below."""
        captions = [self.measure.lines(runs, _DIAGRAM) if runs else [] for _, runs in cells]
        high = max(
            sum(max(run.style.size for run in line) * _LEADING for line in lines)
            for lines in captions
        )
        self.space(6.0)
        self.need(_DIAGRAM + 4.0 + high)
        gap = (self.inner - 2 * _DIAGRAM - _GUTTER) / 2
        for number, ((diagram, _), lines) in enumerate(zip(cells, captions, strict=True)):
            left = _MARGIN + gap + number * (_DIAGRAM + _GUTTER)
            self.put_diagram(diagram, left, self.y)
            top = self.y + _DIAGRAM + 4.0
            for line in lines:
                self.put_line(line, left, top)
                top += max(run.style.size for run in line) * _LEADING
        self.y += _DIAGRAM + 4.0 + high + 6.0


def lesson_pdf(lesson: Lesson, paper: Paper = Paper.A4) -> bytes:
    """The lesson as a PDF file.

    Raises `HandoutError` where cairo is missing.
    """
    cairo = load_cairo()
    stream = io.BytesIO()
    surface = cairo.PDFSurface(stream, *paper.size)
    _set_title(cairo, surface, lesson)
    context = cairo.Context(surface)
    setter, painter = Typesetter(cairo, context), DiagramPainter()
    layout = _laid_out(lesson, paper, setter)
    for number in range(len(layout.pages)):
        _draw_page(layout, lesson, number, context, setter, painter)
        surface.show_page()
    surface.finish()
    return stream.getvalue()


def lesson_page(lesson: Lesson, paper: Paper, *, page: int, width: int) -> tuple[bytes, int]:
    """One page (from 0) as a PNG file `width` pixels wide, and how many pages there are.

    A page behind the last one gives the last one.
    """
    cairo = load_cairo()
    scale = width / paper.size[0]
    surface = cairo.ImageSurface(cairo.FORMAT_RGB24, width, round(paper.size[1] * scale))
    context = cairo.Context(surface)
    context.set_source_rgb(1, 1, 1)
    context.paint()
    context.scale(scale, scale)
    setter = Typesetter(cairo, context)
    layout = _laid_out(lesson, paper, setter)
    number = min(page, len(layout.pages) - 1)
    _draw_page(layout, lesson, number, context, setter, DiagramPainter())
    stream = io.BytesIO()
    surface.write_to_png(stream)
    return stream.getvalue(), len(layout.pages)


def _laid_out(lesson: Lesson, paper: Paper, setter: Typesetter) -> _Layout:
    layout = _Layout(paper, setter)
    _lay_out(layout, lesson)
    layout.pages = [page for page in layout.pages if page.draws] or layout.pages
    return layout


def _draw_page(
    layout: _Layout,
    lesson: Lesson,
    number: int,
    context: Any,
    setter: Typesetter,
    painter: DiagramPainter,
) -> None:
    context.set_source_rgb(0.14, 0.13, 0.12)
    for draw in layout.pages[number].draws:
        context.save()
        draw(context, setter, painter)
        context.restore()
    _foot(layout, setter, lesson, f"{number + 1} / {len(layout.pages)}")


def _set_title(cairo: Any, surface: Any, lesson: Lesson) -> None:
    """Title and author of the file, where this cairo can say them."""
    try:
        surface.set_metadata(cairo.PDF_METADATA_TITLE, lesson.title)
        if lesson.coach:
            surface.set_metadata(cairo.PDF_METADATA_AUTHOR, lesson.coach)
    except (AttributeError, cairo.CairoError):
        return


def _foot(layout: _Layout, setter: Typesetter, lesson: Lesson, page: str) -> None:
    """Coach and date on the left, the number of the page on the right."""
    base = layout.height - _MARGIN + 14.0
    left = ", ".join(part for part in (lesson.coach, lesson.day()) if part)
    number = Run(page, _SMALL)
    room = layout.inner - setter.width(number) - _GUTTER
    lines = setter.lines([Run(left, _SMALL)], room) if left else []
    if lines:
        x = _MARGIN
        for run in lines[0]:
            x = setter.show(run, x, base)
    setter.show(number, layout.width - _MARGIN - setter.width(number), base)


def _lay_out(layout: _Layout, lesson: Lesson) -> None:
    layout.text([Run(lesson.title, _TITLE)])
    byline = ", ".join(part for part in (lesson.coach, lesson.day()) if part)
    if byline:
        layout.text([Run(byline, _SLANTED)])
    layout.space(8.0)
    waiting: list[Diagram] = []

    def flush() -> None:
        while waiting:
            pair = [waiting.pop(0) for _ in range(min(2, len(waiting)))]
            layout.row([(one, [Run(one.caption, _SMALL)] if one.caption else []) for one in pair])

    for item in lesson.items:
        if isinstance(item, Diagram):
            waiting.append(item)
            continue
        flush()
        if isinstance(item, Heading):
            layout.space(10.0)
            layout.text([Run(item.text, _HEADING)], keep=40.0)
            layout.space(2.0)
        elif isinstance(item, Text):
            layout.text([Run(item.text, _BODY)])
            layout.space(5.0)
        elif isinstance(item, Lines):
            _lines(layout, item)
    flush()
    if lesson.questions:
        _questions(layout, lesson.questions)


def _lines(layout: _Layout, lines: Lines) -> None:
    """Moves of the main line bold, variations plain, notes slanted."""
    runs: list[Run] = []
    after_bracket = True
    for word in words(lines):
        text = word.text
        if word.kind is Kind.MOVE:
            style = _BOLD if word.depth == 0 else _BODY
        else:
            style = _SLANTED if word.kind is Kind.NOTE and word.depth == 0 else _BODY
        glue = after_bracket or word.kind is Kind.CLOSE
        runs.append(Run(text if glue else f" {text}", style))
        after_bracket = word.kind is Kind.OPEN
    if runs:
        layout.text(runs)
        layout.space(5.0)


def _questions(layout: _Layout, questions: list[Question]) -> None:
    """Questions from a new page on, answers from another."""
    layout.new_page()
    layout.text([Run("Questions", _HEADING)])
    for start in range(0, len(questions), 2):
        layout.row(
            [
                (
                    Diagram(one.board, flipped=one.flipped),
                    [Run(f"{number}.", _BOLD), Run(f" {one.prompt}", _BODY)],
                )
                for number, one in enumerate(questions[start : start + 2], start=start + 1)
            ]
        )
    layout.new_page()
    layout.text([Run("Answers", _HEADING)])
    layout.space(4.0)
    for number, one in enumerate(questions, start=1):
        layout.text([Run(f"{number}.", _BOLD), Run(f" {one.answer()}", _BODY)])
        layout.space(4.0)
