"""Errors that a user can understand and mend.

Everything that is not a `StemlineError` is a bug: it goes to the log with a traceback and the
user sees only where that log lies.
"""

from __future__ import annotations


class StemlineError(Exception):
    """One clear sentence for the user: what is wrong, where, and what to do."""


class RepertoireFileError(StemlineError):
    """A repertoire file that cannot be read or written."""


class FileChangedError(RepertoireFileError):
    """The file on disk is no longer the one that was read."""


class KeyCollisionError(StemlineError):
    """Two different positions share one 64-bit key (never merged, always reported)."""


class ProgressError(StemlineError):
    """The progress file cannot be opened, read or written."""


class ProgressLockedError(ProgressError):
    """Another running window holds the progress file."""


class SettingsError(StemlineError):
    """A settings file that cannot be read or written."""


class EngineError(StemlineError):
    """A chess engine that cannot be started, or was stopped because it failed."""


class EngineStoppedError(EngineError):
    """The question to the engine was cancelled; nothing is wrong."""


class ResourceMissingError(StemlineError):
    """A file that belongs to the program is not where it should be."""


class UsageError(StemlineError):
    """The command line was not understood (exit status 2)."""
