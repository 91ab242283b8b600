"""UCI as python-chess speaks it, with a guard at the engine's mouth.

A sound engine sends a few hundred short lines a search. What comes in floods, in lines without
end, or in moves that cannot be played is the end of it: the process is killed and the fault
noted, in words that complete "The engine … ".
"""

from __future__ import annotations

import contextlib
import logging
import os
import signal
import sys
import time
from typing import Final

import chess.engine

# python-chess warns of every odd line of an engine; the guard has its own word for that.
logging.getLogger("chess.engine").addHandler(logging.NullHandler())

#: The longest line in bytes. A line of 250 moves takes some 1,500.
LONGEST_LINE: Final = 1 << 16
#: Lines in a second, above which an engine floods. Stockfish sends some 300 at most.
MOST_LINES: Final = 5_000


class GuardedProtocol(chess.engine.UciProtocol):
    """A UCI engine that is not trusted."""

    def __init__(self) -> None:
        super().__init__()
        #: What the engine did, where it was killed for it.
        self.fault: str | None = None
        #: Lines that named a variation since `begin`.
        self.variations = 0
        self._second = 0.0
        self._lines = 0

    def begin(self) -> None:
        """A search begins: count its variations anew."""
        self.variations = 0

    def condemn(self, fault: str) -> None:
        """Kill the process for `fault`, unless it was killed already."""
        if self.fault is None:
            self.fault = fault
        self.kill()

    def kill(self) -> None:
        """End the process and what it has started, at once and without a word.

        It leads a process group of its own, so that a script that starts the engine proper takes
        that with it.
        """
        if self.transport is not None and not self.returncode.done():
            with contextlib.suppress(ProcessLookupError, PermissionError):
                if sys.platform == "win32":
                    self.transport.kill()
                else:
                    os.killpg(self.transport.get_pid(), signal.SIGKILL)

    def pipe_data_received(self, fd: int, data: bytes | str) -> None:
        """Take what the engine wrote; what it complains of on standard error is dropped."""
        if fd != 1 or self.fault is not None:
            return
        assert isinstance(data, bytes)
        now = time.monotonic()
        if now - self._second >= 1:
            self._second, self._lines = now, 0
        self._lines += data.count(b"\n")
        if self._lines > MOST_LINES:
            self.condemn("floods this program with lines and was stopped")
            return
        if len(self.buffer[1]) + len(data) > LONGEST_LINE and b"\n" not in data[-LONGEST_LINE:]:
            self.condemn("sends a line that does not end and was stopped")
            return
        super().pipe_data_received(fd, data)

    def line_received(self, line: str) -> None:
        """Count the variations that are claimed; python-chess drops those it cannot play."""
        if line.startswith("info ") and " pv " in line and " string " not in line:
            self.variations += 1
