"""The files that were open lately, in a menu."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from PySide6.QtWidgets import QMenu, QWidget

from trainer.storage.settings import Settings


class RecentMenu(QMenu):
    """Lists files by their names and opens the one that is chosen."""

    def __init__(self, choose: Callable[[Path], None], parent: QWidget) -> None:
        super().__init__("Open &recent", parent)
        self._choose = choose
        self.setToolTipsVisible(True)

    def show_files(self, names: Sequence[str]) -> None:
        """Fill the menu, the last one first."""
        self.clear()
        for number, name in enumerate(names, start=1):
            action = self.addAction(f"&{number} {Path(name).name.replace('&', '&&')}")
            action.triggered.connect(lambda _checked=False, name=name: self._choose(Path(name)))
            action.setToolTip(name)
        self.setEnabled(bool(names))


def without_file(settings: Settings, path: Path) -> dict[str, object]:
    """The fields of the settings that change when a file is to be forgotten."""
    name = str(path.resolve())
    kept = tuple(other for other in settings.recent_files if other != name)
    last = None if settings.last_file == name else settings.last_file
    return {"recent_files": kept, "last_file": last}
