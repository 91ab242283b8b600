"""A leash for a program that may not end by itself: it never outlives this one.

An engine ends when its standard input does, which is when this program is gone, however it
went; but one that hangs, or that ignores the end of its input, would stay for ever. So a shell,
too small to fail, stands in the engine's process group and waits at a pipe that only this
program holds open. When the pipe ends, it kills the group: the engine, whatever that has
started, and itself.

Why so: the kernel's own signal at the death of a parent exists on Linux only, is sent when the
*thread* ends that made the process, reaches no grandchild, and needs code to run between fork
and exec in a program of many threads. As long as the shell lives, the number of the group
cannot be given to strangers.
"""

from __future__ import annotations

import contextlib
import subprocess
import sys
from typing import Final

#: What a terminal or a desktop says to programs at the end of a session is not for the watcher.
_WATCH: Final = "trap '' HUP INT QUIT TERM; read -r _; kill -s KILL 0"
#: Seconds that a killed shell has to be gone.
_GONE: Final = 2.0


class Leash:
    """Holds the process group that `leader` leads; used from one thread at a time.

    Between the start of the leader and this moment it is not held yet. On Windows, which has no
    process groups of this kind, and where no shell can be started, nothing is held: there the end
    of its input alone tells an engine to end.
    """

    def __init__(self, leader: int) -> None:
        self._watcher: subprocess.Popen[bytes] | None = None
        if sys.platform != "win32":
            # The leader may be gone already: then there is nothing to hold.
            with contextlib.suppress(OSError):
                self._watcher = subprocess.Popen(
                    ["/bin/sh", "-c", _WATCH],
                    stdin=subprocess.PIPE,
                    stdout=subprocess.DEVNULL,
                    stderr=subprocess.DEVNULL,
                    cwd="/",
                    process_group=leader,
                )

    def close(self) -> None:
        """End what is left of the group, the shell with it. Never raises.

        The leader should have ended before, or be killed by this.
        """
        watcher, self._watcher = self._watcher, None
        if watcher is None:
            return
        assert watcher.stdin is not None
        with contextlib.suppress(OSError):
            watcher.stdin.close()
        try:
            watcher.wait(_GONE)
        except subprocess.TimeoutExpired:
            watcher.kill()
            watcher.wait()
