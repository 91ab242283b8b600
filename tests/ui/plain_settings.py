"""The settings that tests of the window begin with."""

from __future__ import annotations

from trainer.storage.locations import find_locations
from trainer.storage.settings import Settings, save_settings


def save_plain_settings(**changes: object) -> None:
    """Nothing moves or comes of itself but what is changed."""
    plain = {"pace_seconds": 0.0, "reduced_motion": True, "strangers": False}
    save_settings(find_locations().settings_file, Settings(**{**plain, **changes}))
