"""A position as a printed diagram: SVG text, or a file as SVG, PNG or PDF. Needs no Qt.

The look is that of a chess book: light paper squares, dark squares in ink hatching, a double
frame, figures outside the board. `BoardStyle.PLAIN` has flat dark squares in the same hues.
The measures and shapes are shared with the board of the window, so both look alike.
"""

from __future__ import annotations

import enum
import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

import chess

from trainer.colours import INK, PAPER, PIECE_PAPER
from trainer.errors import StemlineError
from trainer.resources import resource_path

HATCH_TINT = 0.10
"""Opacity of the ink tint under the hatching of a dark square."""
HATCH_LINES = 9
"""Hatching lines to a square, at 45 degrees."""
PLAIN_TINT = 0.26
"""Opacity of the ink tint of a dark square in the plain style."""
MIN_SIZE, MAX_SIZE = 64, 8000
"""Allowed width of a diagram in pixels."""

Point = tuple[float, float]

_SQUARE = 100.0  # user units; the pieces are drawn in a box of 100 by 100
_FRAME = 24.0
_MARGIN = 54.0


class DiagramError(StemlineError):
    """A diagram that cannot be drawn or written as asked."""


class BoardStyle(enum.StrEnum):
    """How the dark squares are filled."""

    HATCHED = "hatched"
    PLAIN = "plain"


@dataclass(frozen=True)
class ArrowShape:
    """An arrow: the ends of its shaft, the hollow head's corners, the centre of its number."""

    shaft: tuple[Point, Point]
    head: tuple[Point, Point, Point]
    label: Point


def square_corner(
    square: chess.Square, *, flipped: bool = False, coordinates: bool = True
) -> tuple[float, float, float]:
    """Return left, top and side of a square as shares of a diagram's width."""
    margin = _MARGIN if coordinates else 0.0
    side = 8 * _SQUARE + 2 * _FRAME + margin
    x, y = _Layout(flipped, left=margin + _FRAME, top=_FRAME).corner(square)
    return x / side, y / side, _SQUARE / side


def piece_file(piece: chess.Piece) -> str:
    """Return the file name of a piece's drawing, such as `white-king.svg`."""
    return f"{chess.COLOR_NAMES[piece.color]}-{chess.piece_name(piece.piece_type)}.svg"


def corner_ticks(x: float, y: float, side: float) -> tuple[tuple[Point, Point, Point], ...]:
    """Return the two corner ticks of a square at (x, y), each as three points of an L."""
    near, far, arm = 0.05 * side, 0.95 * side, 0.22 * side
    return (
        ((x + near, y + near + arm), (x + near, y + near), (x + near + arm, y + near)),
        ((x + far, y + far - arm), (x + far, y + far), (x + far - arm, y + far)),
    )


def arrow_shape(start: Point, end: Point, side: float) -> ArrowShape:
    """Return the shape of an arrow between two square centres.

    `side` is the side of a square in the same unit. The two centres must differ.
    """
    (x0, y0), (x1, y1) = start, end
    length = math.hypot(x1 - x0, y1 - y0)
    ux, uy = (x1 - x0) / length, (y1 - y0) / length

    def along(distance: float, aside: float = 0.0) -> Point:
        return (x0 + ux * distance - uy * aside, y0 + uy * distance + ux * aside)

    tip, base = length - 0.08 * side, length - 0.42 * side
    return ArrowShape(
        shaft=(along(0.30 * side), along(base)),
        head=(along(tip), along(base, 0.17 * side), along(base, -0.17 * side)),
        label=along(0.30 * side),
    )


@dataclass(frozen=True)
class _Layout:
    flipped: bool
    left: float
    top: float

    def corner(self, square: chess.Square) -> Point:
        column, row = chess.square_file(square), 7 - chess.square_rank(square)
        if self.flipped:
            column, row = 7 - column, 7 - row
        return (self.left + column * _SQUARE, self.top + row * _SQUARE)

    def centre(self, square: chess.Square) -> Point:
        x, y = self.corner(square)
        return (x + _SQUARE / 2, y + _SQUARE / 2)


def _number(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _path(points: Iterable[Point]) -> str:
    return "M" + "L".join(f"{_number(x)} {_number(y)}" for x, y in points)


def _hatching() -> str:
    """The lines of one dark square, from corner to corner, cut exactly at its edges."""
    step = _SQUARE / HATCH_LINES
    lines = []
    for k in range(1, 2 * HATCH_LINES):
        total = k * step  # the line x + y = total
        low, high = max(0.0, total - _SQUARE), min(_SQUARE, total)
        lines.append(_path([(low, total - low), (high, total - high)]))
    return "".join(lines)


def _definitions(board: chess.Board, style: BoardStyle) -> list[str]:
    out = ["<defs>", '<g id="dark">']
    tint = HATCH_TINT if style is BoardStyle.HATCHED else PLAIN_TINT
    out.append(f'<rect width="100" height="100" fill="{INK}" fill-opacity="{tint}"/>')
    if style is BoardStyle.HATCHED:
        out.append(f'<path d="{_hatching()}" stroke="{INK}" stroke-width="1.5" fill="none"/>')
    out.append("</g>")
    used = {piece_file(piece) for piece in board.piece_map().values()}
    for name in sorted(used):
        text = resource_path("pieces", name).read_text(encoding="utf-8")
        body = re.sub(r"<title>.*?</title>", "", text[text.index(">") + 1 : text.rindex("</svg>")])
        out.append(f'<g id="{name.removesuffix(".svg")}">{body.strip()}</g>')
    out.append("</defs>")
    return out


def _use(name: str, corner: Point) -> str:
    x, y = corner
    return f'<use xlink:href="#{name}" transform="translate({_number(x)} {_number(y)})"/>'


def _frame(layout: _Layout) -> str:
    def rect(gap: float, stroke: float) -> str:
        side = 8 * _SQUARE + 2 * gap
        return (
            f'<rect x="{_number(layout.left - gap)}" y="{_number(layout.top - gap)}" '
            f'width="{_number(side)}" height="{_number(side)}" fill="none" '
            f'stroke="{INK}" stroke-width="{_number(stroke)}"/>'
        )

    return rect(1.5, 3) + rect(15, 6)


def _coordinates(layout: _Layout, height: float) -> list[str]:
    attributes = f'font-family="sans-serif" font-size="32" fill="{INK}" text-anchor="middle"'
    out = []
    for i in range(8):
        x, _ = layout.centre(chess.square(i, 0))
        _, y = layout.centre(chess.square(0, i))
        name, rank = chess.FILE_NAMES[i], chess.RANK_NAMES[i]
        out.append(f'<text x="{_number(x)}" y="{_number(height - 14)}" {attributes}>{name}</text>')
        out.append(f'<text x="26" y="{_number(y + 11)}" {attributes}>{rank}</text>')
    return out


def _marks(layout: _Layout, marks: Iterable[chess.Square]) -> list[str]:
    """Rings, over a paper line so that they stand out from the hatching."""
    out = []
    for square in marks:
        x, y = (_number(value) for value in layout.centre(square))
        for colour, width in ((PIECE_PAPER, 9), (INK, 4.5)):
            out.append(
                f'<circle cx="{x}" cy="{y}" r="45" fill="none" '
                f'stroke="{colour}" stroke-width="{width}"/>'
            )
    return out


def _arrow(shape: ArrowShape, number: int | None) -> list[str]:
    shaft, head = _path(shape.shaft), _path(shape.head) + "Z"
    x, y = shape.label
    out = [
        f'<path d="{shaft}" stroke="{PIECE_PAPER}" stroke-width="14" fill="none"/>',
        f'<path d="{head}" stroke="{PIECE_PAPER}" stroke-width="14" fill="none"/>',
        f'<path d="{shaft}" stroke="{INK}" stroke-width="7" fill="none"/>',
        f'<path d="{head}" stroke="{INK}" stroke-width="6" fill="{PIECE_PAPER}" '
        'stroke-linejoin="round"/>',
    ]
    if number is not None:
        out.append(
            f'<circle cx="{_number(x)}" cy="{_number(y)}" r="17" fill="{PIECE_PAPER}" '
            f'stroke="{INK}" stroke-width="4"/><text x="{_number(x)}" y="{_number(y + 8.5)}" '
            f'font-family="sans-serif" font-size="24" font-weight="bold" fill="{INK}" '
            f'text-anchor="middle">{number}</text>'
        )
    return out


def _checked(size: int, style: str) -> BoardStyle:
    if not MIN_SIZE <= size <= MAX_SIZE:
        raise DiagramError(
            f"A diagram {size} pixels wide cannot be drawn: choose {MIN_SIZE} to {MAX_SIZE}."
        )
    try:
        return BoardStyle(style)
    except ValueError:
        known = " or ".join(BoardStyle)
        raise DiagramError(f"There is no diagram style “{style}”: choose {known}.") from None


def diagram_svg(
    board: chess.Board,
    *,
    size: int = 400,
    flipped: bool = False,
    coordinates: bool = True,
    style: str = BoardStyle.HATCHED,
    lastmove: chess.Move | None = None,
    marks: Iterable[chess.Square] = (),
    arrows: Sequence[tuple[chess.Square, chess.Square]] = (),
    strokes_only: bool = False,
) -> str:
    """Return a position as an SVG document, `size` pixels wide and high.

    `lastmove` gets two corner ticks on its squares, each square of `marks` a ring, each
    (from, to) of `arrows` an arrow, numbered in the given order when there are several. With
    `strokes_only` the board, its frame and the pieces are left out, for those who draw many
    diagrams: what is drawn over them remains, on nothing.
    Raises `DiagramError` for an impossible size, an unknown style or an arrow from a square to
    itself, `ResourceMissingError` when a piece's drawing is missing.
    """
    chosen = _checked(size, style)
    if any(start == end for start, end in arrows):
        raise DiagramError("An arrow of a diagram must end on another square than it starts from.")
    margin = _MARGIN if coordinates else 0.0
    layout = _Layout(flipped, left=margin + _FRAME, top=_FRAME)
    side = 8 * _SQUARE + 2 * _FRAME + margin
    out = [
        '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        f'width="{size}" height="{size}" viewBox="0 0 {_number(side)} {_number(side)}">',
        f"<title>{board.fen()}</title>",
    ]
    if not strokes_only:
        out.extend(_definitions(board, chosen))
        out.append(f'<rect width="{_number(side)}" height="{_number(side)}" fill="{PAPER}"/>')
        dark = chess.SquareSet(chess.BB_DARK_SQUARES)
        out.extend(_use("dark", layout.corner(square)) for square in dark)
        out.append(_frame(layout))
        if coordinates:
            out.extend(_coordinates(layout, side))
    if lastmove is not None and lastmove:
        ticks = "".join(
            _path(tick)
            for square in (lastmove.from_square, lastmove.to_square)
            for tick in corner_ticks(*layout.corner(square), _SQUARE)
        )
        out.append(f'<path d="{ticks}" fill="none" stroke="{INK}" stroke-width="6"/>')
    for square, piece in ({} if strokes_only else board.piece_map()).items():
        out.append(_use(piece_file(piece).removesuffix(".svg"), layout.corner(square)))
    out.extend(_marks(layout, marks))
    for number, (start, end) in enumerate(arrows, 1):
        shape = arrow_shape(layout.centre(start), layout.centre(end), _SQUARE)
        out.extend(_arrow(shape, number if len(arrows) > 1 else None))
    out.append("</svg>\n")
    return "\n".join(out)


def write_diagram(
    path: Path,
    board: chess.Board,
    *,
    size: int = 400,
    flipped: bool = False,
    coordinates: bool = True,
    style: str = BoardStyle.HATCHED,
    lastmove: chess.Move | None = None,
    marks: Iterable[chess.Square] = (),
    arrows: Sequence[tuple[chess.Square, chess.Square]] = (),
) -> None:
    """Write a position to `path` as SVG, PNG or PDF, by its suffix; see `diagram_svg`.

    Raises `DiagramError` for another suffix or when the file cannot be written.
    """
    kind = path.suffix.lower()
    if kind not in {".svg", ".png", ".pdf"}:
        raise DiagramError(
            f"The diagram {path} cannot be written: end its name in .svg, .png or .pdf."
        )
    text = diagram_svg(
        board,
        size=size,
        flipped=flipped,
        coordinates=coordinates,
        style=style,
        lastmove=lastmove,
        marks=marks,
        arrows=arrows,
    )
    data = text.encode() if kind == ".svg" else _converted(text, kind)
    try:
        path.write_bytes(data)
    except OSError as error:
        reason = error.strerror or str(error)
        raise DiagramError(
            f"The diagram cannot be written to {path} ({reason}): choose another place."
        ) from error


def _converted(svg: str, kind: str) -> bytes:
    # cairosvg and the cairo library behind it are loaded only when a picture is asked for.
    try:
        import cairosvg
    except (ImportError, OSError) as error:
        raise DiagramError(
            f"A {kind} diagram needs the cairo library, which cannot be loaded ({error}): "
            "install it or choose .svg."
        ) from error
    convert = cairosvg.svg2png if kind == ".png" else cairosvg.svg2pdf
    data: bytes = convert(bytestring=svg.encode())
    return data
