"""What the window must tell about a repertoire that was read, in sentences."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QWidget

from trainer.notation.numbers import count
from trainer.ui.message import message_box

if TYPE_CHECKING:
    from trainer.memory.course import Course

_REPORT_LINES = 12


def notice(course: Course, of_progress: str) -> str:
    """What the player must know: about the progress file, then about the repertoire."""
    sentences = [of_progress]
    skipped = course.loaded.skipped
    if skipped:
        first = skipped[0]
        more = f" ({len(skipped) - 1} more: File, What was not read)" if skipped[1:] else ""
        sentences.append(
            f"{course.path.name}, game {first.game}, line {first.line}: {first.reason}{more}"
        )
    conflicts = len(course.repertoire.conflicts())
    if conflicts:
        sentences.append(
            f"{count(conflicts, 'position')} of this repertoire "
            f"{'has' if conflicts == 1 else 'have'} two main moves in different sections; "
            "the first one is asked."
        )
    return " ".join(sentence for sentence in sentences if sentence)


def show_unread(window: QWidget, course: Course) -> None:
    """All places of the file that could not be read, in a box."""
    lines = [
        f"Game {skipped.game}, line {skipped.line}: {skipped.reason}"
        for skipped in course.loaded.skipped
    ]
    first = lines[:_REPORT_LINES]
    if len(lines) > _REPORT_LINES:
        first.append(f"and {len(lines) - _REPORT_LINES} more, among the details")
    text = f"The rest of {course.path.name} was read."
    box = message_box(window, "What was not read", text, more="\n".join(first))
    box.setDetailedText("\n".join(lines))
    box.exec()
