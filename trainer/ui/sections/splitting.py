"""Taking chosen sections out into a file of their own."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QFileDialog, QMessageBox, QWidget

from trainer.notation.numbers import count
from trainer.repertoire.workshop.edits import DeleteSections
from trainer.repertoire.workshop.merging import extract_sections
from trainer.repertoire.workshop.results import Removed, Result
from trainer.repertoire.writer import save_repertoire
from trainer.ui.message import Role, ask, message_box
from trainer.ui.naming import NameTakenError, with_ending
from trainer.ui.sections.words import deletion_sentence

if TYPE_CHECKING:
    from trainer.ui.tasks import TaskControl, TaskRunner
    from trainer.ui.workshop.workbench import Workbench


class Splitter(QObject):
    """Writes sections to a new file, then offers to delete them here."""

    said = Signal(str)

    def __init__(self, window: QWidget, bench: Workbench, runner: TaskRunner) -> None:
        super().__init__(window)
        self._window, self._bench, self._runner = window, bench, runner
        self._task: TaskControl | None = None

    def ask(self, numbers: tuple[int, ...]) -> None:
        """Let the player choose a file for these sections (from 0), and write it."""
        own = self._bench.editor.loaded.path
        title = self._bench.repertoire.sections[numbers[0]].title
        name = "".join(sign for sign in title if sign.isalnum() or sign in " -_").strip()
        suggested = (Path.home() if own is None else own.parent) / f"{name or 'section'}.pgn"
        chosen, _kind = QFileDialog.getSaveFileName(
            self._window, "Sections to a new file", str(suggested), "Repertoires in PGN (*.pgn)"
        )
        if not chosen:
            return
        try:
            self.begin(numbers, with_ending(chosen, ".pgn"))
        except NameTakenError as error:
            self.said.emit(str(error))

    def begin(self, numbers: tuple[int, ...], path: Path) -> None:
        """Write the sections to `path` in the background."""
        own = self._bench.editor.loaded.path
        if own is not None and own.resolve() == path.resolve():
            self.said.emit(f"{path.name} is the repertoire that is open; choose another name.")
            return
        repertoire, revision = self._bench.repertoire, self._bench.revision

        def work(_control: TaskControl) -> None:
            part = extract_sections(repertoire, numbers)
            save_repertoire(part, path, expected=None)
            part.dismantle()

        self.said.emit(f"Writing {path.name} …")
        self._task = self._runner.start(
            work,
            done=lambda _none: self._written(numbers, path, revision),
            failed=self.said.emit,
        )

    def stop(self) -> None:
        """Ask for nothing any more; what is being written is written."""
        if self._task is not None:
            self._task.cancel()

    def _written(self, numbers: tuple[int, ...], path: Path, revision: int) -> None:
        self.said.emit(f"{count(len(numbers), 'section')} written to {path.name}.")
        # With all of them gone nothing would be left, and after an edit the numbers may differ.
        all_of_them = len(numbers) == len(self._bench.repertoire.sections)
        if not all_of_them and self._bench.revision == revision:
            edit = DeleteSections(numbers)
            self._bench.preview(edit, lambda result: self._offer(edit, path, result))

    def _offer(self, edit: DeleteSections, path: Path, removed: Result) -> None:
        assert isinstance(removed, Removed)
        box = message_box(
            self._window,
            "Sections to a new file",
            f"{count(len(edit.sections), 'section')} written to {path.name}. Delete here what "
            "is there now?",
            more=f"{deletion_sentence(removed)} It can be undone.",
            icon=QMessageBox.Icon.Question,
        )
        answers = {True: ("&Delete here", Role.AcceptRole), False: ("&Keep", Role.RejectRole)}
        if ask(box, answers, default=False, escape=False):
            self._bench.do(edit)
