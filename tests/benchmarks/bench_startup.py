"""From the start of the process to the first painted window, against a bare Qt main window.

Both processes install the same event filter and report once the first paint is on the screen. The
trainer is started as a player starts it, by the command without arguments, with nothing in its
home: it opens the demo repertoire. The two take turns; the first round warms the disk cache and is
not counted.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Mapping
from pathlib import Path
from statistics import median

from tests.benchmarks.figures import Figure
from tests.display import private_display

RUNS = 1
ROUNDS = 15
GOAL = 2.0

_REPORT_FIRST_PAINT = """
import os, sys
from PySide6.QtCore import QEvent, QObject, QTimer
from PySide6.QtWidgets import QApplication, QMainWindow

def painted():
    os.write(1, b"painted\\n")
    os._exit(0)

class FirstPaint(QObject):
    begun = False

    def eventFilter(self, watched, event):
        # One repaint, with its way to the screen, ends before a timer or a queued call comes;
        # what the program does after its first paint is not counted.
        if self.begun and event.type() in (QEvent.Type.Timer, QEvent.Type.MetaCall):
            painted()
        if event.type() == QEvent.Type.Paint and isinstance(watched, QMainWindow):
            self.begun = True
            QTimer.singleShot(0, painted)
        return False

app = QApplication(["stemline"])
first_paint = FirstPaint()
app.installEventFilter(first_paint)
"""

BARE = (
    _REPORT_FIRST_PAINT
    + """
window = QMainWindow()
window.resize(1200, 800)
window.show()
app.exec()
"""
)

TRAINER = (
    _REPORT_FIRST_PAINT
    + """
from trainer.cli import main
sys.exit(main([]))
"""
)


def measure() -> list[Figure]:
    """Two figures: without a display (offscreen) and on a private X display."""
    with private_display() as display:
        return [
            _compare("start to first paint, offscreen", {"QT_QPA_PLATFORM": "offscreen"}),
            _compare(
                "start to first paint, X11", {"QT_QPA_PLATFORM": "xcb", "DISPLAY": display.name}
            ),
        ]


def _compare(name: str, platform: Mapping[str, str]) -> Figure:
    times: dict[str, list[float]] = {TRAINER: [], BARE: []}
    for number in range(1 + ROUNDS):
        for script in (TRAINER, BARE) if number % 2 else (BARE, TRAINER):
            times[script].append(_milliseconds(script, platform))
    value, baseline = median(times[TRAINER][1:]), median(times[BARE][1:])
    return Figure(
        name=name,
        value=value,
        unit="ms",
        goal=f"≤ {GOAL:g}×",
        baseline_name="bare QMainWindow",
        baseline_value=baseline,
        met=value <= GOAL * baseline,
    )


def _milliseconds(script: str, platform: Mapping[str, str]) -> float:
    with tempfile.TemporaryDirectory(prefix="stemline-start-") as home:
        file = Path(home, "start.py")
        file.write_text(script, encoding="utf-8")
        environment = os.environ | {"STEMLINE_HOME": home, **platform}
        # As on a player's machine, the second start finds the modules compiled.
        environment.pop("PYTHONDONTWRITEBYTECODE", None)
        begin = time.perf_counter()
        process = subprocess.Popen(
            [sys.executable, str(file)],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            stdin=subprocess.DEVNULL,
            env=environment,
            cwd=home,
        )
        assert process.stdout is not None
        line = process.stdout.readline()
        elapsed = time.perf_counter() - begin
        _, complaints = process.communicate(timeout=60)
    if line != b"painted\n":
        raise RuntimeError(f"no window was painted: {complaints.decode(errors='replace')}")
    return 1000 * elapsed
