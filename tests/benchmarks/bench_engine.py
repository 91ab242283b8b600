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
POSITIONS = 200
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


class _Timed(CachedEvaluator):
    """Adds up what the searches themselves take, and when the last one was stopped."""

    def __init__(self, engine: Engine, cache: EvaluationCache) -> None:
        self.searching = 0.0
        self.wanted: int | None = None
        self.stopped_at = 0.0
        super().__init__(engine, cache, self._is_stopped)

    def _is_stopped(self) -> bool:
        if self.wanted is None or self.asked < self.wanted:
            return False
        # In the middle of a search, not before it begins.
        now = time.perf_counter()
        self.stopped_at = self.stopped_at or now + 0.05
        return now >= self.stopped_at

    def __call__(self, *question: Any, **details: Any) -> Any:
        begun, asked = time.perf_counter(), self.asked
        try:
            return super().__call__(*question, **details)
        finally:
            if self.asked > asked:
                self.searching += time.perf_counter() - begun


def _check(home: Path) -> list[Figure]:
    """A test from nothing, stopped in the middle and gone on with, then once more."""
    repertoire = read_repertoire(DEMO).repertoire
    settings = CheckSettings(NODES, positions=POSITIONS)
    cache = EvaluationCache(home / "evaluations.sqlite")
    told: list[int] = []
    with Engine.start(STOCKFISH, EngineOptions(16)) as engine:
        evaluate = _Timed(engine, cache)
        evaluate.wanted = POSITIONS // 2

        def run() -> object:
            return check_repertoire(
                repertoire, evaluate, settings, told=lambda progress: told.append(progress.done)
            )

        begun = time.perf_counter()
        run()
        cancel = (time.perf_counter() - evaluate.stopped_at) * 1000
        half = told[-1]
        evaluate.wanted = None
        run()
        first = time.perf_counter() - begun
        assert told[-1] == POSITIONS > half
        again = _seconds(run)
    cache.close()
    return [
        Figure(
            f"engine: cancel of a test takes effect, after {half} positions",
            cancel,
            "ms",
            goal=f"< {CANCEL_LIMIT_MS:.0f} ms",
            met=cancel < CANCEL_LIMIT_MS,
        ),
        Figure(
            f"engine: test {POSITIONS} positions at {NODES:,} nodes, stopped once in between",
            first,
            "s",
            goal="at most a tenth more",
            baseline_name="the searches alone",
            baseline_value=evaluate.searching,
            met=first < 1.1 * evaluate.searching,
        ),
        Figure(
            f"engine: test {POSITIONS} positions at {NODES:,} nodes again, from the cache",
            again,
            "s",
            goal="20 times as fast",
            baseline_name="the first time",
            baseline_value=first,
            met=again * 20 < first,
        ),
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
