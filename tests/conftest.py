"""What holds for every test: a home of its own, no real screen unless a test asks for one."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

# No test asserts a time, so neither do the property tests.
settings.register_profile("untimed", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("untimed")

# Before the first import of Qt. A test that wants a real window starts a process with another.
os.environ["QT_QPA_PLATFORM"] = "offscreen"


@pytest.fixture(autouse=True)
def stemline_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder that holds the progress, settings, log and cache of this test alone."""
    home = tmp_path / "stemline-home"
    monkeypatch.setenv("STEMLINE_HOME", str(home))
    return home


@pytest.fixture(scope="session")
def qapp_args() -> list[str]:
    """The command line of the test application: no option of pytest's reaches Qt."""
    return ["stemline"]
