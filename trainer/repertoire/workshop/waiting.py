"""How much a journal holds that was not saved, as the player counts it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from trainer.repertoire.workshop.journal import Line, read_journal


@dataclass(frozen=True)
class Left:
    """What an earlier window left: so many steps, and whether the journal is damaged."""

    steps: int
    damaged: bool


def look_for_left(path: Path) -> Left:
    """What the journal at `path` holds; one that holds nothing of use is removed.

    Raises `JournalError`.
    """
    contents = read_journal(path)
    steps = _steps(contents.lines)
    if not steps and contents.problem is None:
        path.unlink(missing_ok=True)
    return Left(steps, contents.problem is not None)


def unsaved_steps(path: Path) -> int:
    """By how many steps the journal at `path` is away from what was saved last.

    A step that was made and taken back again counts for nothing, unlike with `waiting_edits`.
    Raises `JournalError`.
    """
    return _steps(read_journal(path).lines)


def _steps(lines: list[Line]) -> int:
    done: list[int] = []
    undone: list[int] = []
    saved: list[int] = []
    for number, line in enumerate(lines):
        if "do" in line:
            done.append(number)
            undone.clear()
        elif "undo" in line and done:
            undone.append(done.pop())
        elif "redo" in line and undone:
            done.append(undone.pop())
        elif "saved" in line:
            saved = list(done)
    common = 0
    for mine, theirs in zip(done, saved, strict=False):
        if mine != theirs:
            break
        common += 1
    return len(done) + len(saved) - 2 * common
