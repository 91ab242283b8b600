"""Many diagrams fast: the board and each piece are drawn once and then only put in place.

The drawings are those of `trainer.diagram`, turned into cairo recordings, so that they look the
same in print, on the screen and here. Text and pages are drawn on the same context.
"""

from __future__ import annotations

import io
import math
from pathlib import Path
from typing import Any

import chess

from trainer.colours import PAPER
from trainer.diagram import diagram_svg, piece_file, square_corner
from trainer.lesson.handout.model import Diagram, HandoutError
from trainer.resources import resource_path

_UNITS = 400.0  # width of a recorded diagram


def _share(colour: str) -> tuple[float, ...]:
    """Red, green and blue of `#RRGGBB`, each 0 to 1."""
    return tuple(int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5))


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
        """Arrows and marks, in the units of a recorded diagram."""
        if diagram.arrows or diagram.marks:
            strokes = diagram_svg(
                diagram.board,
                size=int(_UNITS),
                flipped=diagram.flipped,
                marks=diagram.marks,
                arrows=diagram.arrows,
                strokes_only=True,
            )
            self._put(context, self._recorded(strokes, _UNITS))

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
        stream = io.BytesIO()
        surface.write_to_png(stream)
        return stream.getvalue()

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
