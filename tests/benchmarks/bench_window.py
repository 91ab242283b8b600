"""The window with a repertoire of 50,000 positions: does anything block it, how fast it answers.

The real window runs in this process without a display. A timer that ought to fire every
millisecond measures how long the event loop was kept from it; the same is measured for the idle
window as the baseline. An answer is measured from the moment the move is made on the board until
the board has painted it, and until the answer is on the disk as well.
"""

from __future__ import annotations

import os
import random
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from statistics import median, quantiles
from typing import Any

import chess

from tests.benchmarks.figures import Figure
from trainer.games.base.builder import build_base

RUNS = 1
POSITIONS = 50_000
PLIES = 18
ANSWERS = 60
BLOCK_LIMIT_MS = 50.0
FRAME_MS = 16.0


def write_repertoire(path: Path, positions: int) -> None:
    """Random legal lines for White with one move where Black branches, as games of one file."""
    rng = random.Random(1)
    chosen: dict[str, chess.Move] = {}
    seen: set[str] = set()
    games = []
    while len(seen) < positions:
        board = chess.Board()
        words = []
        for _ in range(PLIES):
            moves = list(board.legal_moves)
            if not moves:
                break
            epd = board.epd()
            if board.turn == chess.WHITE:
                move = chosen.setdefault(epd, rng.choice(moves))
                words.append(f"{board.fullmove_number}. {board.san(move)}")
            else:
                move = rng.choice(moves)
                words.append(board.san(move))
            board.push(move)
            seen.add(board.epd())
        games.append(
            f'[Event "Line {len(games) + 1}"]\n[RepertoireSide "White"]\n\n{" ".join(words)} *\n'
        )
    path.write_text("\n".join(games), encoding="utf-8")


class StallMeter:
    """The longest time for which the event loop could not fire a timer, in ms."""

    def __init__(self) -> None:
        from PySide6.QtCore import Qt, QTimer

        self._timer = QTimer()
        self._timer.setTimerType(Qt.TimerType.PreciseTimer)
        self._timer.setInterval(1)
        self._timer.timeout.connect(self._tick)
        self._last = 0.0
        self.worst = 0.0

    def _tick(self) -> None:
        now = time.perf_counter()
        self.worst = max(self.worst, (now - self._last) * 1000)
        self._last = now

    @contextmanager
    def watching(self) -> Iterator[None]:
        """Measure as long as the context lasts."""
        self.worst = 0.0
        self._last = time.perf_counter()
        self._timer.start()
        yield
        self._timer.stop()
        self.worst = max(self.worst, (time.perf_counter() - self._last) * 1000)


def wait_until(app: Any, ready: Callable[[], bool], seconds: float = 60.0) -> None:
    """Run the event loop until `ready`. Raises `TimeoutError`."""
    end = time.perf_counter() + seconds
    while not ready():
        if time.perf_counter() > end:
            raise TimeoutError("the window did not come so far")
        app.processEvents()
        time.sleep(0.0005)


def measure() -> list[Figure]:
    """The figures; the window's files lie in a folder of their own."""
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    with tempfile.TemporaryDirectory(prefix="stemline-bench-") as folder:
        home = Path(folder)
        path = home / "large.pgn"
        write_repertoire(path, POSITIONS)
        build_base(home / "all.base", [path], jobs=1)
        return _measure(home, path)


def _measure(home: Path, path: Path) -> list[Figure]:
    from trainer.storage.locations import find_locations
    from trainer.storage.log import BugLog
    from trainer.storage.settings import Settings, save_settings
    from trainer.ui.app import build_window

    app = _application()
    locations = find_locations({"STEMLINE_HOME": str(home)})
    save_settings(locations.settings_file, Settings(pace_seconds=0.0, minutes=20))
    window = build_window(app, locations, BugLog(locations.log_file))
    window.show()
    app.processEvents()
    meter = StallMeter()
    ready: list[bool] = []
    window.ready.connect(lambda: ready.append(True))

    with meter.watching():
        end = time.perf_counter() + 2
        wait_until(app, lambda: time.perf_counter() > end)
    idle = meter.worst
    with meter.watching():
        begun = time.perf_counter()
        window.open(path)
        wait_until(app, lambda: bool(ready))
        opened = time.perf_counter() - begun
    opening = meter.worst
    with meter.watching():
        window.start_drill()
        wait_until(app, lambda: window.drills.controller.stage.name == "ASKING")
    starting = meter.worst
    painted, answers, answering = _answer(app, window, meter)
    with meter.watching():
        window.drills.controller.leave()
        # The player sees what came of it before he can go on.
        app.processEvents()
        ready.clear()
        window.show_today()
        wait_until(app, lambda: bool(ready))
    ending = meter.worst
    counting = _count_replies(app, window, meter, home / "all.base")
    window.close()
    return [
        _stall("window blocked at most: opening 50,000 positions", opening, idle),
        _stall("window blocked at most: starting a drill", starting, idle),
        _stall("window blocked at most: answering", answering, idle),
        _stall("window blocked at most: end of a drill", ending, idle),
        _stall("window blocked at most: counting replies in a base", counting, idle),
        Figure("opening 50,000 positions", opened, "s"),
        _in_a_frame("answer painted, 95th percentile", painted),
        Figure("answer painted and logged, median", median(answers), "ms"),
        _in_a_frame("answer painted and logged, 95th percentile", answers),
    ]


def _count_replies(app: Any, window: Any, meter: StallMeter, base: Path) -> float:
    """The worst stall while every known position is looked up in a base, and what goes by it."""
    with meter.watching():
        window.rooms.base_desk().choose(base)
        wait_until(app, lambda: bool(window.course.replies.base))
        wait_until(app, lambda: not window._runner.busy())
    return meter.worst


def _application() -> Any:
    from PySide6.QtWidgets import QApplication

    app = QApplication.instance() or QApplication(["stemline"])
    app.setStyle("Fusion")
    return app


def _stall(name: str, worst: float, idle: float) -> Figure:
    return Figure(
        name,
        worst,
        "ms",
        goal=f"≤ {BLOCK_LIMIT_MS:g} ms",
        baseline_name="idle window",
        baseline_value=idle,
        met=worst <= BLOCK_LIMIT_MS,
    )


def _in_a_frame(name: str, times: list[float]) -> Figure:
    worst = quantiles(times, n=20)[-1]
    return Figure(name, worst, "ms", goal=f"≤ {FRAME_MS:g} ms", met=worst <= FRAME_MS)


def _answer(app: Any, window: Any, meter: StallMeter) -> tuple[list[float], list[float], float]:
    """Answer questions: ms from each move until it is painted, and until all is done.

    With the worst stall meanwhile.
    """
    from PySide6.QtCore import QEventLoop

    painted, times = [], []
    controller = window.drills.controller
    with meter.watching():
        while len(times) < ANSWERS and controller.running:
            move = controller._prompt.node.edges[0].move
            begun = time.perf_counter()
            window.drills.view.board.move_made.emit(move)
            painted.append((time.perf_counter() - begun) * 1000)
            while controller.stage.name == "KEEPING":
                # As the program does: the window's thread sleeps until something comes.
                app.processEvents(QEventLoop.ProcessEventsFlag.WaitForMoreEvents)
            times.append((time.perf_counter() - begun) * 1000)
            window.drills.view.proceed.emit()
            wait_until(app, lambda: controller.stage.name == "ASKING" or not controller.running)
    return painted, times, meter.worst
