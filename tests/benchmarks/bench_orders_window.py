"""The place Move orders with 5,000 and 50,000 positions: what blocks the window, and how long.

The real window runs in this process without a display, on a repertoire whose orders cross often.
Blocking is measured as in `bench_window`, which gives the limit.
"""

from __future__ import annotations

import os
import tempfile
import time
from pathlib import Path
from typing import Any

from tests.benchmarks.bench_orders import grown
from tests.benchmarks.bench_window import StallMeter, _application, _stall, wait_until
from tests.benchmarks.figures import Figure

RUNS = 1
#: Decisions of the grown repertoires, which have about so many positions.
SIZES = ((1_700, "5,000 positions"), (17_500, "50,000 positions"))
_ENTRIES = 12
_SMALL = """[Event "By the knight"]
[RepertoireSide "White"]

1. d3 d5 (1... Nf6 2. Nf3 d5) 2. Nf3 (2. g3 e5 3. Nf3) 2... Nf6 (2... a6 3. g3) (2... a5 3. c3)
3. g3 *
"""
_LONG_WAIT = 600.0


def measure() -> list[Figure]:
    """For each size: blocking and waiting while the lists are found, walked through and edited."""
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    figures: list[Figure] = []
    for decisions, name in SIZES:
        with tempfile.TemporaryDirectory(prefix="stemline-bench-") as folder:
            figures += _measure(Path(folder), decisions, name)
    return figures


def _measure(home: Path, decisions: int, name: str) -> list[Figure]:
    from trainer.repertoire.writer import repertoire_pgn
    from trainer.storage.locations import find_locations
    from trainer.storage.log import BugLog
    from trainer.storage.settings import Settings, save_settings
    from trainer.ui.app import build_window

    path, small = home / "grown.pgn", home / "small.pgn"
    path.write_text(repertoire_pgn(grown(decisions)), encoding="utf-8")
    small.write_text(_SMALL, encoding="utf-8")
    app = _application()
    locations = find_locations({"STEMLINE_HOME": str(home)})
    save_settings(locations.settings_file, Settings(minutes=5))
    window = build_window(app, locations, BugLog(locations.log_file))
    window.show()
    ready: list[bool] = []
    window.ready.connect(lambda: ready.append(True))

    def open_file(file: Path) -> None:
        ready.clear()
        window.open(file)
        wait_until(app, lambda: bool(ready), _LONG_WAIT)
        _rest(app, window)

    meter = StallMeter()
    open_file(small)
    first = _first_time(app, window, meter)
    assert window.desk is not None
    window.desk.clear()
    open_file(path)
    with meter.watching():
        end = time.perf_counter() + 1
        wait_until(app, lambda: time.perf_counter() > end)
    idle = meter.worst
    found = [
        Figure(f"window blocked at most: Move orders built once, {name}", first, "ms"),
        *_look(app, window, meter, idle, name),
        *_walk(app, window, meter, idle, name),
        *_edit(app, window, meter, idle, name),
    ]
    window.desk.clear()
    window.close()
    return found


def _rest(app: Any, window: Any) -> None:
    """Until nothing is under way."""
    wait_until(
        app,
        lambda: (
            not (
                window._runner.busy()
                or window._is_stale()
                or (window.rooms.orders is not None and window.rooms.orders.seeker.unfinished)
            )
        ),
        _LONG_WAIT,
    )


def _first_time(app: Any, window: Any, meter: StallMeter) -> float:
    """What is imported and built once, for the place and for edits: ms that it blocks."""
    with meter.watching():
        window.places.go(2)
        wait_until(app, lambda: window.places.current() is window.rooms.orders)
        _rest(app, window)
        window.rooms.orders.words.choose(1)
        _rest(app, window)
        window.rooms.orders.edits.by_number(0)
        _rest(app, window)
    return meter.worst


def _look(app: Any, window: Any, meter: StallMeter, idle: float, name: str) -> list[Figure]:
    with meter.watching():
        begun = time.perf_counter()
        window.places.go(2)
        wait_until(app, lambda: window.rooms.orders.page.detail is not None, _LONG_WAIT)
        first = time.perf_counter() - begun
        _rest(app, window)
        everything = time.perf_counter() - begun
    return [
        _stall(f"window blocked at most: looking for move orders, {name}", meter.worst, idle),
        Figure(f"move orders: the first crossing stands on the screen, {name}", first, "s"),
        Figure(f"move orders: all lists are found, {name}", everything, "s"),
    ]


def _walk(app: Any, window: Any, meter: StallMeter, idle: float, name: str) -> list[Figure]:
    """Through the entries of all lists, then a filter over the crossings."""
    place = window.rooms.orders
    waits: list[float] = []
    with meter.watching():
        for section in (1, 2, 4, 0):
            place.words.choose(section)
            _rest(app, window)
            for row in range(min(_ENTRIES, place.list.model().rowCount())):
                begun = time.perf_counter()
                place.list.choose_row(row)
                _rest(app, window)
                waits.append(time.perf_counter() - begun)
        begun = time.perf_counter()
        place.filter.setText("no such words")
        wait_until(app, lambda: not place.list.entries.filtering, _LONG_WAIT)
        filtered = time.perf_counter() - begun
        place.filter.clear()
        _rest(app, window)
    return [
        _stall(f"window blocked at most: going through move orders, {name}", meter.worst, idle),
        Figure(f"move orders: an entry is shown, at most, {name}", max(waits), "s"),
        Figure(f"move orders: all crossings are filtered, {name}", filtered, "s"),
    ]


def _edit(app: Any, window: Any, meter: StallMeter, idle: float, name: str) -> list[Figure]:
    """Add the first shortcut; until the lists stand without it, and until all is found again."""
    place = window.rooms.orders
    place.words.choose(1)
    _rest(app, window)
    place.list.choose_row(0)
    _rest(app, window)
    entry = place.list.entries.entry(0)
    course = window.course
    with meter.watching():
        begun = time.perf_counter()
        place.edits.by_number(0)
        wait_until(app, lambda: window.course is not course, _LONG_WAIT)
        wait_until(app, lambda: not _is_first(place, entry), _LONG_WAIT)
        gone = time.perf_counter() - begun
        _rest(app, window)
    return [
        _stall(f"window blocked at most: adding a shortcut, {name}", meter.worst, idle),
        Figure(f"move orders: an added shortcut has left the list, {name}", gone, "s"),
    ]


def _is_first(place: Any, entry: Any) -> bool:
    first = place.list.entries.entry(0)
    return bool(first.node is entry.node and first.moves == entry.moves)
