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
#: Lines at the beginning of a search, and lines a second in the long run, above which an engine
#: floods, also where this program is slow to read them. Stockfish tells five lines at each of 245
#: depths at once where little is left on the board, and else some 300 lines a second at most.
MOST_LINES: Final = 2_000
_LINES_A_SECOND: Final = 500


class GuardedProtocol(chess.engine.UciProtocol):
    """A UCI engine that is not trusted."""

    def __init__(self) -> None:
        super().__init__()
        #: What the engine did, where it was killed for it.
        self.fault: str | None = None
        #: Lines that named a variation since `begin`.
        self.variations = 0
        self._read_at = time.monotonic()
        self._lines_left = float(MOST_LINES)

    def begin(self) -> None:
        """A search begins: count its lines and variations anew."""
        self.variations = 0
        self._lines_left = float(MOST_LINES)

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
        more = (now - self._read_at) * _LINES_A_SECOND
        self._read_at = now
        self._lines_left = min(MOST_LINES, self._lines_left + more) - data.count(b"\n")
        if self._lines_left < 0:
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
