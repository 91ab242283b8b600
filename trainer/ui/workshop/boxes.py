"""What the workshop asks the player in boxes, and the words of it."""

from __future__ import annotations

from enum import Enum, auto
from pathlib import Path

from PySide6.QtWidgets import QFileDialog, QMessageBox, QWidget

from trainer.notation.numbers import count
from trainer.ui.message import Role, ask, message_box
from trainer.ui.naming import with_ending

_FILTER = "Repertoires in PGN (*.pgn);;All files (*)"


class Waiting(Enum):
    """What is to become of edits that were left from last time."""

    BRING_BACK = auto()
    GIVE_UP = auto()
    KEEP = auto()


class Unsaved(Enum):
    """What is to become of edits that are not saved."""

    SAVE = auto()
    DISCARD = auto()
    CANCEL = auto()


class Elsewhere(Enum):
    """What to do about a file that another program changed."""

    SAVE_AS = auto()
    READ_ANEW = auto()
    CANCEL = auto()


def ask_about_waiting(parent: QWidget, name: str, steps: int) -> Waiting:
    """Edits were not saved when the program ended last."""
    box = message_box(
        parent,
        "Edits that were not saved",
        f"{count(steps, 'edit')} of {name} {'was' if steps == 1 else 'were'} not saved when "
        "Stemline ended. Bring them back?",
        more="Kept for later, they are offered again the next time, unless the repertoire is "
        "edited until then.",
        icon=QMessageBox.Icon.Question,
    )
    answers = {
        Waiting.BRING_BACK: ("&Bring back", Role.AcceptRole),
        Waiting.GIVE_UP: ("&Give up", Role.DestructiveRole),
        Waiting.KEEP: ("&Keep for later", Role.RejectRole),
    }
    return ask(box, answers, default=Waiting.BRING_BACK, escape=Waiting.KEEP)


def ask_about_unsaved(parent: QWidget, name: str) -> Unsaved:
    """The file is being left with edits that are not in it."""
    box = message_box(
        parent,
        "Not saved",
        f"{name} has edits that are not saved. Save them?",
        icon=QMessageBox.Icon.Question,
    )
    answers = {
        Unsaved.SAVE: ("&Save", Role.AcceptRole),
        Unsaved.DISCARD: ("&Discard", Role.DestructiveRole),
        Unsaved.CANCEL: ("&Cancel", Role.RejectRole),
    }
    return ask(box, answers, default=Unsaved.SAVE, escape=Unsaved.CANCEL)


def ask_about_change(parent: QWidget, sentence: str) -> Elsewhere:
    """The file is not the one that was read any more."""
    box = message_box(
        parent,
        "The file was changed",
        sentence,
        more="Reading it anew gives up the edits that are not saved.",
        icon=QMessageBox.Icon.Warning,
    )
    answers = {
        Elsewhere.SAVE_AS: ("Save as &another file …", Role.AcceptRole),
        Elsewhere.READ_ANEW: ("&Read the file anew", Role.DestructiveRole),
        Elsewhere.CANCEL: ("&Cancel", Role.RejectRole),
    }
    return ask(box, answers, default=Elsewhere.SAVE_AS, escape=Elsewhere.CANCEL)


def ask_about_unread(parent: QWidget, name: str, places: int) -> Unsaved:
    """Saving would leave out what could not be read; DISCARD stands for another file here."""
    them = "it" if places == 1 else "them"
    box = message_box(
        parent,
        "Not all of the file was read",
        f"{count(places, 'place')} of {name} could not be read, so the saved file will not have "
        f"{them}.",
        more=f"The file as it is now stays as {name}.bak.",
        icon=QMessageBox.Icon.Warning,
    )
    answers = {
        Unsaved.SAVE: ("&Save all the same", Role.AcceptRole),
        Unsaved.DISCARD: ("Save as &another file …", Role.ActionRole),
        Unsaved.CANCEL: ("&Cancel", Role.RejectRole),
    }
    return ask(box, answers, default=Unsaved.DISCARD, escape=Unsaved.CANCEL)


def ask_to_delete(parent: QWidget, move: str, sentence: str) -> bool:
    """Whether to delete a move with what hangs on it."""
    box = message_box(
        parent,
        f"Delete {move}?",
        sentence,
        more="It can be undone.",
        icon=QMessageBox.Icon.Question,
    )
    answers = {True: ("&Delete", Role.AcceptRole), False: ("&Keep", Role.RejectRole)}
    return ask(box, answers, default=True, escape=False)


def ask_where_to_save(parent: QWidget, path: Path | None) -> Path | None:
    """The file the player chooses, or None. Raises `NameTakenError`."""
    folder = str(path) if path is not None else str(Path.home())
    name, _kind = QFileDialog.getSaveFileName(parent, "Save the repertoire as", folder, _FILTER)
    return with_ending(name, ".pgn") if name else None
