"""What the player has chosen, in a small JSON file."""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any, Final, Literal

from trainer.errors import SettingsError
from trainer.storage.atomic import write_atomically
from trainer.storage.locations import make_directory

SETTINGS_VERSION: Final = 1
#: How many repertoire files are remembered.
RECENT_LIMIT: Final = 10
#: How long strangers stay away after the first drill, unless the player asks for them.
STRANGERS_AFTER: Final = timedelta(days=7)

BoardStyle = Literal["hatched", "plain"]
Notation = Literal["letters", "figurines"]
Appearance = Literal["system", "light", "dark"]


@dataclass(frozen=True)
class _Rule:
    """Which values a setting may have, and how that is said."""

    allows: Callable[[Any], bool]
    wanted: str


def _number(low: float, high: float) -> _Rule:
    def allows(value: object) -> bool:
        return (
            isinstance(value, int | float) and not isinstance(value, bool) and low <= value <= high
        )

    return _Rule(allows, f"a number from {low:g} to {high:g}")


def _choice(*values: str) -> _Rule:
    return _Rule(
        lambda value: isinstance(value, str) and value in values,
        " or ".join(f'"{value}"' for value in values),
    )


def _is_day(value: object) -> bool:
    """Whether a value is a calendar date, as `2026-03-12`."""
    try:
        return isinstance(value, str) and date.fromisoformat(value).isoformat() == value
    except ValueError:
        return False


_SWITCH: Final = _Rule(lambda value: isinstance(value, bool), "true or false")
_TEXT: Final = _Rule(lambda value: value is None or isinstance(value, str), "a text or null")

_FILES: Final = _Rule(
    lambda value: isinstance(value, tuple) and all(isinstance(name, str) for name in value),
    "a list of file names",
)


def _whole(low: int, high: int) -> _Rule:
    return _Rule(
        lambda value: _number(low, high).allows(value) and isinstance(value, int),
        f"a whole number from {low} to {high}",
    )


_RULES: Final[Mapping[str, _Rule]] = {
    "minutes": _Rule(
        lambda value: _number(1, 240).allows(value) and isinstance(value, int),
        "a whole number from 1 to 240",
    ),
    "desired_retention": _number(0.7, 0.99),
    "pace_seconds": _number(0, 60),
    "board_style": _choice("hatched", "plain"),
    "notation": _choice("letters", "figurines"),
    "scale": _number(0.75, 3),
    "appearance": _choice("system", "light", "dark"),
    "reduced_motion": _SWITCH,
    "animate": _SWITCH,
    "coordinates": _SWITCH,
    "show_targets": _SWITCH,
    "strangers": _Rule(
        lambda value: value is None or isinstance(value, bool), "true, false or null"
    ),
    "stranger_rate": _number(0, 0.5),
    "tournament_day": _Rule(
        lambda value: value is None or _is_day(value), "a date such as 2026-03-12, or null"
    ),
    "recent_files": _FILES,
    "last_file": _TEXT,
    "window_geometry": _TEXT,
    "base_file": _TEXT,
    "games_files": _FILES,
    "games_folders": _FILES,
    "player": _TEXT,
    "coach": _Rule(lambda value: isinstance(value, str), "a text"),
    "count_games": _SWITCH,
    "base_counts_as": _number(0, 1000),
    "engine": _TEXT,
    "engine_hash_mb": _whole(1, 65_536),
    "engine_threads": _whole(1, 512),
    "engine_seconds": _whole(1, 3_600),
    "engine_nodes": _whole(1_000, 1_000_000_000),
    "engine_margin": _whole(10, 1_000),
    "engine_note_read": _SWITCH,
}


@dataclass(frozen=True)
class Settings:
    """All settings. Raises `SettingsError` for a value that is out of bounds.

    `minutes` is the length of a drill, 1 to 240. `desired_retention` is the recall at which a
    position is asked again, 0.7 to 0.99. `pace_seconds` is how long a note stands before play
    goes on, 0 to 60, where 0 waits for a key. `scale` is 0.75 to 3. `strangers` is None for off
    in the first week and then on; `stranger_rate` is their share among replies, 0 to 0.5.
    `window_geometry` is text that only the window understands, `base_file` the chosen reference
    base. `games_files` and `games_folders` are where the player's own games are and `player` is
    his name in them, None where it is not known yet and "" for everybody's games; `count_games`
    tells whether decisions forgotten there count for memory. `coach` is the name that stands on
    what is handed out. `base_counts_as` is how many of the player's own games the reference base
    counts for in each position where reach is measured, 0 to 1000. `engine` is the path of the
    chess engine, None for the first one that is installed; it gets `engine_hash_mb` MiB and
    `engine_threads` threads, `engine_seconds` to look at a position and `engine_nodes` a position
    in a test, which names moves that lose `engine_margin` centipawns. `engine_note_read` tells
    whether the player was told once that help during a game breaks the Laws. `unknown` holds what
    a newer version of the program put into the file; it is written back.
    """

    minutes: int = 10
    desired_retention: float = 0.99
    pace_seconds: float = 4.0
    board_style: BoardStyle = "hatched"
    notation: Notation = "letters"
    scale: float = 1.0
    appearance: Appearance = "system"
    reduced_motion: bool = False
    animate: bool = True
    coordinates: bool = True
    show_targets: bool = False
    strangers: bool | None = None
    stranger_rate: float = 0.1
    #: The day of the next tournament, as `2026-03-12`.
    tournament_day: str | None = None
    recent_files: tuple[str, ...] = ()
    last_file: str | None = None
    window_geometry: str | None = None
    games_files: tuple[str, ...] = ()
    games_folders: tuple[str, ...] = ()
    player: str | None = None
    coach: str = ""
    base_file: str | None = None
    count_games: bool = True
    base_counts_as: float = 10.0
    engine: str | None = None
    engine_hash_mb: int = 64
    engine_threads: int = 1
    engine_seconds: int = 30
    engine_nodes: int = 100_000
    engine_margin: int = 100
    engine_note_read: bool = False
    unknown: Mapping[str, object] = field(default_factory=dict, hash=False, repr=False)

    def __post_init__(self) -> None:
        for name, rule in _RULES.items():
            value = getattr(self, name)
            if not rule.allows(value):
                raise SettingsError(
                    f"The setting {name} must be {rule.wanted}, not {_shown(value)}."
                )

    def with_recent(self, file: str) -> Settings:
        """These settings after `file` was opened: it is the last one and the most recent."""
        others = tuple(name for name in self.recent_files if name != file)
        return dataclasses.replace(
            self, last_file=file, recent_files=(file, *others)[:RECENT_LIMIT]
        )

    def wants_strangers(self, first_drill: datetime | None, now: datetime) -> bool:
        """Whether strangers are slipped in, given when the player's first drill was (or None)."""
        if self.strangers is not None:
            return self.strangers
        return first_drill is not None and now - first_drill >= STRANGERS_AFTER


def utc_now() -> datetime:
    """The present time."""
    return datetime.now(UTC)


def load_settings(
    path: Path, *, clock: Callable[[], datetime] = utc_now
) -> tuple[Settings, str | None]:
    """The settings in the file at `path`, and a sentence for the user, or None.

    Never fails. Where the file is missing the settings are the default ones; where it cannot be
    read, or is damaged (then it is kept aside), or has values that are out of bounds, as well,
    and the sentence says so.
    """
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        return Settings(), None
    except OSError as error:
        return Settings(), (
            f"The settings file {path} cannot be read ({error.strerror or error}), so default "
            "settings are used; check its permissions."
        )
    try:
        # A file that an editor saved with a byte-order mark is not a damaged one.
        values = json.loads(data.decode("utf-8-sig"))
        if not isinstance(values, dict):
            raise ValueError("not an object")  # noqa: TRY004 - as any other malformed content
    except (ValueError, RecursionError):
        return Settings(), _set_aside(path, clock())
    return _settings_from(path, values)


def save_settings(path: Path, settings: Settings) -> None:
    """Write `settings` to the file at `path`, as one step.

    Raises `SettingsError` when that cannot be done; the file is then as it was.
    """
    values: dict[str, object] = {"version": SETTINGS_VERSION}
    values.update(settings.unknown)
    values.update({name: getattr(settings, name) for name in _RULES})
    text = json.dumps(values, indent=2) + "\n"
    make_directory(path.parent, SettingsError)
    try:
        write_atomically(path, text.encode())
    except OSError as error:
        raise SettingsError(
            f"The settings file {path} cannot be written ({error.strerror or error}); check that "
            "the disk has room and the file may be written."
        ) from error


def _settings_from(path: Path, values: dict[str, Any]) -> tuple[Settings, str | None]:
    good: dict[str, Any] = {}
    unknown: dict[str, object] = {}
    faults: list[str] = []
    for name, value in values.items():
        rule = _RULES.get(name)
        if rule is None:
            # The version is ours to write, unless a newer program wrote the file.
            if name != "version" or (isinstance(value, int) and value > SETTINGS_VERSION):
                unknown[name] = value
            continue
        value = tuple(value) if isinstance(value, list) else value
        if rule.allows(value):
            good[name] = value
        else:
            faults.append(f"{name} must be {rule.wanted}, not {_shown(value)}")
    settings = Settings(**good, unknown=unknown)
    if not faults:
        return settings, None
    return settings, (
        f"In the settings file {path}, {', and '.join(faults)}; the default is used instead."
    )


def _set_aside(path: Path, now: datetime) -> str:
    kept = path.with_name(f"{path.name}.damaged-{now:%Y%m%d-%H%M%S}")
    number = 1
    while kept.exists():
        number += 1
        kept = path.with_name(f"{path.name}.damaged-{now:%Y%m%d-%H%M%S}-{number}")
    try:
        path.rename(kept)
    except OSError as error:
        return (
            f"The settings file {path} is damaged and cannot be moved aside "
            f"({error.strerror or error}); default settings are used."
        )
    return (
        f"The settings file {path} was damaged and is kept as {kept.name}; default settings are "
        "used."
    )


def _shown(value: object) -> str:
    text = json.dumps(value, default=repr)
    return text if len(text) <= 40 else text[:39] + "…"
