"""The engine of the real window on a real display: when it starts, and that it never outlives."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.display import Display
from tests.engines import STOCKFISH, children, fake_engine, is_running
from trainer.storage.locations import find_locations
from trainer.storage.settings import Settings, save_settings

TEXT = '[Event "Quiet"]\n[RepertoireSide "White"]\n\n1. d3 d5 2. Nf3 Nf6 3. g3 *\n'
PATIENCE_SECONDS = 60.0


def wait_for(holds: Callable[[], bool]) -> bool:
    until = time.monotonic() + PATIENCE_SECONDS
    while time.monotonic() < until:
        if holds():
            return True
        time.sleep(0.05)
    return False


def engines(window: subprocess.Popen[bytes]) -> list[int]:
    """The engines that a window runs; beside each stands a shell that watches over it."""
    return [pid for pid, name in children(window.pid).items() if name != "sh"]


@pytest.fixture(params=["Stockfish", "one that clings to life"])
def engine(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    """Stockfish, and a program that ignores `quit`, signals and the end of its input."""
    return STOCKFISH if request.param == "Stockfish" else fake_engine(tmp_path, "clings")


@pytest.fixture
def window(
    tmp_path: Path, process_environment: dict[str, str], xvfb_display: Display, engine: Path
) -> Iterator[subprocess.Popen[bytes]]:
    path = tmp_path / "quiet.pgn"
    path.write_text(TEXT, encoding="utf-8")
    save_settings(find_locations().settings_file, Settings(engine=str(engine), engine_seconds=600))
    environment = process_environment | {
        "DISPLAY": xvfb_display.name,
        "QT_QPA_PLATFORM": "xcb",
        "QT_LOGGING_RULES": "*=false",
    }
    process = subprocess.Popen(
        [sys.executable, "-P", "-m", "trainer", str(path)], env=environment, cwd=tmp_path
    )
    yield process
    if process.poll() is None:
        process.kill()
    process.wait()


def press(display: Display, *keys: str) -> None:
    environment = {"PATH": os.environ["PATH"], "DISPLAY": display.name}
    subprocess.run(
        ["xdotool", "search", "--onlyvisible", "--name", "Stemline", "windowfocus", "key", *keys],
        env=environment,
        check=False,
        capture_output=True,
        timeout=PATIENCE_SECONDS,
    )


def look_with_the_engine(window: subprocess.Popen[bytes], display: Display) -> int:
    """Press Ctrl+L until the engine runs; its process."""

    def started() -> bool:
        if not engines(window):
            press(display, "ctrl+l")
            time.sleep(0.5)
        return bool(engines(window))

    assert window.poll() is None
    assert wait_for(started)
    return engines(window)[0]


def test_the_engine_starts_when_asked_for_and_ends_with_a_killed_window(
    window: subprocess.Popen[bytes], xvfb_display: Display
) -> None:
    time.sleep(2.0)
    assert engines(window) == [], "opening a file starts no engine"
    running = look_with_the_engine(window, xvfb_display)
    window.send_signal(signal.SIGKILL)
    window.wait()
    assert wait_for(lambda: not is_running(running))
