"""Where the program keeps its files: progress, settings, log, cache.

The places are the usual ones of the operating system. `STEMLINE_HOME` names one directory that
holds them all instead, for a copy on a stick and for tests.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import platformdirs

from trainer.errors import StemlineError

HOME_VARIABLE = "STEMLINE_HOME"


@dataclass(frozen=True)
class Locations:
    """The directories of one user. None of them need exist: who writes there makes it first."""

    data: Path
    config: Path
    log: Path
    cache: Path

    @property
    def progress_file(self) -> Path:
        """The answers to all repertoires."""
        return self.data / "progress.sqlite"

    def journal_file(self, repertoire: Path) -> Path:
        """The edits of a repertoire file that are not saved yet."""
        return self.data / "unsaved" / f"{_name_for(repertoire)}.journal"

    def replies_file(self, repertoire: Path) -> Path:
        """How often the replies that a repertoire file knows were played."""
        return self.data / "replies" / f"{_name_for(repertoire)}.json"

    @property
    def settings_file(self) -> Path:
        """What the player has chosen."""
        return self.config / "settings.json"

    @property
    def log_file(self) -> Path:
        """The tracebacks of bugs."""
        return self.log / "stemline.log"


def _name_for(repertoire: Path) -> str:
    """A name of its own for what is kept of a repertoire file."""
    # Not at the start of the window: it takes milliseconds.
    import hashlib

    place = os.path.realpath(repertoire)
    return hashlib.sha256(place.encode("utf-8", "surrogateescape")).hexdigest()[:16]


def find_locations(environ: Mapping[str, str] = os.environ) -> Locations:
    """The directories for the present user, by `STEMLINE_HOME` in `environ` where it is set."""
    home = environ.get(HOME_VARIABLE, "")
    if home:
        base = Path(os.path.abspath(os.path.expanduser(home)))  # noqa: PTH100, PTH111 - keeps links
        return Locations(base / "data", base / "config", base / "log", base / "cache")
    folders = platformdirs.PlatformDirs("stemline", appauthor=False)
    return Locations(
        folders.user_data_path,
        folders.user_config_path,
        folders.user_log_path,
        folders.user_cache_path,
    )


def make_directory(directory: Path, error_class: type[StemlineError]) -> None:
    """Make `directory` and what it lies in, private to the user, unless it is there already.

    Raises `error_class` with the sentence for the user when that cannot be done.
    """
    try:
        directory.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        raise error_class(
            f"The folder {directory} cannot be made ({error.strerror or error}); make it "
            f"yourself, or set {HOME_VARIABLE} to a folder where Stemline may write."
        ) from error
