"""The type of the fixture `stemline`, which runs the program as its own process."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Mapping
from typing import Protocol


class RunStemline(Protocol):
    """Runs `stemline` with `args` and waits for its end.

    `input` is what is typed; without it standard input is empty. `env` is added to the
    environment of the test, in which home, settings and progress are empty and private.
    """

    def __call__(
        self,
        *args: str | os.PathLike[str],
        input: str | None = None,  # noqa: A002 - as subprocess.run calls it
        env: Mapping[str, str] | None = None,
    ) -> subprocess.CompletedProcess[str]: ...
