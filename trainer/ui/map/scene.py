"""The plan as shapes in plan units, made once for each layout and drawn at every zoom.

`QPainterPath` is a plain value, so a scene may be made in a worker thread.
"""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Final

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF
from PySide6.QtGui import QPainterPath

from trainer.notation.display import shown_san
from trainer.repertoire.railway.layout import MapLayout, layout
from trainer.ui.map.afar import strokes

if TYPE_CHECKING:
    from collections.abc import Iterable

    from trainer.notation.display import Notation
    from trainer.repertoire.arrays import Bools, Floats, Ints
    from trainer.repertoire.railway.layers import Whole
    from trainer.ui.map.plan import Plan
    from trainer.ui.map.view import View

#: Plan units between two columns and two rows; at a zoom of 1 and 100 % they are pixels.
COLUMN: Final = 126.0
ROW: Final = 30.0
#: Where, of the way to the next column, a line that changes its row leaves and arrives.
_LEAVE, _ARRIVE = 0.03, 0.34
_MARGIN: Final = 60.0
_TILE_COLUMNS, _TILE_ROWS = 5, 30
#: Up to how many rows a line bends in one curve; what goes farther runs on one of the rails.
_NEAR_ROWS: Final = 3
_RAILS, _FIRST_RAIL, _LAST_RAIL = 9, 0.1, 0.26
#: Reach from which on a line is drawn heavier, and the widths from the thinnest to the heaviest.
WEIGHTS: Final = (0.004, 0.015, 0.05, 0.14, 0.4)
WIDTHS: Final = (1.1, 1.6, 2.3, 3.2, 4.4, 6.0)
#: The pen's place for moves that lead back; they are dashed.
CLOSING: Final = len(WIDTHS)

# What a position is, as flags that go together.
DECISION, CROSSING, HOLE, CONFLICT, END, ROOT = 1, 2, 4, 8, 16, 32


@dataclass(frozen=True, eq=False)
class Tile:
    """The lines of one part of the plan, one path for each pen."""

    bounds: QRectF
    paths: tuple[tuple[int, QPainterPath], ...]


@dataclass(frozen=True, eq=False)
class Label:
    """Where the name of a move ends: over its line, or below it."""

    words: str
    x: float
    y: float
    below: bool = False


@dataclass(frozen=True, eq=False)
class Scene:
    """One layout in plan units.

    `shown` (s) are the numbers of the positions on it, `x` and `y` (s) where they stand, `flags`
    and `step` (s) what they are and the step of recall on the ramp (-1: never asked). `junction`
    (s) are those that are seen from afar. `labels` stand at `label_x`, `label_y` (l);
    `label_room` (l) is how far above them the next line runs in their column.

    `tiles` are the lines, `tile_bounds` (tiles × 4) their left, top, right and bottom; `afar` are
    the same lines as strokes by pen.
    """

    plan: Plan
    layout: MapLayout
    shown: Ints
    x: Floats
    y: Floats
    flags: Ints
    step: Ints
    junction: Bools
    tiles: list[Tile]
    tile_bounds: Floats
    afar: dict[int, list[QLineF]]
    labels: list[Label]
    label_x: Floats
    label_y: Floats
    label_room: Floats

    @classmethod
    def of(
        cls,
        plan: Plan,
        folded: Iterable[int] = frozenset(),
        notation: Notation = "letters",
        steps: int = 6,
    ) -> Scene:
        """Lay the plan out and make its shapes; `steps` is the number of steps of the ramp."""
        laid = layout(plan.arrays, plan.reach, folded, plan.root_plies, plan.reply_shares)
        shown = np.flatnonzero(laid.visible).astype(np.int32)
        flags = (
            DECISION * plan.arrays.decision
            + CROSSING * plan.crossing
            + HOLE * plan.hole
            + CONFLICT * plan.conflict
            + END * plan.end
            + ROOT * plan.root
        )[shown]
        recall = plan.recall[shown]
        known = ~np.isnan(recall)
        step = np.full(len(shown), -1, np.int32)
        step[known] = np.clip(recall[known] * steps, 0, steps - 1).astype(np.int32)
        labels = _labels(plan, laid, notation)
        rails = _rails(laid)
        tiles = _tiles(laid, rails)
        return cls(
            plan=plan,
            layout=laid,
            shown=shown,
            x=laid.x[shown] * COLUMN,
            y=laid.y[shown] * ROW,
            flags=flags.astype(np.int32),
            step=step,
            junction=(flags & (CROSSING | CONFLICT | ROOT)) > 0,
            tiles=tiles,
            tile_bounds=np.array([tile.bounds.getCoords() for tile in tiles], np.float64).reshape(
                -1, 4
            ),
            afar=_afar(laid, rails),
            labels=labels,
            label_x=np.array([label.x for label in labels]),
            label_y=np.array([label.y for label in labels]),
            label_room=_room(labels, laid),
        )

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """Left, top, width and height with a margin, in plan units."""
        width = max(0, self.layout.width - 1) * COLUMN
        height = max(0, self.layout.height - 1) * ROW
        return (-_MARGIN, -_MARGIN, width + 2.4 * _MARGIN, height + 2 * _MARGIN)

    def point(self, number: int) -> tuple[float, float]:
        """Where a position stands, in plan units."""
        return float(self.layout.x[number]) * COLUMN, float(self.layout.y[number]) * ROW

    def nearest(self, view: View, x: float, y: float, radius: float) -> int | None:
        """The position nearest to the pixels (x, y) of a view, within a radius in pixels."""
        if not len(self.shown):
            return None
        at_x, at_y = view.to_plan(x, y)
        distance = np.hypot((self.x - at_x) * view.across, (self.y - at_y) * view.zoom)
        best = int(np.argmin(distance))
        return int(self.shown[best]) if distance[best] <= radius else None


def _tiles(laid: MapLayout, rails: dict[tuple[int, int], float]) -> list[Tile]:
    """All lines: near ones gathered by the part of the plan, each far one on its own."""
    near: dict[tuple[int, int], dict[int, QPainterPath]] = defaultdict(dict)
    far: list[Tile] = []
    pens = _pens(laid)
    route = laid.route.tolist()
    bounds = laid.route_start.tolist()
    for number, pen in enumerate(pens.tolist()):
        points = route[bounds[number] : bounds[number + 1]]
        for (x0, y0), (x1, y1) in pairwise(points):
            x, y, end_x, end_y = x0 * COLUMN, y0 * ROW, x1 * COLUMN, y1 * ROW
            if pen != CLOSING and abs(y1 - y0) > _NEAR_ROWS:
                path = QPainterPath(QPointF(x, y))
                _lead_far(path, x, y, end_x, end_y, rails[x0, y0])
                far.append(_tile({pen: path}))
                continue
            tile = near[x0 // _TILE_COLUMNS, min(y0, y1) // _TILE_ROWS]
            path = tile.setdefault(pen, QPainterPath())
            path.moveTo(x, y)
            if pen == CLOSING:
                _lead_back(path, x, y, end_x, end_y)
            else:
                _lead_on(path, x, y, end_x, end_y)
    return [*(_tile(parts) for parts in near.values()), *far]


def _pens(laid: MapLayout) -> Whole:
    pens = np.digitize(laid.weight, WEIGHTS)
    pens[laid.closing] = CLOSING
    return pens


def _afar(laid: MapLayout, rails: dict[tuple[int, int], float]) -> dict[int, list[QLineF]]:
    starts = np.delete(laid.route, laid.route_start[1:] - 1, axis=0)
    ends = np.delete(laid.route, laid.route_start[:-1], axis=0)
    rail = np.array([x + rails[x, y] for x, y in starts.tolist()]) * COLUMN
    unit = np.array([COLUMN, ROW])
    pens = np.repeat(_pens(laid), np.diff(laid.route_start) - 1)
    return strokes(pens, starts * unit, ends * unit, rail, pens == CLOSING)


def _rails(laid: MapLayout) -> dict[tuple[int, int], float]:
    """Where far lines run up or down, as a share of a column, by the place they leave.

    Neighbours get rails side by side, so that lines from different places can be told apart.
    """
    starts = np.delete(laid.route, laid.route_start[1:] - 1, axis=0)
    rank = 0
    column = -1
    rails = {}
    for x, y in np.unique(starts, axis=0).tolist():
        rank = rank + 1 if x == column else 0
        column = x
        rails[x, y] = _FIRST_RAIL + (_LAST_RAIL - _FIRST_RAIL) * (rank % _RAILS) / (_RAILS - 1)
    return rails


def _tile(parts: dict[int, QPainterPath]) -> Tile:
    bounds = QRectF()
    for path in parts.values():
        # A straight line has no height, and Qt would pass over it.
        bounds = bounds.united(path.controlPointRect().adjusted(-8, -8, 8, 8))
    return Tile(bounds, tuple(sorted(parts.items(), key=lambda part: part[0])))


def _lead_on(path: QPainterPath, x0: float, y0: float, x1: float, y1: float) -> None:
    """A line to the next column: straight, or by a switch soon after it leaves."""
    if y0 != y1:
        leave, arrive = x0 + _LEAVE * COLUMN, x0 + _ARRIVE * COLUMN
        middle = (leave + arrive) / 2
        path.lineTo(leave, y0)
        path.cubicTo(middle + 5, y0, middle - 5, y1, arrive, y1)
    path.lineTo(x1, y1)


def _lead_far(path: QPainterPath, x0: float, y0: float, x1: float, y1: float, rail: float) -> None:
    """A line to a row far off: straight up or down on a rail, with round corners.

    What is straight costs little however much of it lies beyond the screen.
    """
    x, turn = x0 + rail * COLUMN, math.copysign(ROW * 0.8, y1 - y0)
    path.lineTo(x0 + _LEAVE * COLUMN, y0)
    path.quadTo(x, y0, x, y0 + turn)
    path.lineTo(x, y1 - turn)
    path.quadTo(x, y1, x0 + _ARRIVE * COLUMN, y1)
    path.lineTo(x1, y1)


def _lead_back(path: QPainterPath, x0: float, y0: float, x1: float, y1: float) -> None:
    """A line back to an earlier column, bowed below the plan's other lines."""
    low = max(y0, y1) + ROW * 0.9
    path.cubicTo(QPointF(x0 + 36, low), QPointF(x1 - 36, low), QPointF(x1, y1))


def _labels(plan: Plan, laid: MapLayout, notation: Notation) -> list[Label]:
    """The moves over the ends of their lines; what else leads to a crossing stands below it."""
    labels = []
    others: dict[int, dict[str, None]] = defaultdict(dict)
    bounds = laid.route_start.tolist()
    children = plan.arrays.child[laid.edges].tolist()
    shown = zip(laid.edges.tolist(), children, laid.closing.tolist(), strict=True)
    for number, (edge, child, closing) in enumerate(shown):
        words = plan.move_text(edge, notation)
        if closing:
            (x0, y0), (x1, y1) = laid.route[bounds[number] : bounds[number + 1]].tolist()
            low = (max(y0, y1) + 0.35) * ROW
            labels.append(Label(words, (x0 + x1) / 2 * COLUMN, low, below=True))
        elif plan.entry[child] == edge:
            x, y = laid.route[bounds[number + 1] - 1].tolist()
            labels.append(Label(words, x * COLUMN, y * ROW))
        else:
            others[child][plan.arrays.edges[edge].san] = None
    for child, several in others.items():
        entry = int(plan.entry[child])
        if entry >= 0:
            several.pop(plan.arrays.edges[entry].san, None)
        if several:
            x, y = int(laid.x[child]), int(laid.y[child])
            words = "or " + ", ".join(shown_san(san, notation) for san in several)
            labels.append(Label(words, x * COLUMN, y * ROW, below=True))
    return labels


def _room(labels: list[Label], laid: MapLayout) -> Floats:
    """For each label, how far above it the next line runs in its column, in plan units."""
    bounds, points = laid.route_start.tolist(), laid.route.tolist()
    runs: dict[int, set[int]] = defaultdict(set)
    for begin, end in pairwise(bounds):
        for (x0, _), (x1, y1) in pairwise(points[begin:end]):
            for column in range(int(min(x0, x1)) + 1, int(max(x0, x1)) + 1):
                runs[column].add(int(y1))
    rows = {column: np.array(sorted(found)) for column, found in runs.items()}
    room = np.full(len(labels), np.inf)
    for number, label in enumerate(labels):
        column, row = round(label.x / COLUMN), label.y / ROW
        above = rows.get(column)
        before = 0 if above is None else int(np.searchsorted(above, row - 0.01))
        if above is not None and before:
            room[number] = (row - above[before - 1]) * ROW
    return room
