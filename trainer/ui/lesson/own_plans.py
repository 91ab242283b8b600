"""The player's own plans, for the place Lesson and for the drill."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING

from trainer.errors import StemlineError

if TYPE_CHECKING:
    import chess

    from trainer.lesson.plans import PlanNotes
    from trainer.lesson.structures import StructureBook


class OwnPlans:
    """Read when they are first asked for, so that the start of the window does not wait."""

    def __init__(self, data_folder: Path) -> None:
        self._folder = data_folder
        self._notes: PlanNotes | None = None
        self._book: StructureBook | None = None
        self._turn = Lock()

    def notes(self) -> PlanNotes:
        """The notes. Raises `PlanNotesError` where their file cannot be read."""
        with self._turn:
            if self._notes is None:
                from trainer.lesson.plans import FILE_NAME, PlanNotes

                self._notes = PlanNotes(self._folder / FILE_NAME)
            return self._notes

    def prepare(self) -> None:
        """Read all that `at` needs; for a worker thread, since it takes longer than a frame."""
        with suppress(StemlineError):
            self.notes()
            self._structures()

    def _structures(self) -> StructureBook:
        with self._turn:
            if self._book is None:
                from trainer.lesson.structure_file import load_structures

                self._book = load_structures()
            return self._book

    def at(self, board: chess.Board) -> list[str]:
        """The plans for the structures of a position, as paragraphs of a note.

        A file that cannot be read is told of in the place Lesson; a drill goes on without it.
        """
        from trainer.repertoire.notes import NoteKind, lead

        try:
            notes, book = self.notes(), self._structures()
        except StemlineError:
            return []
        return [f"{lead(NoteKind.PLAN)} {note}" for note in notes.at(board, book)]
