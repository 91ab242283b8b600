"""A reference base built in the real window, on a real X display, with the keyboard alone."""

from __future__ import annotations

import json
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.base_games import GameMaker
from tests.display import Display
from trainer.games.base.sources import BLOCK_BYTES
from trainer.games.base.store import ReferenceBase
from trainer.storage.locations import find_locations
from trainer.storage.settings import Settings, save_settings

PATIENCE_SECONDS = 120.0
COPIES = 50
DEMO = Path(__file__).resolve().parents[2] / "repertoires" / "kings-indian-attack.pgn"


class Keyboard:
    """Real events of the X server, to whatever window has the focus."""

    def __init__(self, display: Display, process: subprocess.Popen[bytes]) -> None:
        self._display, self._process = display, process

    def do(self, *command: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            ["xdotool", *command],
            env={"PATH": "/usr/bin:/bin", "DISPLAY": self._display.name},
            capture_output=True,
            text=True,
            check=False,
        )

    def wait_for(self, what: str, holds: Callable[[], object]) -> None:
        deadline = time.monotonic() + PATIENCE_SECONDS
        while not holds():
            assert self._process.poll() is None, f"the window is gone: {what}"
            assert time.monotonic() < deadline, f"in vain: {what}"
            time.sleep(0.05)

    def wait_for_window(self, title: str) -> str:
        found: list[str] = []

        def seen() -> bool:
            found[:] = self.do("search", "--onlyvisible", "--name", f"^{title}$").stdout.split()
            return bool(found)

        self.wait_for(f"a window called {title}", seen)
        self.do("windowfocus", "--sync", found[-1])
        time.sleep(0.3)
        return found[-1]


@pytest.fixture
def games(tmp_path: Path) -> Path:
    path = tmp_path / "games.pgn"
    text = GameMaker(seed=61).text(400)
    # More than one process reads at a time.
    path.write_text("".join(text.replace('[White "', f'[White "{n} ') for n in range(COPIES)))
    assert path.stat().st_size > BLOCK_BYTES
    return path


def test_a_base_is_built_with_the_keyboard(
    xvfb_display: Display, process_environment: dict[str, str], games: Path, tmp_path: Path
) -> None:
    locations = find_locations()
    save_settings(locations.settings_file, Settings(strangers=False, appearance="light"))
    environment = process_environment | {"DISPLAY": xvfb_display.name, "QT_QPA_PLATFORM": "xcb"}
    with subprocess.Popen(
        [sys.executable, "-P", "-m", "trainer", str(DEMO)], env=environment, cwd=tmp_path
    ) as process:
        try:
            keyboard = Keyboard(xvfb_display, process)
            keyboard.wait_for_window(".* — Stemline")
            keyboard.do("key", "alt+f")
            time.sleep(0.3)
            keyboard.do("key", "b")
            keyboard.wait_for_window("Reference base")
            keyboard.do("key", "alt+a")
            keyboard.wait_for_window("Games for the base")
            keyboard.do("type", "--delay", "8", str(games))
            keyboard.do("key", "Return")
            base = locations.data / "reference.base"
            keyboard.wait_for("the base", base.exists)
            keyboard.wait_for(
                "the settings",
                lambda: json.loads(locations.settings_file.read_text())["base_file"] == str(base),
            )
            keyboard.do("key", "alt+c")
        finally:
            process.terminate()
    with ReferenceBase(base) as built:
        assert built.summary().games == 400 * COPIES
