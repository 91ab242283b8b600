"""Taking another repertoire file into the open one: read, looked at, asked, done as one step."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QFileDialog, QMessageBox, QWidget

from trainer.repertoire.reader import read_repertoire
from trainer.repertoire.workshop.text import EditError
from trainer.ui.message import message_box
from trainer.ui.sections.words import Arrival, arrival, wrong_side

if TYPE_CHECKING:
    from trainer.notation.display import Notation
    from trainer.ui.tasks import TaskControl, TaskRunner
    from trainer.ui.workshop.workbench import Workbench

_FILTER = "Repertoires in PGN (*.pgn *.PGN);;All files (*)"


class Merger(QObject):
    """One file after the other; what comes of it is told in sentences."""

    said = Signal(str)
    """What is being done, or why it was not; nothing once the player knows it."""
    done_with = Signal(object)
    """The player wants it: this `Merge` is to be made."""
    ended = Signal()
    """Nothing is under way any more."""

    def __init__(
        self, window: QWidget, bench: Workbench, runner: TaskRunner, notation: Notation
    ) -> None:
        super().__init__(window)
        self._window, self._bench, self._runner = window, bench, runner
        self._notation = notation
        self._task: TaskControl | None = None
        bench.destroyed.connect(self.stop)

    def ask(self) -> None:
        """Let the player choose a file, and go on with it."""
        own = self._bench.editor.loaded.path
        folder = str(Path.home() if own is None else own.parent)
        name, _kind = QFileDialog.getOpenFileName(
            self._window, "Merge another repertoire", folder, _FILTER
        )
        if name:
            self.begin(Path(name))
        else:
            self.ended.emit()

    def begin(self, path: Path) -> None:
        """Read a file and find out what it would bring, in the background."""
        self.stop()
        bench, notation = self._bench, self._notation
        repertoire = bench.repertoire

        def work(control: TaskControl) -> Arrival:
            other = read_repertoire(path, progress=control.report, cancelled=control.cancelled)
            if other.side_guessed and other.repertoire.side != repertoire.side:
                other = read_repertoire(path, side=repertoire.side, cancelled=control.cancelled)
            if other.repertoire.side != repertoire.side:
                raise EditError(f"{path.name}: {wrong_side(other.repertoire, repertoire.side)}")
            if not other.repertoire.sections:
                raise EditError(f"{path.name} has no game; choose another file.")
            return arrival(repertoire, other, notation, control.cancelled)

        self.said.emit(f"Reading {path.name} …")
        self._task = self._runner.start(
            work, done=lambda found: self._ask(path, found), failed=self._failed
        )

    def stop(self) -> None:
        """Give up what is being read."""
        if self._task is not None:
            self._task.cancel()
            self._task = None
            self.ended.emit()

    def _failed(self, sentence: str) -> None:
        self._task = None
        self.said.emit(sentence)
        self.ended.emit()

    def _ask(self, path: Path, found: Arrival) -> None:
        self._task = None
        self.said.emit("")
        box = message_box(
            self._window,
            "Merge another repertoire",
            f"{path.name} into this repertoire?" if found.brings else path.name,
            more="\n".join((*found.words, "It can be undone.") if found.brings else found.words),
            icon=QMessageBox.Icon.Question if found.brings else QMessageBox.Icon.Information,
        )
        merge = None
        if found.brings:
            merge = box.addButton("&Merge", QMessageBox.ButtonRole.AcceptRole)
            box.setDefaultButton(merge)
        cancel = box.addButton(
            "&Cancel" if found.brings else "&Close", QMessageBox.ButtonRole.RejectRole
        )
        box.setEscapeButton(cancel)
        box.exec()
        if merge is not None and box.clickedButton() is merge:
            self.done_with.emit(found.edit)
        self.ended.emit()
