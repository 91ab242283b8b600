"""`stemline engine-check`: the engine's test of a repertoire, on the command line."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from signal import SIGINT, getsignal, signal
from types import FrameType
from typing import Any

from trainer.engine.cache import FILE_NAME, EvaluationCache
from trainer.engine.check import CheckProgress, CheckResult, CheckSettings, check_repertoire
from trainer.engine.evaluator import CachedEvaluator
from trainer.engine.session import Engine, EngineOptions
from trainer.repertoire.graph import Repertoire
from trainer.repertoire.reach import Weigh
from trainer.storage.locations import find_locations

_EVERY = 0.5


def run_check(
    repertoire: Repertoire,
    path: Path,
    options: EngineOptions,
    settings: CheckSettings,
    weigh: Weigh,
) -> tuple[CheckResult, str]:
    """Test `repertoire` with the engine at `path`; what was found and the engine's name.

    Progress is shown on standard error where that is a terminal. Ctrl+C ends the test within 200
    ms with what was found until then. Raises `EngineError`.
    """
    cache = EvaluationCache(find_locations().cache / FILE_NAME)
    try:
        with _interrupts() as interrupted, Engine.start(path, options) as engine:
            evaluate = CachedEvaluator(engine, cache, interrupted)
            result = check_repertoire(repertoire, evaluate, settings, weigh=weigh, told=_teller())
            return result, engine.name
    finally:
        if cache.notice:
            print(f"stemline: {cache.notice}", file=sys.stderr)
        cache.close()


@contextmanager
def _interrupts() -> Iterator[Callable[[], bool]]:
    """Ctrl+C is noted here instead of raised wherever the program happens to be."""
    pressed = False

    def note(_number: int, _frame: FrameType | None) -> None:
        nonlocal pressed
        pressed = True

    before: Any = getsignal(SIGINT)
    signal(SIGINT, note)
    try:
        yield lambda: pressed
    finally:
        signal(SIGINT, before)


def _teller() -> Callable[[CheckProgress], None]:
    shown = sys.stderr.isatty()
    last = 0.0

    def tell(progress: CheckProgress) -> None:
        nonlocal last
        now = time.monotonic()
        over = progress.done == progress.total
        if shown and (over or now - last >= _EVERY):
            last = now
            end = "\n" if over else ""
            print(f"\r{progress.done} of {progress.total}", end=end, file=sys.stderr, flush=True)

    return tell
