"""Building a base from the command line: progress on standard error, Ctrl+C stops it."""

from __future__ import annotations

import sys
import time
from pathlib import Path

from trainer.games.base.builder import BuildReport, build_base
from trainer.games.base.faults import BuildCancelledError

_EVERY_SECONDS = 0.2


class ProgressLine:
    """Tells a terminal the share that is done in one line, and a file every tenth."""

    def __init__(self, doing: str = "Building") -> None:
        self._doing = doing
        self._live = sys.stderr.isatty()
        self._told = 0.0
        self._tenth = 0

    def __call__(self, share: float) -> None:
        """Tell the share, 0 to 1."""
        now = time.monotonic()
        if self._live:
            if now - self._told >= _EVERY_SECONDS or share >= 1:
                self._told = now
                print(f"\r{self._doing}: {share:4.0%}", end="", file=sys.stderr, flush=True)
        elif int(share * 10) > self._tenth:
            self._tenth = int(share * 10)
            print(f"{self._doing}: {share:.0%}", file=sys.stderr, flush=True)

    def end(self) -> None:
        """Leave the line."""
        if self._live and self._told:
            print(file=sys.stderr)


def build_with_progress(
    base: Path, files: list[Path], *, plies: int | None, jobs: int | None
) -> BuildReport:
    """As `build_base`; Ctrl+C raises `BuildCancelledError` with the base as it was."""
    line = ProgressLine()
    try:
        return build_base(base, files, plies=plies, jobs=jobs, progress=line)
    except KeyboardInterrupt:
        raise BuildCancelledError(
            f"Stopped; {base} is as it was, and the same command goes on from here."
        ) from None
    finally:
        line.end()
