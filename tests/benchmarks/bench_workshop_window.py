"""The workshop in the window on 5,000 positions: from a move on the board to the painted page.

The real window runs in this process without a display. An edit is measured from the moment the
move is made on the board until the page has painted it, journal included. A timer that ought to
fire every millisecond measures how long the event loop was kept from it meanwhile, and while the
repertoire is looked through, saved, and its course built anew.
"""

from __future__ import annotations

import os
import random
import tempfile
import time
from pathlib import Path
from statistics import median, quantiles
from typing import Any

from tests.benchmarks.bench_window import StallMeter, wait_until, write_repertoire
from tests.benchmarks.figures import Figure

RUNS = 1
POSITIONS = 5_000
EDITS = 60
MOST_MS = 50.0


def measure() -> list[Figure]:
    """Figures of editing; the window's files lie in a folder of their own."""
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    with tempfile.TemporaryDirectory(prefix="stemline-bench-") as folder:
        home = Path(folder)
        path = home / "edited.pgn"
        write_repertoire(path, POSITIONS)
        return _measure(home, path)


def _measure(home: Path, path: Path) -> list[Figure]:
    from PySide6.QtWidgets import QApplication

    from trainer.storage.locations import find_locations
    from trainer.storage.log import BugLog
    from trainer.storage.settings import Settings, save_settings
    from trainer.ui.app import build_window

    app = QApplication.instance() or QApplication(["stemline"])
    app.setStyle("Fusion")
    locations = find_locations({"STEMLINE_HOME": str(home)})
    save_settings(locations.settings_file, Settings(strangers=False))
    window = build_window(app, locations, BugLog(locations.log_file))
    window.show()
    ready: list[bool] = []
    window.ready.connect(lambda: ready.append(True))
    window.open(path)
    wait_until(app, lambda: bool(ready) and not window._runner.busy())
    meter = StallMeter()
    with meter.watching():
        _wait(app, 1.0)
    idle = meter.worst
    with meter.watching():
        begun = time.perf_counter()
        window.edit_here()
        _painted(app, window.desk.page)
        entered = (time.perf_counter() - begun) * 1000
    figures = [Figure("the page of the workshop on the screen", entered, "ms")]
    figures += _edit(app, window, meter, idle)
    figures += _undo(app, window, meter, idle)
    with meter.watching():
        begun = time.perf_counter()
        window.desk.save()
        wait_until(app, lambda: not window.desk.unsaved and not window._runner.busy())
        saved = time.perf_counter() - begun
    figures.append(Figure("saving 5,000 positions", saved, "s"))
    figures.append(_stall("saving", meter.worst, idle))
    with meter.watching():
        begun = time.perf_counter()
        ready.clear()
        window.desk.page.command.emit("leave")
        wait_until(app, lambda: bool(ready) and not window._runner.busy())
        renewed = time.perf_counter() - begun
    figures.append(Figure("leaving: Today on the edited repertoire", renewed, "s"))
    figures.append(_stall("leaving", meter.worst, idle))
    window.close()
    return figures


def _painted(app: Any, page: Any) -> None:
    """Everything that was asked for is painted."""
    app.processEvents()
    page.repaint()
    app.processEvents()


def _wait(app: Any, seconds: float) -> None:
    end = time.perf_counter() + seconds
    wait_until(app, lambda: time.perf_counter() > end)


def _edit(app: Any, window: Any, meter: StallMeter, idle: float) -> list[Figure]:
    rng = random.Random(5)
    desk = window.desk
    nodes = list(desk.bench.repertoire.nodes.values())
    times: list[float] = []
    worst = 0.0
    while len(times) < EDITS:
        node = rng.choice(nodes)
        new = [move for move in node.board().legal_moves if node.edge_for(move) is None]
        if not new:
            continue
        desk.author.go_to(node)
        _painted(app, desk.page)
        # Not while the repertoire is looked through: then an edit waits for its turn.
        wait_until(app, lambda: not window._runner.busy())
        with meter.watching():
            begun = time.perf_counter()
            desk.page.board.move_made.emit(rng.choice(new))
            _painted(app, desk.page)
            times.append((time.perf_counter() - begun) * 1000)
            _wait(app, 0.02)
        worst = max(worst, meter.worst)
    with meter.watching():
        desk._look_through()
        begun = time.perf_counter()
        wait_until(app, lambda: not window._runner.busy())
        looked = time.perf_counter() - begun
    percentile = quantiles(times, n=20)[-1]
    return [
        Figure("an edit made, written to the journal and painted: median", median(times), "ms"),
        Figure(
            "the same: 95 %",
            percentile,
            "ms",
            goal=f"≤ {MOST_MS:g} ms",
            met=percentile <= MOST_MS,
        ),
        Figure("the first one, which begins the journal", times[0], "ms"),
        _stall("editing", worst, idle),
        Figure("looking through the repertoire afterwards", looked, "s"),
        _stall("looking through it", meter.worst, idle),
    ]


def _undo(app: Any, window: Any, meter: StallMeter, idle: float) -> list[Figure]:
    times: list[float] = []
    with meter.watching():
        for _ in range(EDITS // 2):
            begun = time.perf_counter()
            window.desk.undo()
            _painted(app, window.desk.page)
            times.append((time.perf_counter() - begun) * 1000)
            wait_until(app, lambda: not window._runner.busy())
    return [
        Figure("a step undone and its place painted: median", median(times), "ms"),
        _stall("undoing", meter.worst, idle),
    ]


def _stall(name: str, worst: float, idle: float) -> Figure:
    return Figure(
        f"window blocked at most: {name}",
        worst,
        "ms",
        goal=f"≤ {MOST_MS:g} ms",
        baseline_name="idle window",
        baseline_value=idle,
        met=worst <= MOST_MS,
    )
