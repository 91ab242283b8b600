"""Makes the pages to look at and the files to write, off the thread of the window."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QTimer, Signal

from trainer.ui.lesson.handout_panel import HandoutPanel
from trainer.ui.tasks import TaskControl, TaskRunner

if TYPE_CHECKING:
    from trainer.lesson.handout.model import Lesson
    from trainer.lesson.plans import PlanNotes
    from trainer.lesson.shares import StructureShare
    from trainer.memory.course import Course
    from trainer.ui.lesson.facts import Structures

#: Positions from which on the whole repertoire is not what is offered first.
_LARGE = 5_000

#: A lesson by the coach's name and the date, made when it is asked for.
Make = Callable[[str, datetime.date], "Lesson"]


class Handouts(QObject):
    """What can be handed out of the open repertoire, and of the game that was looked at last."""

    said = Signal(str)

    def __init__(self, runner: TaskRunner, panel: HandoutPanel, notes: PlanNotes) -> None:
        super().__init__(panel)
        self._runner = runner
        self._panel = panel
        self._notes = notes
        self._course: Course | None = None
        self._structures: Structures | None = None
        self._lesson: Lesson | None = None
        self._made: list[tuple[str, Make]] = []
        self._task: TaskControl | None = None
        self._pause = QTimer(self)
        self._pause.setSingleShot(True)
        self._pause.setInterval(50)
        self._pause.timeout.connect(self._preview)
        panel.changed.connect(self._pause.start)
        panel.write_wanted.connect(self._write)

    def show_course(self, course: Course, structures: Structures | None) -> None:
        """Offer the repertoire, its sections and its structures."""
        self._course, self._structures = course, structures
        # The pages of a very large repertoire are laid out only where they are asked for.
        self._offer(1 if len(course.repertoire.nodes) > _LARGE else 0)

    def clear(self) -> None:
        """Offer nothing."""
        if self._task is not None:
            self._task.cancel()
        self._course = self._structures = self._lesson = None
        self._made = []
        self._panel.offer([], -1)

    def choose_structure(self, share: StructureShare) -> None:
        """Hand out a structure."""
        names = [name for name, _ in self._made]
        wanted = f"Structure: {share.found.name}"
        self._panel.offer(names, names.index(wanted) if wanted in names else 0)

    def choose_lesson(self, lesson: Lesson) -> None:
        """Hand out a game or its moments."""
        self._lesson = lesson
        self._offer(None)

    def renew(self) -> None:
        """Make the page that is looked at."""
        self._pause.start()

    def _offer(self, chosen: int | None) -> None:
        course = self._course
        if course is None:
            return
        self._made = [("The whole repertoire", self._of_sections("", course.title))]
        for number, section in enumerate(course.repertoire.sections, start=1):
            self._made.append((f"Section: {section.title}", self._of_sections(str(number), "")))
        for share in self._structures.shares if self._structures is not None else ():
            self._made.append((f"Structure: {share.found.name}", self._of_structure(share)))
        if self._lesson is not None:
            lesson = self._lesson
            self._made.append(
                (
                    f"Game: {lesson.title}",
                    lambda coach, date: replace(lesson, coach=coach, date=date),
                )
            )
        row = len(self._made) - 1 if chosen is None else chosen
        self._panel.offer([name for name, _ in self._made], row)

    def _of_sections(self, wanted: str, title: str) -> Make:
        course = self._course
        assert course is not None

        def make(coach: str, date: datetime.date) -> Lesson:
            from trainer.lesson.build import chosen_sections, lesson_of_sections
            from trainer.lesson.structure_file import load_structures

            book = self._structures.book if self._structures is not None else load_structures()
            sections = chosen_sections(course.repertoire, wanted)
            return lesson_of_sections(
                course.repertoire, sections, book, title=title, coach=coach, date=date
            )

        return make

    def _of_structure(self, share: StructureShare) -> Make:
        course = self._course
        assert course is not None

        def make(coach: str, date: datetime.date) -> Lesson:
            from trainer.lesson.build import lesson_of_structure

            notes = self._notes.of(share.found)
            return lesson_of_structure(
                course.repertoire, share, notes=notes, coach=coach, date=date
            )

        return make

    def _chosen(self) -> Make | None:
        row = self._panel.what.currentIndex()
        return self._made[row][1] if 0 <= row < len(self._made) else None

    def _preview(self) -> None:
        make = self._chosen()
        if make is None or not self._panel.isVisible():
            return
        if self._task is not None:
            self._task.cancel()
        coach, paper = self._panel.coach.text().strip(), self._panel.chosen_paper
        date = self._panel.chosen_date
        page, width = self._panel.page, self._panel.page_width()

        def work(_control: TaskControl) -> tuple[bytes, int]:
            from trainer.lesson.handout.pdf import lesson_page

            return lesson_page(make(coach, date), paper, page=page, width=width)

        self._task = self._runner.start(
            work, done=lambda made: self._panel.show_page(*made), failed=self._panel.say
        )

    def _write(self, path: Path) -> None:
        make = self._chosen()
        if make is None:
            return
        coach, paper = self._panel.coach.text().strip(), self._panel.chosen_paper
        date = self._panel.chosen_date
        self._panel.say("Writing …")
        spare = [self._course.path] if self._course is not None else []

        def work(_control: TaskControl) -> list[Path]:
            from trainer.lesson.handout.writing import write_lesson

            return write_lesson(path, make(coach, date), paper, spare=spare)

        self._runner.start(work, done=self._written, failed=self._panel.say)

    def _written(self, paths: list[Path]) -> None:
        more = f" and {len(paths) - 1} more" if paths[1:] else ""
        sentence = f"Written: {paths[0]}{more}."
        self._panel.say(sentence)
        self.said.emit(sentence)
