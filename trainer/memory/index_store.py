"""Where review indices are kept: the usual one is shipped, others are computed once and cached."""

from __future__ import annotations

import contextlib
import hashlib
import io
import zipfile
import zlib
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import Final

import numpy as np

from trainer.memory.model import PARAMETERS
from trainer.memory.plan import Timing
from trainer.memory.review_index import GRID, ReviewIndex, compute_review_index
from trainer.resources import resource_path
from trainer.storage.atomic import write_atomically

#: Where the index of the published parameters lies among the shipped files.
SHIPPED: Final = ("memory", "review-index.npz")


class IndexStore:
    """Review indices by parameter set, kept in a folder of the cache (none where None)."""

    def __init__(self, cache: Path | None) -> None:
        self._folder = None if cache is None else cache / "review-index"
        self._loaded: dict[tuple[float, ...], ReviewIndex] = {}

    def index_for(self, parameters: Sequence[float] = PARAMETERS) -> ReviewIndex:
        """The index of these parameters; computed (seconds) where it was never asked for.

        A cached file that cannot be read is computed anew; one that cannot be written is not
        kept.
        """
        key = tuple(float(parameter) for parameter in parameters)
        if key not in self._loaded:
            self._loaded[key] = self._find(key)
        return self._loaded[key]

    def _find(self, key: tuple[float, ...]) -> ReviewIndex:
        if key == tuple(PARAMETERS):
            return shipped_index()
        path = None if self._folder is None else self._folder / f"{_name(key)}.npz"
        if path is not None:
            with contextlib.suppress(OSError, ValueError):
                return read_index(path.read_bytes())
        index = compute_review_index(key)
        if path is not None:
            with contextlib.suppress(OSError):
                path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
                write_atomically(path, write_index(index))
        return index


@cache
def shipped_index() -> ReviewIndex:
    """The index of the published parameters. Raises `ResourceMissingError`."""
    return read_index(resource_path(*SHIPPED).read_bytes())


def write_index(index: ReviewIndex) -> bytes:
    """An index as the bytes of a numpy archive, in single precision."""
    buffer = io.BytesIO()
    np.savez_compressed(
        buffer, log_index=index.log_index.astype(np.float32), new=np.array([index.new])
    )
    return buffer.getvalue()


def read_index(data: bytes) -> ReviewIndex:
    """The inverse of `write_index`. Raises `ValueError` for bytes that are nothing of the kind."""
    try:
        with np.load(io.BytesIO(data), allow_pickle=False) as archive:
            log_index = archive["log_index"].astype(np.float64)
            new = float(archive["new"][0])
    except (OSError, KeyError, IndexError, EOFError, zipfile.BadZipFile, zlib.error) as error:
        raise ValueError("no review index") from error
    if log_index.shape != GRID or not np.isfinite(log_index).all():
        raise ValueError("a review index on another grid")
    return ReviewIndex(log_index, new)


def _name(key: tuple[float, ...]) -> str:
    timing = Timing()
    said = repr((key, timing.right, timing.wrong, GRID))
    return hashlib.sha256(said.encode()).hexdigest()[:16]
