"""Settings: bounds, damage, and what a newer version wrote."""

from __future__ import annotations

import dataclasses
import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import settings as profile
from hypothesis import strategies as st

from trainer.errors import SettingsError
from trainer.storage.settings import RECENT_LIMIT, Settings, load_settings, save_settings

NOW = datetime(2026, 3, 1, 18, 30, 5, tzinfo=UTC)


def clock() -> datetime:
    return NOW


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "config" / "settings.json"


def test_missing_file_means_defaults(path: Path) -> None:
    assert load_settings(path) == (Settings(), None)
    assert not path.parent.exists()


CHANGED = Settings(
    minutes=25,
    desired_retention=0.85,
    tournament_day="2026-03-12",
    pace_seconds=0,
    board_style="plain",
    notation="figurines",
    scale=2.0,
    appearance="dark",
    reduced_motion=True,
    animate=False,
    coordinates=False,
    show_targets=True,
    strangers=False,
    stranger_rate=0.25,
    recent_files=("/home/player/eröffnung.pgn", "/home/player/er\udcf6ffnung.pgn"),
    last_file="/home/player/er\udcf6ffnung.pgn",
    window_geometry="AdnQywADAAA=",
    games_files=("/home/player/er\udcf6ffnung.pgn",),
    games_folders=("/home/player/games",),
    player="Linden, Mara",
    count_games=False,
    base_counts_as=3.0,
    coach="Coach, A.",
    base_file="/home/player/games.base",
    engine="/opt/engines/one",
    engine_hash_mb=256,
    engine_threads=2,
    engine_seconds=5,
    engine_nodes=50_000,
    engine_margin=60,
    engine_note_read=True,
)


def test_everything_that_can_be_set_comes_back(path: Path) -> None:
    defaults = Settings()
    for field in dataclasses.fields(Settings):
        if field.name != "unknown":
            assert getattr(CHANGED, field.name) != getattr(defaults, field.name), field.name
    save_settings(path, CHANGED)
    assert load_settings(path) == (CHANGED, None)
    values = json.loads(path.read_bytes())
    assert values["version"] == 1
    assert set(values) == {field.name for field in dataclasses.fields(Settings)} - {"unknown"} | {
        "version"
    }


def test_what_a_newer_version_wrote_is_written_back(path: Path) -> None:
    path.parent.mkdir()
    path.write_text(json.dumps({"version": 2, "minutes": 7, "colours": {"ink": [1, 2]}}))
    loaded, notice = load_settings(path)
    assert (loaded.minutes, notice) == (7, None)
    save_settings(path, dataclasses.replace(loaded, minutes=8))
    values = json.loads(path.read_bytes())
    assert (values["version"], values["minutes"]) == (2, 8)
    assert values["colours"] == {"ink": [1, 2]}


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("minutes", 0),
        ("minutes", 241),
        ("minutes", 10.5),
        ("minutes", True),
        ("desired_retention", 0.69),
        ("desired_retention", 1),
        ("desired_retention", float("nan")),
        ("pace_seconds", -1),
        ("pace_seconds", "4"),
        ("board_style", "wood"),
        ("notation", None),
        ("scale", 0.5),
        ("scale", 3.5),
        ("appearance", ["dark"]),
        ("reduced_motion", 1),
        ("strangers", "no"),
        ("stranger_rate", 0.6),
        ("recent_files", "one.pgn"),
        ("recent_files", (1,)),
        ("last_file", 3),
        ("window_geometry", {}),
    ],
)
def test_values_out_of_bounds(path: Path, name: str, value: Any) -> None:
    with pytest.raises(SettingsError, match=f"The setting {name} must be .*, not "):
        Settings(**{name: value})
    path.parent.mkdir()
    other: dict[str, Any] = {"scale" if name == "minutes" else "minutes": 2}
    path.write_text(json.dumps({name: value, **other}))
    loaded, notice = load_settings(path)
    assert loaded == Settings(**other)
    assert notice is not None
    assert notice.startswith(f"In the settings file {path}, {name} must be ")
    assert notice.endswith("; the default is used instead.")


@pytest.mark.parametrize(
    "content", [b"", b"{", b"[1]", b"null", b"\xff\xfe\x00", b'{"minutes": 1', b"[" * 100000]
)
def test_a_damaged_file_is_kept_aside(path: Path, content: bytes) -> None:
    path.parent.mkdir()
    for name in (
        "settings.json.damaged-20260301-183005",
        "settings.json.damaged-20260301-183005-2",
    ):
        path.write_bytes(content)
        assert load_settings(path, clock=clock) == (
            Settings(),
            f"The settings file {path} was damaged and is kept as {name}; default settings are "
            "used.",
        )
        assert not path.exists()
        assert path.with_name(name).read_bytes() == content


def test_a_byte_order_mark_is_no_damage(path: Path) -> None:
    path.parent.mkdir()
    path.write_bytes(b'\xef\xbb\xbf{"minutes": 12}\r\n')
    assert load_settings(path) == (Settings(minutes=12), None)


def test_a_file_that_cannot_be_read_or_written(path: Path) -> None:
    path.mkdir(parents=True)
    loaded, notice = load_settings(path)
    assert loaded == Settings()
    assert notice == (
        f"The settings file {path} cannot be read (Is a directory), so default settings are "
        "used; check its permissions."
    )
    with pytest.raises(SettingsError, match=f"The settings file {path} cannot be written"):
        save_settings(path, Settings())
    blocker = path / "file"
    blocker.touch()
    with pytest.raises(SettingsError, match=f"The folder {blocker} cannot be made"):
        save_settings(blocker / "settings.json", Settings())


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=5,
)
NAMES = st.sampled_from([*Settings.__dataclass_fields__, "version"]) | st.text()


@profile(deadline=None, max_examples=150)
@given(st.binary() | st.dictionaries(NAMES, JSON).map(lambda data: json.dumps(data).encode()))
@example(b'{"minutes": 1e400}')
@example(b'{"scale": ' + b"9" * 400 + b"}")
@example(b'{"scale": ' + b"9" * 5000 + b"}")
def test_any_file_gives_valid_settings_that_can_be_saved(content: bytes) -> None:
    with TemporaryDirectory() as name:
        path = Path(name) / "settings.json"
        path.write_bytes(content)
        loaded, notice = load_settings(path, clock=clock)
        assert notice is None or notice.endswith(".")
        save_settings(path, loaded)
        again, notice = load_settings(path, clock=clock)
        assert notice is None
        # (Compared as text, because NaN in what is not ours is not equal to itself.)
        assert repr(again) == repr(loaded)
        texts = [json.dumps(one.unknown, sort_keys=True) for one in (again, loaded)]
        assert texts[0] == texts[1]


def test_recent_files() -> None:
    settings = Settings()
    for number in range(RECENT_LIMIT + 3):
        settings = settings.with_recent(f"{number}.pgn")
    settings = settings.with_recent("8.pgn")
    assert settings.last_file == "8.pgn"
    assert settings.recent_files[:4] == ("8.pgn", "12.pgn", "11.pgn", "10.pgn")
    assert len(settings.recent_files) == len(set(settings.recent_files)) == RECENT_LIMIT


def test_strangers_stay_away_for_the_first_week() -> None:
    week = timedelta(days=7)
    assert not Settings().wants_strangers(None, NOW)
    assert not Settings().wants_strangers(NOW - week + timedelta(seconds=1), NOW)
    assert Settings().wants_strangers(NOW - week, NOW)
    assert Settings(strangers=True).wants_strangers(None, NOW)
    assert not Settings(strangers=False).wants_strangers(NOW - 9 * week, NOW)
