"""How long the player has thought, without the pauses."""

from __future__ import annotations

import time
from collections.abc import Callable


class Stopwatch:
    """Counts seconds from `start`; `pause` and `resume` stop and go on."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._counted = 0.0
        self._since: float | None = None

    def start(self) -> None:
        """Begin anew at zero."""
        self._counted = 0.0
        self._since = self._clock()

    def pause(self) -> None:
        """Stop counting. Does nothing when it is stopped."""
        if self._since is not None:
            self._counted += self._clock() - self._since
            self._since = None

    def resume(self) -> None:
        """Go on counting. Does nothing when it runs."""
        if self._since is None:
            self._since = self._clock()

    def seconds(self) -> float:
        """The seconds counted so far."""
        running = 0.0 if self._since is None else self._clock() - self._since
        return self._counted + running
