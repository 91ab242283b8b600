"""The map of 5,000 positions: laying it out, and each frame while panning and zooming.

Three repertoires: lines at random with legal moves; four replies to each move and one position in
six a crossing, which is bushier than a real one; and a graph in which every third move leads into
a crossing, which is harder than any real one. The frames are those of the real widget at
1280 × 800 with nothing folded, drawn to memory, on the second of them.
"""

from __future__ import annotations

import os
import random
import time
from datetime import UTC, datetime
from pathlib import Path
from statistics import median, quantiles
from typing import TYPE_CHECKING, Any

from tests.benchmarks.bench_orders import grown
from tests.benchmarks.figures import Figure
from tests.memory_graphs import random_graph, random_repertoire
from trainer.memory.course import Course
from trainer.memory.days import StudyDays
from trainer.repertoire.arrays import RepertoireArrays
from trainer.repertoire.graph import Repertoire
from trainer.repertoire.railway.layout import layout
from trainer.repertoire.reach import reach
from trainer.repertoire.reader import LoadedRepertoire
from trainer.storage.settings import Settings

if TYPE_CHECKING:
    from trainer.ui.map.canvas import MapCanvas
    from trainer.ui.map.scene import Scene

RUNS = 3
FRAME_MS, LAYOUT_SECONDS = 16.7, 2.0
SIZE = (1280, 800)
PAN_STEPS, ZOOM_STEPS = 40, 24


def measure() -> list[Figure]:
    """Layouts, the whole preparation, then frames at four depths of zoom and while zooming."""
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    repertoire = grown(1_560)
    figures = [
        _layout("lines at random", random_repertoire(2, lines=345, plies=18)),
        _layout("four replies each", repertoire),
        _layout("every third move a crossing", random_graph(1, 5000)),
    ]
    from PySide6.QtWidgets import QApplication

    app = QApplication.instance() or QApplication(["stemline"])
    begun = time.perf_counter()
    scene = _scene(repertoire)
    prepared = time.perf_counter() - begun
    figures.append(
        Figure(
            "map: all that the worker does",
            prepared,
            "s",
            goal=f"≤ {LAYOUT_SECONDS:g} s",
            met=prepared <= LAYOUT_SECONDS,
        )
    )
    canvas = _canvas(scene)
    for name, row_pixels in (("all", 0.0), ("afar", 6.5), ("stations", 8.0), ("names", 20.0)):
        figures.append(
            _frames(f"map: a frame while panning, {name}", _pan(app, canvas, row_pixels))
        )
    figures.append(_frames("map: a frame while zooming", _zoom(app, canvas)))
    canvas.deleteLater()
    return figures


def _layout(name: str, repertoire: Repertoire) -> Figure:
    arrays = RepertoireArrays.compile(repertoire)
    weights = reach(arrays)
    begun = time.perf_counter()
    layout(arrays, weights)
    taken = time.perf_counter() - begun
    goal = f"≤ {LAYOUT_SECONDS:g} s"
    held = f"{len(arrays.nodes):,} positions, {len(repertoire.crossings()):,} crossings"
    return Figure(
        f"map: layout, {name} ({held})", taken, "s", goal=goal, met=taken <= LAYOUT_SECONDS
    )


def _scene(repertoire: Repertoire) -> Scene:
    from trainer.ui.map.plan import Plan
    from trainer.ui.map.scene import Scene

    now = datetime(2026, 3, 1, tzinfo=UTC)
    loaded = LoadedRepertoire(repertoire, [], side_guessed=False, path=Path("bench.pgn"))
    rng = random.Random(1)
    course = Course(loaded, None, Settings(), clock=lambda: now, days=StudyDays(), rng=rng)
    return Scene.of(Plan.of(course, now))


def _canvas(scene: Scene) -> MapCanvas:
    from trainer.ui.look import Look
    from trainer.ui.map.canvas import MapCanvas
    from trainer.ui.theme import LIGHT

    canvas = MapCanvas(Look(LIGHT, "letters", 1.0, flipped=False))
    canvas.resize(*SIZE)
    canvas.show()
    canvas.set_scene(scene)
    canvas.set_marks(0)
    return canvas


def _pan(app: Any, canvas: MapCanvas, row_pixels: float) -> list[float]:
    """ms of each frame of a drag across the middle of the plan; 0: of all of it."""
    from trainer.ui.map.scene import ROW

    canvas.show_all()
    if row_pixels:
        canvas.zoom(row_pixels / (canvas.view.zoom * ROW))
    return [_frame(app, canvas, canvas.view.moved(-7.0, -11.0)) for _ in range(PAN_STEPS)]


def _zoom(app: Any, canvas: MapCanvas) -> list[float]:
    """ms of each frame while zooming in from all to the nearest, and out again."""
    canvas.show_all()
    times = []
    for factor in [1.2] * ZOOM_STEPS + [1 / 1.2] * ZOOM_STEPS:
        view = canvas.view.zoomed(factor, SIZE[0] / 2, SIZE[1] / 2, 0.01, 2.5)
        times.append(_frame(app, canvas, view))
    return times


def _frame(app: Any, canvas: MapCanvas, view: Any) -> float:
    canvas._set_view(view)
    begun = time.perf_counter()
    canvas.repaint()
    app.processEvents()
    return (time.perf_counter() - begun) * 1000


def _frames(name: str, times: list[float]) -> Figure:
    worst = quantiles(times, n=20)[-1]
    return Figure(
        f"{name}, 95th percentile",
        worst,
        "ms",
        goal=f"≤ {FRAME_MS:g} ms",
        baseline_name="median frame",
        baseline_value=median(times),
        met=worst <= FRAME_MS,
    )
