"""The real window on a real X display, driven with mouse and keys and nothing else.

STEMLINE_KEEP_SHOTS=<folder> keeps the pictures that are taken on the way.
"""

from __future__ import annotations

import json
import os
import re
import resource
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.display import Display, private_display
from trainer.storage.locations import find_locations
from trainer.storage.settings import Settings, save_settings

PROBE = Path(__file__).with_name("window_probe.py")
PATIENCE_SECONDS = 30.0
LOOK_EVERY_SECONDS = 0.02
#: A window of usual size at 200 % has room on it.
SCREEN = "2400x1800x24"
WELCOME = "a few minutes a day"

State = dict[str, Any]


@pytest.fixture(scope="module")
def screen() -> Iterator[Display]:
    with private_display(SCREEN) as display:
        yield display


class Player:
    """Sits at the screen: looks at what stands there, moves the mouse, types."""

    def __init__(
        self, display: Display, process: subprocess.Popen[bytes], state_file: Path
    ) -> None:
        self.process = process
        self._display = display
        self._state_file = state_file

    def look(self) -> State:
        try:
            state = json.loads(self._state_file.read_text(encoding="utf-8"))
        except FileNotFoundError:
            return {}
        assert isinstance(state, dict)
        return state

    def wait(self, what: str, holds: Callable[[State], object]) -> State:
        """Wait until something holds of what stands on the screen."""
        deadline = time.monotonic() + PATIENCE_SECONDS
        while True:
            state = self.look()
            if state and holds(state):
                return state
            assert self.process.poll() is None, f"the window is gone: {what}"
            assert time.monotonic() < deadline, f"in vain: {what}; last seen: {state}"
            time.sleep(LOOK_EVERY_SECONDS)

    def do(self, *command: str | int) -> None:
        """Real events of the X server, in order."""
        subprocess.run(
            ["xdotool", *(str(part) for part in command)],
            env={"PATH": os.environ["PATH"], "DISPLAY": self._display.name},
            check=True,
            timeout=PATIENCE_SECONDS,
        )

    def click(self, point: tuple[int, int]) -> None:
        self.do("mousemove", *point, "click", 1)

    def drag(self, start: tuple[int, int], end: tuple[int, int]) -> None:
        between = ((start[0] + end[0]) // 2, (start[1] + end[1]) // 2)
        self.do(
            *("mousemove", *start, "mousedown", 1, "mousemove", *between),
            *("mousemove", *end, "mouseup", 1),
        )

    def key(self, *names: str) -> None:
        self.do("key", *names)

    def type(self, text: str) -> None:
        self.do("type", "--delay", 4, text)
        self.key("Return")

    def take_picture(self, name: str, folder: Path) -> None:
        """A picture of the screen, on which there must be something to see."""
        pixels = self._display.pixels()
        red, green, blue = np.moveaxis(pixels[::2, ::2].astype(np.uint32), -1, 0)
        colours = np.unique(red << 16 | green << 8 | blue)
        assert len(colours) > 100, f"{name}: only {len(colours)} colours"
        path = folder / f"{name}.png"
        self._display.save_picture(path)
        kept = os.environ.get("STEMLINE_KEEP_SHOTS")
        if kept:
            Path(kept).mkdir(parents=True, exist_ok=True)
            shutil.copy(path, kept)

    # -- what a player does ------------------------------------------------------------------

    def wait_for_today(self) -> State:
        state = self.wait(
            "Today with figures",
            lambda seen: (
                seen["place"] == "TodayView"
                and seen["ready"]
                and "worth asking now" in seen["text"]
            ),
        )
        if not state["active"]:
            # No window manager runs here that would give the window the keyboard.
            self.do("windowfocus", state["window"])
            state = self.wait("the keyboard", lambda seen: seen["active"])
        return state

    def wait_for_question(self, number: int = 0) -> State:
        return self.wait(
            f"question {number or 'after this'}",
            lambda seen: (
                seen["stage"] == "ASKING"
                and seen["place"] == "DrillView"
                and (not number or seen["number"] == number)
            ),
        )

    def start(self) -> State:
        self.click(self.look()["points"]["start"])
        return self.wait_for_question()

    def answered(self, verdict: str) -> State:
        return self.wait(
            verdict, lambda seen: seen["stage"] == "READING" and seen["verdict"] == verdict
        )

    def answer_by_mouse(self, *, drag: bool = False) -> State:
        state = self.wait_for_question()
        squares = state["squares"]
        start, end = squares[state["uci"][:2]], squares[state["uci"][2:4]]
        if drag:
            self.drag(start, end)
        else:
            self.click(start)
            self.click(end)
        state = self.answered("Right.")
        self.click(state["points"]["continue"])
        return self.wait_for_question(state["number"] + 1)

    def answer_by_keyboard(self) -> State:
        state = self.wait_for_question()
        self.type(state["san"])
        state = self.answered("Right.")
        self.key("space")
        return self.wait_for_question(state["number"] + 1)

    def quit(self) -> None:
        self.key("ctrl+q")
        assert self.process.wait(PATIENCE_SECONDS) == 0


class Desk:
    """Where windows are opened, one after the other, by the same user."""

    def __init__(self, display: Display, environment: Mapping[str, str], folder: Path) -> None:
        self._display = display
        self._environment = environment
        self._folder = folder
        self._opened = 0

    @contextmanager
    def window(self, **variables: str) -> Iterator[Player]:
        self._opened += 1
        state_file = self._folder / f"state-{self._opened}.json"
        errors = self._folder / f"errors-{self._opened}.txt"
        environment = {
            **self._environment,
            "DISPLAY": self._display.name,
            "QT_QPA_PLATFORM": "xcb",
            **variables,
        }
        with errors.open("wb") as stream:
            process = subprocess.Popen(
                [sys.executable, "-P", PROBE, state_file], env=environment, stderr=stream
            )
        try:
            yield Player(self._display, process, state_file)
        finally:
            process.kill()
            process.wait()
        assert "Traceback" not in errors.read_text(encoding="utf-8")
        assert not find_locations().log_file.exists(), find_locations().log_file.read_text()


@pytest.fixture
def desk(screen: Display, process_environment: dict[str, str], tmp_path: Path) -> Desk:
    choose()
    return Desk(screen, process_environment, tmp_path)


def choose(**changes: Any) -> None:
    settings = Settings(**{"pace_seconds": 0.0, "appearance": "light", **changes})
    save_settings(find_locations().settings_file, settings)


def answers() -> list[tuple[str, str | None]]:
    connection = sqlite3.connect(find_locations().progress_file)
    rows = connection.execute("SELECT kind, grade FROM answers ORDER BY id").fetchall()
    connection.close()
    return rows


def test_the_daily_drill(desk: Desk, tmp_path: Path) -> None:
    with desk.window() as player:
        state = player.wait_for_today()
        assert WELCOME in state["text"]
        player.take_picture("today-first", tmp_path)
        player.start()
        player.take_picture("drill-question", tmp_path)
        for number in range(5):
            player.answer_by_mouse(drag=number in (1, 3))
        for _ in range(5):
            player.answer_by_keyboard()

        state = player.wait_for_question()
        player.type(state["wrong"])
        player.wait("the prepared move to be shown", lambda seen: seen["stage"] == "CORRECTING")
        player.take_picture("drill-missed", tmp_path)
        player.type(state["san"])
        player.answered("That is the move.")
        player.take_picture("drill-note", tmp_path)
        player.key("space")
        player.wait_for_question(state["number"] + 1)

        player.key("p")
        player.wait("the pause", lambda seen: seen["stage"] == "PAUSED")
        player.take_picture("drill-paused", tmp_path)
        player.key("space")
        player.wait_for_question()
        player.key("Escape")
        state = player.wait("the summary", lambda seen: seen["place"] == "SummaryView")
        said = re.sub(r", \d+ of them slowly", "", state["text"])
        assert "11 positions asked, 10 right at once, 1 missed" in said
        player.take_picture("summary", tmp_path)
        player.click(state["points"]["back"])
        state = player.wait_for_today()
        assert WELCOME not in state["text"]
        player.take_picture("today-later", tmp_path)
        player.quit()
    kept = answers()
    assert [kind for kind, _grade in kept] == ["drill"] * 11
    assert kept[-1] == ("drill", "missed")
    with desk.window() as player:
        assert WELCOME not in player.wait_for_today()["text"]
        player.quit()
    assert answers() == kept


@pytest.mark.parametrize(
    ("name", "changes", "variables"),
    [
        ("dark", {"appearance": "dark"}, {}),
        ("dark-scale-2", {"appearance": "dark", "scale": 2.0}, {}),
        ("factor-2", {}, {"QT_SCALE_FACTOR": "2"}),
        ("dark-factor-2", {"appearance": "dark"}, {"QT_SCALE_FACTOR": "2"}),
    ],
)
def test_other_looks(
    desk: Desk,
    tmp_path: Path,
    name: str,
    changes: dict[str, Any],
    variables: dict[str, str],
) -> None:
    choose(**changes)
    with desk.window(**variables) as player:
        player.wait_for_today()
        player.take_picture(f"{name}-today", tmp_path)
        player.start()
        player.answer_by_mouse()
        player.answer_by_mouse(drag=True)
        state = player.answer_by_keyboard()
        player.take_picture(f"{name}-question", tmp_path)
        player.type(state["wrong"])
        player.wait("the prepared move to be shown", lambda seen: seen["stage"] == "CORRECTING")
        player.take_picture(f"{name}-missed", tmp_path)
        player.key("Escape")
        player.wait("the summary", lambda seen: seen["place"] == "SummaryView")
        player.take_picture(f"{name}-summary", tmp_path)
        player.quit()
    assert len(answers()) == 4


def test_a_drill_asked_for_on_the_command_line(
    screen: Display, process_environment: dict[str, str], tmp_path: Path
) -> None:
    path = tmp_path / "both.pgn"
    path.write_text('[Event "x"]\n[RepertoireSide "White"]\n\n1. d3 d5 2. Nf3 Nf6 *\n')
    choose()
    command = [sys.executable, "-P", "-m", "trainer", "drill", str(path), "--minutes", "7"]
    environment = {**process_environment, "DISPLAY": screen.name, "QT_QPA_PLATFORM": "xcb"}
    with subprocess.Popen([*command, "--side", "black"], env=environment) as process:
        try:
            deadline = time.monotonic() + PATIENCE_SECONDS
            while not (begun := sessions()) and time.monotonic() < deadline:
                assert process.poll() is None
                time.sleep(LOOK_EVERY_SECONDS)
        finally:
            process.kill()
    assert begun == [(7, 0)]


def sessions() -> list[tuple[int, int]]:
    """The minutes of each drill that was begun, and the side (1 is White) of its repertoire."""
    path = find_locations().progress_file
    if not path.exists():
        return []
    connection = sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)
    try:
        return connection.execute(
            "SELECT minutes, side FROM sessions JOIN repertoires ON repertoires.id = repertoire_id"
        ).fetchall()
    except sqlite3.OperationalError:  # the program is still making the file
        return []
    finally:
        connection.close()


def test_killed_in_the_middle_of_a_drill(desk: Desk) -> None:
    with desk.window() as player:
        player.wait_for_today()
        player.start()
        player.answer_by_keyboard()
        state = player.wait_for_question()
        player.type(state["san"])
        # What the player was told to be right is safe, whatever happens next.
        player.answered("Right.")
        player.process.send_signal(signal.SIGKILL)
        player.process.wait(PATIENCE_SECONDS)
    assert [kind for kind, _grade in answers()] == ["drill", "drill"]
    with desk.window() as player:
        state = player.wait_for_today()
        assert WELCOME not in state["text"]
        player.start()
        player.answer_by_keyboard()
        player.quit()
    assert len(answers()) == 3


def test_the_disk_fills_up_in_the_middle_of_a_drill(desk: Desk) -> None:
    with desk.window() as player:
        player.wait_for_today()
        player.start()
        player.answer_by_keyboard()
        state = player.wait_for_question()
        # The operating system refuses to let the files of the program grow.
        log = find_locations().progress_file.with_name("progress.sqlite-wal")
        resource.prlimit(
            player.process.pid,
            resource.RLIMIT_FSIZE,
            (log.stat().st_size, resource.RLIM_INFINITY),
        )
        player.type(state["san"])
        seen = player.wait("the sentence", lambda seen: "cannot be written" in seen["message"])
        assert seen["message"].endswith("The question is still open.")
        assert (seen["stage"], seen["number"]) == ("ASKING", state["number"])
        assert len(answers()) == 1
        resource.prlimit(
            player.process.pid,
            resource.RLIMIT_FSIZE,
            (resource.RLIM_INFINITY, resource.RLIM_INFINITY),
        )
        player.answer_by_keyboard()
        player.quit()
    assert len(answers()) == 2
