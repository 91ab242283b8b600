"""Errors of the reference base that a user can understand and mend."""

from __future__ import annotations

import sqlite3
from pathlib import Path
from typing import Final

from trainer.errors import StemlineError

_MEANINGS: Final = {
    sqlite3.SQLITE_FULL: "the disk is full; make room and try again",
    sqlite3.SQLITE_IOERR: "the disk reports an error or is full; make room or check the disk",
    sqlite3.SQLITE_READONLY: "it is write-protected; allow writing or choose another place",
    sqlite3.SQLITE_CANTOPEN: "it or its folder cannot be opened; check the name and permissions",
    sqlite3.SQLITE_PERM: "access is denied; check the permissions",
    sqlite3.SQLITE_BUSY: "another program is writing to it; try again when that is done",
    sqlite3.SQLITE_LOCKED: "another program is writing to it; try again when that is done",
    sqlite3.SQLITE_CORRUPT: "it is damaged; delete it and build it again",
    sqlite3.SQLITE_NOTADB: "it is no reference base; choose another file",
}


class BaseFileError(StemlineError):
    """A reference base that cannot be opened, read or written."""


class GamesFileError(StemlineError):
    """A file of games that cannot be read."""


class BuildCancelledError(StemlineError):
    """The caller asked to stop; the base is as it was, and what was read is kept for later."""


def base_error(path: Path, doing: str, error: sqlite3.Error | OSError) -> BaseFileError:
    """The sentence for the user when `doing` ("read", "written") failed at `path`."""
    if isinstance(error, OSError):
        meaning = f"{error.strerror or error}; check that the disk has room and may be written"
    else:
        # The higher bytes of a result code tell kinds of one error apart.
        code = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_ERROR) & 0xFF
        meaning = _MEANINGS.get(code, str(error))
    return BaseFileError(f"The reference base {path} cannot be {doing}: {meaning}.")


def games_error(path: Path, error: OSError) -> GamesFileError:
    """The sentence for the user when a file of games cannot be read."""
    if isinstance(error, FileNotFoundError):
        return GamesFileError(f"There is no file {path}; check the name or choose another file.")
    if isinstance(error, IsADirectoryError):
        return GamesFileError(f"{path} is a folder; choose a PGN file in it.")
    return GamesFileError(
        f"{path} cannot be read ({error.strerror or error}); check its permissions."
    )
