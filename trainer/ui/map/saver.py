"""Saving the whole map: where to, and in the background."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QFileDialog, QWidget

from trainer.ui.look import Look
from trainer.ui.map.export import FORMATS, export_map
from trainer.ui.naming import NameTakenError, with_ending
from trainer.ui.theme import LIGHT, system_sans, system_serif

if TYPE_CHECKING:
    from trainer.ui.map.scene import Scene
    from trainer.ui.tasks import TaskControl

_FILTERS = {"SVG (*.svg)": ".svg", "PDF (*.pdf)": ".pdf"}


class MapSaver(QObject):
    """In ink on light paper, whatever the window looks like."""

    said = Signal(str)
    """What is being done, what was done, or why not."""

    def __init__(self, start: Callable[..., TaskControl], window: QWidget) -> None:
        super().__init__(window)
        self._start, self._window = start, window

    def ask(self, suggested: Path) -> Path | None:
        """The file that the player chooses; its kind is that of the filter where he names none."""
        name, kind = QFileDialog.getSaveFileName(
            self._window, "Save the map", str(suggested), ";;".join(_FILTERS)
        )
        if not name:
            return None
        try:
            return with_ending(name, _FILTERS.get(kind, FORMATS[0]), FORMATS)
        except NameTakenError as error:
            self.said.emit(str(error))
            return None

    def save(self, scene: Scene, title: str, look: Look, path: Path) -> None:
        """Write all of a scene."""
        paper = Look(LIGHT, look.notation, 1.0, look.flipped)
        families = (system_serif(), system_sans())
        self.said.emit("Saving the map …")
        self._start(
            lambda _control: export_map(scene, paper, title, families, path),
            done=lambda _none: self.said.emit(f"The map is saved as {path}."),
            failed=self.said.emit,
        )
