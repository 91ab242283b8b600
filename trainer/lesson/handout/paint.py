"""Many diagrams fast: the board and each piece are drawn once and then only put in place.

The drawings are those of `trainer.diagram`, turned into cairo recordings, so that they look the
same in print, on the screen and here. Text and pages are drawn on the same context.
"""

from __future__ import annotations

import math
import struct
import zlib
from pathlib import Path
from typing import Any

import chess
import numpy as np

from trainer.colours import INK, PAPER, PIECE_PAPER
from trainer.diagram import ArrowShape, arrow_shape, diagram_svg, piece_file, square_corner
from trainer.lesson.handout.model import Diagram, HandoutError
from trainer.resources import resource_path

_UNITS = 400.0  # width of a recorded diagram
#: The share of a diagram's width that one of the hundred units of a square has.
SIDE_SHARE = square_corner(chess.A1)[2] / 100
_SIGNATURE = b"\x89PNG\r\n\x1a\n"
_PACKING = 1


def _share(colour: str) -> tuple[float, ...]:
    """Red, green and blue of `#RRGGBB`, each 0 to 1."""
    return tuple(int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5))


def _png(surface: Any) -> bytes:
    """A surface of pixels as a PNG file (W3C, Portable Network Graphics, 2003; sections 5, 9, 11).

    cairo's own writer packs several times longer for a file that is hardly smaller.
    """
    surface.flush()
    width, height = surface.get_width(), surface.get_height()
    pixels = np.frombuffer(surface.get_data(), np.uint8).reshape(height, surface.get_stride())
    rows = np.zeros((height, 1 + 3 * width), np.uint8)  # each row begins with its filter: none
    for place, channel in enumerate((2, 1, 0)):
        rows[:, 1 + place :: 3] = pixels[:, channel : 4 * width : 4]
    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    parts = ((b"IHDR", head), (b"IDAT", zlib.compress(rows.tobytes(), _PACKING)), (b"IEND", b""))
    return _SIGNATURE + b"".join(
        struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))
        for name, data in parts
    )


def load_cairo() -> Any:
    """The cairo library. Raises `HandoutError` where it cannot be loaded."""
    try:
        import cairocffi
    except (ImportError, OSError) as error:
        raise HandoutError(
            f"PDF and PNG need the cairo library, which cannot be loaded ({error}): "
            "install it, or choose .html, .pgn, .epd or .svg."
        ) from error
    return cairocffi


class DiagramPainter:
    """Paints diagrams on cairo contexts."""

    def __init__(self) -> None:
        self._cairo = load_cairo()
        self._grounds: dict[bool, Any] = {}
        self._pieces: dict[str, Any] = {}
        self._rasters: dict[tuple[bool, int], Any] = {}
        self._sprites: dict[tuple[str, int, bool, int], tuple[Any, int, int]] = {}

    def paint(self, context: Any, diagram: Diagram, x: float, y: float, width: float) -> None:
        """Draw `diagram` with its top left corner at (x, y), `width` units wide and high."""
        context.save()
        context.translate(x, y)
        context.scale(width / _UNITS, width / _UNITS)
        self._put(context, self._ground(diagram.flipped))
        for square, piece in diagram.board.piece_map().items():
            left, top, side = square_corner(square, flipped=diagram.flipped)
            context.save()
            context.translate(left * _UNITS, top * _UNITS)
            context.scale(side * _UNITS / 100, side * _UNITS / 100)
            self._put(context, self._piece(piece))
            context.restore()
        self._stroke(context, diagram)
        context.restore()

    def _stroke(self, context: Any, diagram: Diagram) -> None:
        """Arrows and marks, in the units of a recorded diagram, as `trainer.diagram` has them.

        Drawn here and not from SVG text, which would have to be read for each diagram anew.
        """
        context.save()
        context.scale(_UNITS * SIDE_SHARE, _UNITS * SIDE_SHARE)
        for square in diagram.marks:
            x, y = self._centre(square, diagram.flipped)
            for colour, width in ((PIECE_PAPER, 9), (INK, 4.5)):
                context.new_sub_path()
                context.arc(x, y, 45, 0, 2 * math.pi)
                self._line(context, colour, width)
        for number, (start, end) in enumerate(diagram.arrows, start=1):
            ends = (self._centre(start, diagram.flipped), self._centre(end, diagram.flipped))
            shape = arrow_shape(*ends, 100.0)
            self._arrow(context, shape, number if len(diagram.arrows) > 1 else None)
        context.restore()

    def _centre(self, square: chess.Square, flipped: bool) -> tuple[float, float]:
        left, top, side = square_corner(square, flipped=flipped)
        return (left + side / 2) / SIDE_SHARE, (top + side / 2) / SIDE_SHARE

    def _line(self, context: Any, colour: str, width: float) -> None:
        context.set_source_rgb(*_share(colour))
        context.set_line_width(width)
        context.stroke()

    def _arrow(self, context: Any, shape: ArrowShape, number: int | None) -> None:
        cairo = self._cairo

        def shaft() -> None:
            context.move_to(*shape.shaft[0])
            context.line_to(*shape.shaft[1])

        def head() -> None:
            context.move_to(*shape.head[0])
            for point in shape.head[1:]:
                context.line_to(*point)
            context.close_path()

        for path, colour, width in ((shaft, PIECE_PAPER, 14), (head, PIECE_PAPER, 14)):
            path()
            self._line(context, colour, width)
        shaft()
        self._line(context, INK, 7)
        head()
        context.set_source_rgb(*_share(PIECE_PAPER))
        context.fill_preserve()
        context.set_line_join(cairo.LINE_JOIN_ROUND)
        self._line(context, INK, 6)
        context.set_line_join(cairo.LINE_JOIN_MITER)
        if number is not None:
            self._number(context, shape.label, str(number))

    def _number(self, context: Any, at: tuple[float, float], number: str) -> None:
        cairo = self._cairo
        x, y = at
        context.new_sub_path()
        context.arc(x, y, 17, 0, 2 * math.pi)
        context.set_source_rgb(*_share(PIECE_PAPER))
        context.fill_preserve()
        self._line(context, INK, 4)
        context.select_font_face("sans-serif", cairo.FONT_SLANT_NORMAL, cairo.FONT_WEIGHT_BOLD)
        context.set_font_size(24)
        context.set_source_rgb(*_share(INK))
        left, _, width, *_ = context.text_extents(number)
        context.move_to(x - left - width / 2, y + 8.5)
        context.show_text(number)
        context.new_path()

    def png(self, diagram: Diagram, size: int) -> bytes:
        """One diagram as a PNG file of `size` pixels."""
        cairo = self._cairo
        surface = cairo.ImageSurface(cairo.FORMAT_RGB24, size, size)
        context = cairo.Context(surface)
        context.set_source_surface(self._raster_ground(diagram.flipped, size), 0, 0)
        context.paint()
        for square, piece in diagram.board.piece_map().items():
            sprite, left, top = self._sprite(piece, square, diagram.flipped, size)
            context.set_source_surface(sprite, left, top)
            context.paint()
        context.scale(size / _UNITS, size / _UNITS)
        self._stroke(context, diagram)
        return _png(surface)

    def _raster_ground(self, flipped: bool, size: int) -> Any:
        """The board alone in pixels."""
        if (flipped, size) not in self._rasters:
            cairo = self._cairo
            surface = cairo.ImageSurface(cairo.FORMAT_RGB24, size, size)
            context = cairo.Context(surface)
            context.set_source_rgb(*_share(PAPER))
            context.paint()
            context.scale(size / _UNITS, size / _UNITS)
            self._put(context, self._ground(flipped))
            self._rasters[flipped, size] = surface
        return self._rasters[flipped, size]

    def _sprite(
        self, piece: chess.Piece, square: chess.Square, flipped: bool, size: int
    ) -> tuple[Any, int, int]:
        """A piece in pixels as it falls on its square, and where its corner is put.

        Kept by square, since a square begins within a pixel: so nothing is moved or blurred.
        """
        key = (piece_file(piece), square, flipped, size)
        if key not in self._sprites:
            cairo = self._cairo
            left, top, side = (size * share for share in square_corner(square, flipped=flipped))
            x, y = math.floor(left), math.floor(top)
            width = math.ceil(side) + 1
            surface = cairo.ImageSurface(cairo.FORMAT_ARGB32, width, width)
            context = cairo.Context(surface)
            context.translate(left - x, top - y)
            context.scale(side / 100, side / 100)
            self._put(context, self._piece(piece))
            self._sprites[key] = (surface, x, y)
        return self._sprites[key]

    def _put(self, context: Any, recording: Any) -> None:
        context.set_source_surface(recording, 0, 0)
        context.paint()

    def _ground(self, flipped: bool) -> Any:
        if flipped not in self._grounds:
            svg = diagram_svg(chess.Board(None), size=int(_UNITS), flipped=flipped)
            self._grounds[flipped] = self._recorded(svg, _UNITS)
        return self._grounds[flipped]

    def _piece(self, piece: chess.Piece) -> Any:
        name = piece_file(piece)
        if name not in self._pieces:
            svg = Path(resource_path("pieces", name)).read_text(encoding="utf-8")
            self._pieces[name] = self._recorded(svg, 100.0)
        return self._pieces[name]

    def _recorded(self, svg: str, side: float) -> Any:
        """An SVG document as a recording `side` units wide and high, to be painted again."""
        from cairosvg.parser import Tree
        from cairosvg.surface import SVGSurface

        cairo = self._cairo

        class Recorder(SVGSurface):  # type: ignore[misc]
            """Takes down what is drawn instead of writing it."""

            device_units_per_user_units = 1

            def _create_surface(self, width: float, height: float) -> tuple[Any, float, float]:
                recording = cairo.RecordingSurface(
                    cairo.CONTENT_COLOR_ALPHA, (0, 0, width, height)
                )
                return recording, width, height

        recorder = Recorder(
            Tree(bytestring=svg.encode()), None, 96, output_width=side, output_height=side
        )
        return recorder.cairo
