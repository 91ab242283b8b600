"""What the start of the window may not wait for."""

from __future__ import annotations

import subprocess
import sys

SLOW = ("chess", "numpy", "sqlite3", "fsrs", "cairosvg")


def test_the_window_stands_before_the_slow_modules_are_loaded() -> None:
    """`painted` comes from the first paint; only then is a repertoire opened."""
    script = f"""
import sys
from PySide6.QtWidgets import QApplication
from trainer.storage.locations import find_locations
from trainer.storage.log import BugLog
from trainer.ui.app import build_window

app = QApplication([])
locations = find_locations()
window = build_window(app, locations, BugLog(locations.log_file))
seen = []
window.painted.connect(lambda: (seen.extend(n for n in {SLOW!r} if n in sys.modules), app.quit()))
window.show()
app.exec()
print(seen)
window.close()
"""
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, timeout=120, check=False
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == "[]", done.stdout
