"""Engines that are installed already: looked for by name, never started."""

from __future__ import annotations

import os
import shutil
from collections.abc import Mapping
from pathlib import Path
from typing import Final

from trainer.errors import EngineError

#: Free UCI engines under the names of their programs; any other is chosen as a file.
NAMES: Final = (
    "stockfish",
    "berserk",
    "ethereal",
    "fairy-stockfish",
    "lc0",
    "rubichess",
    "toga2",
    "fruit",
    "glaurung",
)
#: Where Debian keeps games, which is not on every PATH.
_BESIDES: Final = ("/usr/games", "/usr/local/games")


def installed_engines(environ: Mapping[str, str] = os.environ) -> list[Path]:
    """The engines on PATH and in the usual folders for games, in the order of `NAMES`."""
    places = os.pathsep.join((environ.get("PATH", os.defpath), *_BESIDES))
    found = (shutil.which(name, path=places) for name in NAMES)
    return [Path(path) for path in found if path is not None]


def engine_to_use(chosen: str | None, environ: Mapping[str, str] = os.environ) -> Path:
    """The engine chosen, by a path or by the name of a program, else the first one installed.

    Raises `EngineError` where there is none.
    """
    if chosen:
        path = Path(chosen).expanduser()
        if path.is_file():
            return path
        named = shutil.which(chosen, path=os.pathsep.join((environ.get("PATH", ""), *_BESIDES)))
        if named is None or os.sep in chosen:
            raise EngineError(
                f"There is no engine at {chosen}; give the path of a program that speaks UCI."
            )
        return Path(named)
    installed = installed_engines(environ)
    if not installed:
        raise EngineError(
            "No chess engine is installed where programs are looked for; install one that speaks "
            "UCI, or choose its file."
        )
    return installed[0]
