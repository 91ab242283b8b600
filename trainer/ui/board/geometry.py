"""Where the squares of the board lie: pure arithmetic between squares and pixels.

All lengths are whole device pixels, so that lines and pieces stay sharp at every size and scale;
only `square_at` and `logical_rect` speak Qt's device-independent pixels.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import chess

Rect = tuple[int, int, int, int]
"""x, y, width, height."""


@dataclass(frozen=True)
class BoardGeometry:
    """The layout of a board inside a widget, in device pixels.

    `left`, `top` are the upper left corner of the 64 squares, `square` the side of one;
    `outer`, `gap`, `inner` the strokes of the double frame from outside to inside;
    `margin` the strip for the coordinates, on the left and at the bottom (0 without them).
    """

    left: int
    top: int
    square: int
    outer: int
    gap: int
    inner: int
    margin: int
    ratio: float
    flipped: bool

    @classmethod
    def fit(
        cls,
        width: int,
        height: int,
        ratio: float,
        *,
        flipped: bool,
        coordinates: bool,
        type_scale: float = 1.0,
    ) -> BoardGeometry:
        """Return the largest board centred in `width` by `height` logical pixels.

        `ratio` is the number of device pixels to a logical one, `type_scale` how large the
        player wants the coordinates (1.0 is 100 %).
        """
        wide, high = math.floor(width * ratio), math.floor(height * ratio)
        side = min(wide, high)
        line = max(1, round(ratio))
        outer = max(line, round(side * 0.005))
        gap = max(line + 1, round(side * 0.005))
        inner = line
        frame = outer + gap + inner
        type_ratio = ratio * type_scale
        wanted = min(max(side * 0.045 * type_scale, 13 * type_ratio), 28 * type_ratio)
        margin = round(wanted) if coordinates else 0
        square = max(1, (side - 2 * frame - margin) // 8)
        total = 8 * square + 2 * frame + margin
        return cls(
            left=(wide - total) // 2 + margin + frame,
            top=(high - total) // 2 + frame,
            square=square,
            outer=outer,
            gap=gap,
            inner=inner,
            margin=margin,
            ratio=ratio,
            flipped=flipped,
        )

    @property
    def frame(self) -> int:
        """Width of the whole double frame on one side."""
        return self.outer + self.gap + self.inner

    @property
    def field(self) -> Rect:
        """The 64 squares without the frame."""
        return (self.left, self.top, 8 * self.square, 8 * self.square)

    @property
    def block(self) -> Rect:
        """All that is painted: squares, frame and coordinates."""
        side = 8 * self.square + 2 * self.frame + self.margin
        return (self.left - self.frame - self.margin, self.top - self.frame, side, side)

    def cell(self, square: chess.Square) -> tuple[int, int]:
        """Return the column from the left and the row from the top at which a square is seen."""
        column, row = chess.square_file(square), 7 - chess.square_rank(square)
        return (7 - column, 7 - row) if self.flipped else (column, row)

    def square_in_cell(self, column: int, row: int) -> chess.Square:
        """Return the square seen at a column and row, each 0 to 7."""
        if self.flipped:
            column, row = 7 - column, 7 - row
        return chess.square(column, 7 - row)

    def rect(self, square: chess.Square) -> Rect:
        """Return a square's rectangle in device pixels."""
        column, row = self.cell(square)
        side = self.square
        return (self.left + column * side, self.top + row * side, side, side)

    def centre(self, square: chess.Square) -> tuple[float, float]:
        """Return a square's centre in device pixels."""
        x, y, side, _ = self.rect(square)
        return (x + side / 2, y + side / 2)

    def square_at(self, x: float, y: float) -> chess.Square | None:
        """Return the square at a point in logical pixels, or None outside the squares."""
        column = math.floor((x * self.ratio - self.left) / self.square)
        row = math.floor((y * self.ratio - self.top) / self.square)
        if 0 <= column < 8 and 0 <= row < 8:
            return self.square_in_cell(column, row)
        return None

    def logical_rect(self, rect: Rect) -> Rect:
        """Return the smallest rectangle of whole logical pixels around a device rectangle."""
        x, y, width, height = rect
        left, top = math.floor(x / self.ratio), math.floor(y / self.ratio)
        right = math.ceil((x + width) / self.ratio)
        bottom = math.ceil((y + height) / self.ratio)
        return (left, top, right - left, bottom - top)
