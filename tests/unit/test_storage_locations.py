"""Where files go."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from trainer.errors import ProgressError, SettingsError
from trainer.storage.locations import Locations, find_locations, make_directory


def test_one_home_for_everything(tmp_path: Path) -> None:
    home = tmp_path / "home"
    found = find_locations({"STEMLINE_HOME": str(home)})
    assert found == Locations(home / "data", home / "config", home / "log", home / "cache")
    assert found.progress_file == home / "data" / "progress.sqlite"
    assert found.settings_file == home / "config" / "settings.json"
    assert found.log_file == home / "log" / "stemline.log"
    assert not home.exists()


def test_a_relative_home_is_made_absolute(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert find_locations({"STEMLINE_HOME": "stick"}).data == tmp_path / "stick" / "data"
    monkeypatch.setenv("HOME", str(tmp_path))
    assert find_locations({"STEMLINE_HOME": "~/stick"}).data == tmp_path / "stick" / "data"


@pytest.mark.parametrize("home", ["", None])
def test_places_of_the_desktop(home: str | None) -> None:
    """XDG Base Directory Specification 0.8: the defaults, and the variables that change them."""
    script = (
        "from trainer.storage.locations import find_locations as find\n"
        "print(*(getattr(find(), name) for name in ('data', 'config', 'log', 'cache')), sep='\\n')"
    )
    usual = {
        name: value for name, value in os.environ.items() if not name.startswith(("XDG_", "STEM"))
    }
    if home is not None:
        usual["STEMLINE_HOME"] = home
    for variables, expected in (
        (
            {"HOME": "/home/player"},
            "/home/player/.local/share/stemline /home/player/.config/stemline "
            "/home/player/.local/state/stemline/log /home/player/.cache/stemline",
        ),
        (
            {
                "XDG_DATA_HOME": "/d",
                "XDG_CONFIG_HOME": "/c",
                "XDG_STATE_HOME": "/s",
                "XDG_CACHE_HOME": "/k",
            },
            "/d/stemline /c/stemline /s/stemline/log /k/stemline",
        ),
    ):
        result = subprocess.run(
            [sys.executable, "-c", script],
            env={**usual, **variables},
            capture_output=True,
            text=True,
            check=True,
        )
        assert result.stdout.split() == expected.split()


def test_a_directory_that_cannot_be_made(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    wanted = tmp_path / "file" / "data"
    for error_class in (ProgressError, SettingsError):
        with pytest.raises(error_class) as caught:
            make_directory(wanted, error_class)
        assert str(caught.value) == (
            f"The folder {wanted} cannot be made (Not a directory); make it yourself, or set "
            "STEMLINE_HOME to a folder where Stemline may write."
        )


def test_a_directory_is_private_and_may_be_there_already(tmp_path: Path) -> None:
    wanted = tmp_path / "a" / "b"
    make_directory(wanted, ProgressError)
    make_directory(wanted, ProgressError)
    assert wanted.stat().st_mode & 0o077 == 0
