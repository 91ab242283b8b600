"""The engine: how soon a cancel takes effect, what a test of a repertoire costs, and whether the
window stays fluid while the engine uses every core.

Stockfish runs for real. The event loop is watched as in `bench_window`, first with the engine at
rest, then while it thinks on all cores and its lines are shown, and while a test runs.
"""

from __future__ import annotations

import contextlib
import os
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median
from typing import Any

import chess

from tests.benchmarks.bench_window import BLOCK_LIMIT_MS, StallMeter, wait_until
from tests.benchmarks.figures import Figure
from tests.engines import STOCKFISH, fake_engine
from trainer.engine.cache import EvaluationCache
from trainer.engine.check import CheckSettings, check_repertoire
from trainer.engine.evaluation import Limit
from trainer.engine.evaluator import CachedEvaluator
from trainer.engine.session import Engine, EngineOptions
from trainer.errors import EngineError, EngineStoppedError
from trainer.repertoire.reader import read_repertoire

DEMO = Path(__file__).resolve().parents[2] / "repertoires" / "kings-indian-attack.pgn"
RUNS = 1
CANCELS = 15
CANCEL_LIMIT_MS = 200.0
POSITIONS = 40
NODES = 100_000
WATCHED_SECONDS = 4.0


def measure() -> list[Figure]:
    """All figures, in a folder of their own."""
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    with tempfile.TemporaryDirectory(prefix="stemline-bench-") as folder:
        home = Path(folder)
        return [*_cancels(home), *_check(home), *_window(home)]


def _cancels(home: Path) -> list[Figure]:
    deaf = fake_engine(home, "deaf")
    figures = []
    for name, path in (("Stockfish", STOCKFISH), ("an engine that does not stop", deaf)):
        worst = max(_cancel(path) for _ in range(CANCELS if path == STOCKFISH else 3))
        figures.append(
            Figure(
                f"engine: cancel takes effect, {name}, the slowest",
                worst,
                "ms",
                goal=f"< {CANCEL_LIMIT_MS:.0f} ms",
                met=worst < CANCEL_LIMIT_MS,
            )
        )
    return figures


def _cancel(path: Path) -> float:
    """Milliseconds from the moment of a cancel until the question has returned."""
    with Engine.start(path, EngineOptions(64, os.cpu_count() or 1)) as engine:
        moment = time.perf_counter() + 0.4
        with contextlib.suppress(EngineStoppedError, EngineError):
            engine.evaluate(
                chess.Board(),
                Limit(seconds=60),
                lines=3,
                cancelled=lambda: time.perf_counter() >= moment,
            )
        return (time.perf_counter() - moment) * 1000


def _check(home: Path) -> list[Figure]:
    repertoire = read_repertoire(DEMO).repertoire
    settings = CheckSettings(NODES, positions=POSITIONS)
    cache = EvaluationCache(home / "evaluations.sqlite")
    with Engine.start(STOCKFISH, EngineOptions(16)) as engine:
        evaluate = CachedEvaluator(engine, cache)
        first = _seconds(lambda: check_repertoire(repertoire, evaluate, settings))
        again = _seconds(lambda: check_repertoire(repertoire, evaluate, settings))
    cache.close()
    return [
        Figure(
            f"engine: test {POSITIONS} positions at {NODES:,} nodes again, from the cache",
            again,
            "s",
            goal="20 times as fast",
            baseline_name="the first time",
            baseline_value=first,
            met=again * 20 < first,
        )
    ]


def _seconds(work: Callable[[], object]) -> float:
    begun = time.perf_counter()
    work()
    return time.perf_counter() - begun


def _window(home: Path) -> list[Figure]:
    from PySide6.QtWidgets import QApplication

    from trainer.storage.locations import Locations
    from trainer.storage.log import BugLog
    from trainer.storage.settings import Settings, save_settings
    from trainer.ui.app import build_window

    app = QApplication.instance() or QApplication(["stemline"])
    assert isinstance(app, QApplication)
    locations = Locations(home / "data", home / "config", home / "log", home / "cache")
    settings = Settings(
        engine=str(STOCKFISH),
        engine_threads=os.cpu_count() or 1,
        engine_seconds=600,
        reduced_motion=True,
    )
    save_settings(locations.settings_file, settings)
    window = build_window(app, locations, BugLog(locations.log_file))
    window.show()
    window.open(DEMO)
    wait_until(app, lambda: window.course is not None)
    meter = StallMeter()
    idle = _worst(app, meter)
    window.look_here()
    look = window.engine.look_window
    assert look is not None
    wait_until(app, lambda: look.lines.count() > 0)
    thinking = _worst(app, meter)
    look.close()
    window.engine.show_test()
    test = window.engine.test_window
    assert test is not None
    test.start()
    wait_until(app, lambda: test.progress.value() > 0)
    testing = _worst(app, meter)
    window.close()
    return [
        Figure(
            f"engine: longest block of the window in 0.8 s while {name}",
            value,
            "ms",
            goal=f"< {BLOCK_LIMIT_MS:.0f} ms",
            baseline_name="idle",
            baseline_value=idle,
            met=value < BLOCK_LIMIT_MS,
        )
        for name, value in (
            ("the engine looks at a position on all cores", thinking),
            ("the repertoire is tested on all cores", testing),
        )
    ]


def _worst(app: Any, meter: StallMeter) -> float:
    """The median of the longest stalls of five stretches, in ms."""
    worst = []
    for _ in range(5):
        end = time.perf_counter() + WATCHED_SECONDS / 5
        with meter.watching():
            while time.perf_counter() < end:
                app.processEvents()
                time.sleep(0.0005)
        worst.append(meter.worst)
    return median(worst)
