"""Searching on the map: the field above it, what was found, and which of it is shown."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from trainer.ui.map.bar import MapBar
from trainer.ui.map.search import Found, Results, find, sorted_on

if TYPE_CHECKING:
    import chess

    from trainer.repertoire.openings import OpeningBook
    from trainer.storage.settings import Settings
    from trainer.ui.look import Look
    from trainer.ui.map.scene import Scene


class MapFinder(QObject):
    """Searches the scene that is drawn, by words or by a position set up on a board."""

    changed = Signal()
    """Other positions are found than before."""
    shown = Signal(int)
    """The position with this number is to be shown."""
    said = Signal(str)
    """What is to be said of the search in a sentence; nothing where it says all by itself."""

    def __init__(self, bar: MapBar, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._bar = bar
        self._scene: Scene | None = None
        self._book: OpeningBook | None = None
        self._results = Results()
        bar.searched.connect(self.search)
        bar.search.returnPressed.connect(self.show_next)
        bar.previous.clicked.connect(self.show_previous)
        bar.next.clicked.connect(self.show_next)

    @property
    def numbers(self) -> tuple[int, ...]:
        """The positions found, left to right."""
        return self._results.found.numbers

    def set_scene(self, scene: Scene, book: OpeningBook | None) -> None:
        """Search in another drawing; what stands in the field is searched again."""
        self._scene, self._book = scene, book
        if self._bar.search.text():
            self.search()

    def clear(self) -> None:
        """Forget the drawing and what was searched."""
        self._scene = None
        self._results = Results()
        self._bar.clear()

    def search(self) -> None:
        """Look for what stands in the field."""
        if self._scene is None:
            return
        found = find(self._scene.plan, self._bar.search.text(), self._book)
        self._take(sorted_on(found, self._scene.layout))

    def _take(self, found: Found) -> None:
        before = self._results.found.note
        self._results = self._results.renewed(found)
        self._bar.show_count(self._results.sentence())
        if found.note or before:
            self.said.emit(found.note)
        self.changed.emit()

    def show_next(self) -> None:
        """Show the next position that was found."""
        self._step(1)

    def show_previous(self) -> None:
        """Show the position before that was found."""
        self._step(-1)

    def _step(self, step: int) -> None:
        self._bar.search_now()
        number = self._results.step(step)
        self._bar.show_count(self._results.sentence())
        if number is not None:
            self.shown.emit(number)

    def set_up(self, settings: Settings, look: Look, board: chess.Board | None) -> None:
        """Let the player set up a position, beginning at `board`, and go to it on the map."""
        from trainer.ui.setup.dialog import ask_for_position

        wanted = ask_for_position(
            self._bar.window(), settings, look, board, title="Find a position", button="&Find"
        )
        if wanted is None or self._scene is None:
            return
        self._bar.search.setText(wanted.fen(en_passant="legal"))
        self._bar.search.setCursorPosition(0)
        self.show_next()
