"""Behind the page Memory: asks the library in the background and passes on what was found."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QDialog, QWidget

from trainer.ui.look import Look
from trainer.ui.memory import words
from trainer.ui.memory.exercise_dialog import MOVES_BEFORE, ExerciseDialog
from trainer.ui.memory.page import MemoryPage
from trainer.ui.tasks import TaskControl, TaskRunner

if TYPE_CHECKING:
    from trainer.memory.course import Course
    from trainer.memory.fitting import Fit
    from trainer.memory.outlook import Readiness
    from trainer.memory.session import DrillSession
    from trainer.ui.memory.facts import Choice, MemoryFacts


class MemoryDesk(QObject):
    """The page, and what happens on it."""

    left = Signal()
    #: An exercise is to be begun: what opens its session, and whether the board stays behind.
    exercise = Signal(object, bool)
    #: Settings to be kept, by name.
    changed = Signal(object)
    decision_chosen = Signal(object)

    def __init__(self, parent: QWidget, runner: TaskRunner, look: Look) -> None:
        super().__init__(parent)
        self._window = parent
        self._runner = runner
        self._look = look
        self._course: Course | None = None
        self._facts: MemoryFacts | None = None
        self._before_fit: tuple[float, ...] | None = None
        self._looking: TaskControl | None = None
        self._readying: TaskControl | None = None
        self.page = MemoryPage(look)
        self.page.back.connect(self.left)
        self.page.decision_chosen.connect(self.decision_chosen)
        self.page.fit_wanted.connect(self._fit)
        self.page.undo_wanted.connect(self._undo)
        self.page.exercise_wanted.connect(self.choose_exercise)
        self.page.cost_wanted.connect(self._tell_cost)
        self.page.tournament_set.connect(self._set_tournament)

    def set_look(self, look: Look) -> None:
        """Draw in another theme."""
        self._look = look
        self.page.set_look(look)

    def know(self, course: Course) -> None:
        """Exercises are chosen from this course."""
        if course is not self._course:
            self._before_fit = None
            self.page.undo_button.hide()
            self._facts = None
        self._course = course

    def show(self, course: Course) -> None:
        """Show the memory of a course, as it is now."""
        self.know(course)
        self._facts = None
        day = course.settings.tournament_day
        left = course.days_to_tournament
        today = date.fromordinal(course.today_number)
        tournament = date.fromisoformat(day) if day is not None and left is not None else None
        self.page.begin([one.title for one in course.repertoire.sections], today, tournament)
        self._look_up()
        if tournament is not None:
            self._tell_ready(tournament, -1)

    def _look_up(self) -> None:
        course = self._course
        if course is None:
            return

        def find(_control: TaskControl) -> MemoryFacts:
            from trainer.ui.memory.facts import find_facts

            return find_facts(course)

        if self._looking is not None:
            self._looking.cancel()
        self._looking = self._start(find, self._found, self.page.fitted.setText)

    def _start(
        self,
        work: Callable[[TaskControl], Any],
        done: Callable[[Any], None],
        failed: Callable[[str], None],
    ) -> TaskControl:
        course = self._course

        def finished(result: Any) -> None:
            if course is self._course:
                done(result)

        return self._runner.start(work, done=finished, failed=failed)

    def _found(self, facts: MemoryFacts) -> None:
        self._looking = None
        self._facts = facts
        self.page.show_facts(facts, self._look)

    # -- fitting -----------------------------------------------------------------------------

    def _fit(self) -> None:
        course = self._course
        if course is None:
            return

        def work(_control: TaskControl) -> Fit:
            from trainer.ui.memory.facts import try_fit

            found = try_fit(course)
            if found.better:
                course.indexes.index_for(found.parameters)
            return found

        self.page.fit_button.setEnabled(False)
        self.page.fitted.setText("Fitting the model to your answers …")
        self._start(work, self._fitted, self._not_fitted)

    def _fitted(self, found: Fit) -> None:
        course = self._course
        assert course is not None
        self.page.fit_button.setEnabled(True)
        self.page.fitted.setText(words.fit_sentence(found))
        if found.better:
            self._before_fit = tuple(course.states.model.parameters)
            self._use(found.parameters)
            self.page.undo_button.show()

    def _not_fitted(self, sentence: str) -> None:
        self.page.fit_button.setEnabled(True)
        self.page.fitted.setText(sentence)

    def _undo(self) -> None:
        if self._before_fit is None:
            return
        before, self._before_fit = self._before_fit, None
        self.page.undo_button.hide()
        self.page.fitted.setText("The parameters from before the fit are in use again.")
        self._use(before)

    def _use(self, parameters: tuple[float, ...]) -> None:
        course = self._course
        assert course is not None
        self._start(
            lambda _control: course.use_parameters(parameters),
            lambda _nothing: self._look_up(),
            self.page.fitted.setText,
        )

    # -- the weeks ahead ---------------------------------------------------------------------

    def _tell_cost(self, number: int) -> None:
        course = self._course
        if course is None or number < 1:
            self.page.cost.setText("")
            return
        section = course.repertoire.sections[number - 1]
        retention = course.settings.desired_retention

        def work(_control: TaskControl) -> float:
            from trainer.ui.memory.facts import section_cost

            return section_cost(course, section, retention)

        self.page.cost.setText("…")
        self._start(
            work,
            lambda minutes: self.page.cost.setText(words.cost_sentence(section.title, minutes)),
            self.page.cost.setText,
        )

    def _set_tournament(self, on: bool, day: date, section: int) -> None:
        self.changed.emit({"tournament_day": day.isoformat() if on else None})
        if on:
            self._tell_ready(day, section)
        else:
            self.page.ready.setText("")

    def _tell_ready(self, day: date, number: int) -> None:
        course = self._course
        if course is None or day.toordinal() <= course.today_number:
            return
        section = course.repertoire.sections[number] if number >= 0 else None
        minutes = course.settings.minutes

        def work(_control: TaskControl) -> Readiness:
            from trainer.ui.memory.facts import find_readiness

            return find_readiness(course, day, section, minutes)

        if self._readying is not None:
            self._readying.cancel()
        self.page.ready.setText("Playing the days until then forward …")
        self._readying = self._start(
            work,
            lambda found: self.page.ready.setText(words.ready_sentence(found, day)),
            self.page.ready.setText,
        )

    # -- exercises ---------------------------------------------------------------------------

    def choose_exercise(self) -> None:
        """Ask which exercise; it begins when the choice was made."""
        course, facts = self._course, self._facts
        if course is None:
            return

        def work(_control: TaskControl) -> dict[str, list[Choice]]:
            from trainer.ui.memory.facts import choices, find_facts

            return choices(course, (facts or find_facts(course)).near_misses)

        self._start(work, self._ask_exercise, self.page.fitted.setText)

    def _ask_exercise(self, found: dict[str, list[Choice]]) -> None:
        course = self._course
        if course is None or not found:
            return
        dialog = ExerciseDialog(found, course.settings.minutes, self._window)
        dialog.finished.connect(lambda result: self._exercise(dialog, result))
        dialog.open()

    def _exercise(self, dialog: ExerciseDialog, result: int) -> None:
        course = self._course
        if course is None or result != QDialog.DialogCode.Accepted:
            return
        nodes, minutes = list(dialog.nodes()), dialog.minutes.value()
        mixed, blind = dialog.mixed.isChecked(), dialog.blind.isChecked()

        def begin() -> DrillSession:
            return course.begin_exercise(
                nodes, minutes, mixed=mixed, moves_before=MOVES_BEFORE if blind else None
            )

        self.exercise.emit(begin, blind)
