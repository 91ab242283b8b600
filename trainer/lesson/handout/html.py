"""A lesson as one page for a browser: no network, works from a file, keys and screen readers.

Style and script are `resources/handout/page.css` and `page.js`, put into the page. Every position
of a line stands in it, so that the script knows no rule of chess; without scripts the first
position and all moves still stand there.
"""

from __future__ import annotations

import json
import re
from html import escape

import chess

from trainer.diagram import diagram_svg, square_corner
from trainer.lesson.handout.model import (
    Diagram,
    Heading,
    Lesson,
    Lines,
    Question,
    Text,
)
from trainer.lesson.handout.movetext import Kind, words
from trainer.resources import resource_path

_KEYS = (
    ("start", "Start", "Home"),
    ("back", "Back", "left arrow"),
    ("next", "Next", "right arrow"),
    ("end", "End", "End"),
    ("turn", "Turn", "V"),
)


def lesson_html(lesson: Lesson) -> str:
    """The lesson as the text of one HTML file in UTF-8."""
    body: list[str] = [f"<h1>{escape(lesson.title)}</h1>"]
    byline = ", ".join(part for part in (lesson.coach, lesson.day()) if part)
    if byline:
        body.append(f'<p class="byline">{escape(byline)}</p>')
    data: list[dict[str, object]] = []
    questions = 0
    gallery: list[str] = []
    for item in lesson.items:
        if isinstance(item, Diagram):
            gallery.append(_figure(item))
            continue
        body.extend(_gallery(gallery))
        if isinstance(item, Heading):
            body.append(f"<h2>{escape(item.text)}</h2>")
        elif isinstance(item, Text):
            body.append(f"<p>{escape(item.text)}</p>")
        elif isinstance(item, Lines):
            body.append(_lines(item, len(data)))
            data.append(_data(item))
        else:
            questions += 1
            if questions == 1:
                body.append("<h2>Questions</h2>")
            body.append(_question(item, questions))
    body.extend(_gallery(gallery))
    left, top, side = (100 * share for share in square_corner(chess.A8))
    payload = json.dumps(
        {"left": left, "top": top, "side": side, "lines": data}, ensure_ascii=False
    ).replace("<", "\\u003c")
    return _PAGE.format(
        title=escape(lesson.title),
        style=_resource("page.css"),
        store=_store(),
        body="\n".join(body),
        data=payload,
        script=_resource("page.js"),
    )


_PAGE = """<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; \
style-src 'unsafe-inline'; script-src 'unsafe-inline'">
<title>{title}</title>
<style>
{style}</style>
</head>
<body>
{store}
<main>
{body}
</main>
<script type="application/json" id="lines">{data}</script>
<script>
{script}</script>
</body>
</html>
"""


def _resource(name: str) -> str:
    return resource_path("handout", name).read_text(encoding="utf-8")


def _inside(svg: str) -> str:
    """What stands inside the outermost element, without a title."""
    inner = svg[svg.index(">") + 1 : svg.rindex("</svg>")]
    return re.sub(r"<title>.*?</title>", "", inner).strip()


def _view_box(svg: str) -> str:
    found = re.search(r'viewBox="([^"]*)"', svg)
    return found[1] if found else "0 0 100 100"


def _store() -> str:
    """The board and the pieces, drawn once and shown wherever a board stands."""
    symbols = []
    for name, flipped in (("ground", False), ("ground-turned", True)):
        svg = diagram_svg(chess.Board(None), flipped=flipped)
        inner = _inside(svg)
        if flipped:  # the dark square is defined in the other one
            inner = re.sub(r"<defs>.*?</defs>", "", inner, flags=re.DOTALL)
        symbols.append(f'<symbol id="{name}" viewBox="{_view_box(svg)}">{inner}</symbol>')
    for path in sorted(resource_path("pieces").glob("*.svg")):
        svg = path.read_text(encoding="utf-8")
        symbols.append(
            f'<symbol id="{path.stem}" viewBox="{_view_box(svg)}">{_inside(svg)}</symbol>'
        )
    # Old readers of SVG want the prefix; in a page it is not declared and not needed.
    text = "".join(symbols).replace("xlink:href", "href")
    return f'<svg class="store" aria-hidden="true" focusable="false">{text}</svg>'


def _board(
    board: chess.Board,
    *,
    flipped: bool,
    arrows: tuple[tuple[chess.Square, chess.Square], ...] = (),
    marks: tuple[chess.Square, ...] = (),
) -> str:
    ground = "ground-turned" if flipped else "ground"
    parts = [
        '<svg class="board" viewBox="0 0 100 100" role="img" '
        f'aria-label="{escape(described(board))}">',
        f'<use href="#{ground}" width="100" height="100"/>',
    ]
    for square, piece in board.piece_map().items():
        left, top, side = (100 * share for share in square_corner(square, flipped=flipped))
        name = f"{chess.COLOR_NAMES[piece.color]}-{chess.piece_name(piece.piece_type)}"
        parts.append(
            f'<use href="#{name}" x="{left:.3f}" y="{top:.3f}" '
            f'width="{side:.3f}" height="{side:.3f}"/>'
        )
    if arrows or marks:
        svg = diagram_svg(board, flipped=flipped, arrows=arrows, marks=marks, strokes_only=True)
        parts.append(
            f'<svg width="100" height="100" viewBox="{_view_box(svg)}">{_inside(svg)}</svg>'
        )
    parts.append("</svg>")
    return "".join(parts)


def described(board: chess.Board) -> str:
    """The position in words for who does not see it: `White: Kg1, Qd1, pawns a2 b2. Black: …`."""
    sides = []
    for color in (chess.WHITE, chess.BLACK):
        names = [
            f"{chess.piece_symbol(kind).upper()}{chess.square_name(square)}"
            for kind in (chess.KING, chess.QUEEN, chess.ROOK, chess.BISHOP, chess.KNIGHT)
            for square in board.pieces(kind, color)
        ]
        pawns = " ".join(map(chess.square_name, sorted(board.pieces(chess.PAWN, color))))
        if pawns:
            names.append(f"pawns {pawns}")
        sides.append(f"{chess.COLOR_NAMES[color].title()}: {', '.join(names) or 'nothing'}.")
    turn = "White" if board.turn else "Black"
    return " ".join((*sides, f"{turn} to move."))


def _figure(diagram: Diagram) -> str:
    board = _board(
        diagram.board, flipped=diagram.flipped, arrows=diagram.arrows, marks=diagram.marks
    )
    caption = f"<figcaption>{escape(diagram.caption)}</figcaption>" if diagram.caption else ""
    return f"<figure>{board}{caption}</figure>"


def _gallery(figures: list[str]) -> list[str]:
    if not figures:
        return []
    text = f'<div class="diagrams">{"".join(figures)}</div>'
    figures.clear()
    return [text]


def _lines(lines: Lines, number: int) -> str:
    keys = "".join(
        f'<button type="button" data-act="{act}" title="{key}">{label}</button>'
        for act, label, key in _KEYS
    )
    text: list[str] = []
    gap = ""
    for word in words(lines):
        safe = escape(word.text)
        before = "" if word.kind is Kind.CLOSE else gap
        if word.kind is Kind.MOVE:
            main = " main" if word.depth == 0 else ""
            safe = (
                f'<button type="button" class="move{main}" data-step="{word.step}">{safe}</button>'
            )
        elif word.kind is Kind.NOTE:
            safe = f'<span class="note">{safe}</span>'
        text.append(before + safe)
        gap = "" if word.kind is Kind.OPEN else " "
    return (
        f'<section class="lines" data-lines="{number}" aria-label="Lines to step through">'
        f'<div class="stage">{_board(lines.board, flipped=lines.flipped)}'
        f'<div class="keys" role="group" aria-label="Steps">{keys}</div>'
        f'<p class="said" aria-live="polite"></p></div>'
        f'<div class="text">{"".join(text)}</div></section>'
    )


def _data(lines: Lines) -> dict[str, object]:
    steps: list[dict[str, object]] = []
    for step, board in zip(lines.steps, lines.boards(), strict=True):
        notes = " ".join((*step.before, *step.comments))
        number = board.fullmove_number - (1 if board.turn else 0)
        dots = "…" if board.turn else " "
        steps.append(
            {
                "p": -1 if step.parent is None else step.parent,
                "f": board.board_fen(),
                "m": [step.move.from_square, step.move.to_square],
                "s": f"{number}{dots}{step.san}{': ' if notes else ''}{notes}",
                "a": described(board),
            }
        )
    return {
        "start": lines.board.board_fen(),
        "label": described(lines.board),
        "flipped": lines.flipped,
        "steps": steps,
    }


def _question(question: Question, number: int) -> str:
    hints = "".join(
        f"<details><summary>Hint {step}</summary><p>{escape(hint)}</p></details>"
        for step, hint in enumerate(question.hints, start=1)
    )
    return (
        f'<section class="question"><div class="diagrams"><figure>'
        f"{_board(question.board, flipped=question.flipped)}"
        f"<figcaption>{number}. {escape(question.prompt)}</figcaption></figure>"
        f"<div>{hints}<details><summary>Answer {number}</summary>"
        f"<p>{escape(question.answer())}</p></details></div></div></section>"
    )
