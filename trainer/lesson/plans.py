"""The player's own plan notes to structures, kept in one small file for all repertoires."""

from __future__ import annotations

import json
from pathlib import Path

import chess

from trainer.errors import StemlineError
from trainer.lesson.structures import Found, StructureBook
from trainer.storage.atomic import write_atomically
from trainer.storage.locations import make_directory

#: The file in the user's data folder.
FILE_NAME = "plans.json"


class PlanNotesError(StemlineError):
    """The file of plan notes cannot be read or written."""


class PlanNotes:
    """Notes by structure (`Found.key`). Read once; each change is on the disk before it counts."""

    def __init__(self, path: Path) -> None:
        """Raises `PlanNotesError` where the file is there and cannot be read."""
        self._path = path
        self._notes: dict[str, str] = {}
        try:
            values = json.loads(path.read_text(encoding="utf-8"))
        except (FileNotFoundError, NotADirectoryError):
            return  # what stands in the place of the folder is told by those who need it
        except (OSError, ValueError) as error:
            reason = getattr(error, "strerror", None) or error
            raise PlanNotesError(
                f"The plan notes in {path} cannot be read ({reason}); "
                "mend the file or move it away, and start again."
            ) from error
        if not isinstance(values, dict) or not all(
            isinstance(text, str) for text in values.values()
        ):
            raise PlanNotesError(
                f"The plan notes in {path} are no notes by structure; "
                "mend the file or move it away, and start again."
            )
        self._notes = values

    @property
    def empty(self) -> bool:
        """Whether there is no note at all."""
        return not self._notes

    def of(self, found: Found) -> str:
        """The note to a structure, empty where there is none."""
        return self._notes.get(found.key, "")

    def keep(self, found: Found, text: str) -> None:
        """Keep a note; an empty one takes it away.

        Raises `PlanNotesError` where the file cannot be written; the note before stands then.
        """
        notes = {**self._notes, found.key: text.strip()}
        notes = {key: note for key, note in sorted(notes.items()) if note}
        make_directory(self._path.parent, PlanNotesError)
        data = json.dumps(notes, ensure_ascii=False, indent=1).encode()
        try:
            write_atomically(self._path, data)
        except OSError as error:
            raise PlanNotesError(
                f"The plan note cannot be written to {self._path} "
                f"({error.strerror or error}); it is kept only until the window closes."
            ) from error
        self._notes = notes

    def at(self, board: chess.Board, book: StructureBook) -> list[str]:
        """The notes to the structures of a position, the closest structure first."""
        return [note for one in book.find(board) if (note := self.of(one))]
