"""Fixtures that run the real program as its own process."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest

from tests.display import Display, private_display
from tests.process import RunStemline

TIMEOUT_SECONDS = 120


@pytest.fixture
def process_environment(tmp_path: Path, stemline_home: Path) -> dict[str, str]:
    """The environment of a user who has just installed the program, without a display."""
    home = tmp_path / "home"
    home.mkdir(exist_ok=True)
    kept = ("PATH", "LANG", "LC_ALL", "TMPDIR", "SYSTEMROOT", "PYTHONDONTWRITEBYTECODE")
    environment = {name: os.environ[name] for name in kept if name in os.environ}
    return environment | {
        "HOME": str(home),
        "STEMLINE_HOME": str(stemline_home),
        "QT_QPA_PLATFORM": "offscreen",
        "PYTHONUTF8": "1",
        "PYTHONWARNINGS": "default",
    }


@pytest.fixture
def stemline(tmp_path: Path, process_environment: dict[str, str]) -> RunStemline:
    """The program as a real process, in a temporary home."""

    def run(
        *args: str | os.PathLike[str],
        input: str | None = None,  # noqa: A002 - as subprocess.run calls it
        env: Mapping[str, str] | None = None,
    ) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "-P", "-m", "trainer", *(os.fspath(argument) for argument in args)],
            input="" if input is None else input,
            env=process_environment | dict(env or {}),
            cwd=tmp_path,
            capture_output=True,
            encoding="utf-8",
            timeout=TIMEOUT_SECONDS,
            check=False,
        )

    return run


@pytest.fixture(scope="session")
def xvfb_display() -> Iterator[Display]:
    """A private X display of 1600 × 1200 for the whole session.

    Start a process on it with `env={"DISPLAY": xvfb_display.name, "QT_QPA_PLATFORM": "xcb"}`;
    `xvfb_display.save_picture(path)` is a screenshot.
    """
    with private_display() as display:
        yield display
