"""What the progress file, if there is one, has of a repertoire; it is only read."""

from __future__ import annotations

import contextlib
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trainer.repertoire.reader import LoadedRepertoire
    from trainer.storage.answers import Answer


def kept_answers(loaded: LoadedRepertoire) -> list[Answer]:
    """The answers that stand; none where there is no file that can be read."""
    from trainer.errors import ProgressError
    from trainer.storage.locations import find_locations
    from trainer.storage.progress import ProgressStore
    from trainer.storage.settings import utc_now

    path = find_locations().progress_file
    if not path.exists() or loaded.path is None:
        return []
    repertoire = loaded.repertoire
    with (
        contextlib.suppress(ProgressError),
        ProgressStore.open(path, read_only=True, clock=utc_now) as store,
    ):
        keys = [node.key for node in repertoire.decisions()]
        return store.answers(store.identify(loaded.path, repertoire.side, keys))
    return []
