"""What is imported beside Qt is imported, and not read once more."""

from __future__ import annotations

import subprocess
import sys

_COUNT_READ = """
import inspect
import PySide6.QtWidgets
{first}
read = []
getsource = inspect.getsource
inspect.getsource = lambda thing: read.append(thing) or getsource(thing)
import csv, trainer.notation.display
print(len(read))
"""


def sources_read(first: str) -> int:
    """How many sources PySide reads while two modules are imported after `first`."""
    done = subprocess.run(
        [sys.executable, "-c", _COUNT_READ.format(first=first)],
        capture_output=True,
        text=True,
        check=True,
    )
    return int(done.stdout)


def test_no_source_is_read_for_features_that_nothing_uses():
    assert sources_read("import trainer.ui") == 0


def test_pyside_still_asks_by_the_name_that_is_changed():
    # Fails once PySide stops reading sources: then `plain_imports` can go.
    assert sources_read("") > 0
