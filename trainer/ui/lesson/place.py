"""The place called Lesson: structures of the repertoire, moments of a game, what to hand out."""

from __future__ import annotations

import random
from enum import IntEnum
from pathlib import Path
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent, QResizeEvent, QShowEvent
from PySide6.QtWidgets import QStackedWidget, QVBoxLayout, QWidget

from trainer.storage.settings import Settings
from trainer.ui.lesson.ask_panel import Asking, AskPanel
from trainer.ui.lesson.handout_panel import HandoutPanel
from trainer.ui.lesson.handouts import Handouts
from trainer.ui.lesson.moments_desk import MomentsDesk
from trainer.ui.lesson.moments_panel import MomentsPanel
from trainer.ui.lesson.structures_panel import StructuresPanel
from trainer.ui.look import FIRST_LOOK, Look
from trainer.ui.orders.word_row import WordRow
from trainer.ui.tasks import TaskRunner

if TYPE_CHECKING:
    from trainer.lesson.plans import PlanNotes
    from trainer.lesson.shares import StructureShare
    from trainer.memory.course import Course
    from trainer.repertoire.graph import Node
    from trainer.ui.lesson.engine_side import EngineSide
    from trainer.ui.lesson.facts import Structures
    from trainer.ui.lesson.model_games import ModelGames


class Section(IntEnum):
    """What the place shows, in the order of the words."""

    STRUCTURES = 0
    MOMENTS = 1
    HAND_OUT = 2


_NAMES = ("Structures", "Moments", "Hand out")


class LessonPlace(QWidget):
    """Shows one of three sections, or asks. Nothing is looked for while it is out of sight."""

    #: Settings that the player changed here, by name.
    settings_changed = Signal(dict)
    #: Paragraphs to be added to the note of a move: an `Edge`, a list of texts.
    note_wanted = Signal(object, list)
    #: A sentence that something was done, such as a file written.
    said = Signal(str)

    def __init__(
        self,
        runner: TaskRunner,
        notes: PlanNotes,
        data_folder: Path,
        *,
        engine: EngineSide | None = None,
        model_games: ModelGames | None = None,
        rng: random.Random | None = None,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        settings, look = Settings(), FIRST_LOOK
        self.words = WordRow(_NAMES)
        self.panel = StructuresPanel(
            runner,
            notes,
            settings,
            look,
            in_sight=self.isVisible,
            engine=engine,
            model_games=model_games,
            rng=rng or random.Random(),
        )
        self.moments = MomentsPanel(look)
        self.handout = HandoutPanel(look)
        self.ask = AskPanel(settings, look)
        self.handouts = Handouts(runner, self.handout, notes)
        self.desk = MomentsDesk(runner, self.moments, data_folder)
        self.desk.engine = engine
        self.desk.confirm = self.panel.tricks.confirm
        self._stack = QStackedWidget()
        self._build()
        self._connect()

    def _build(self) -> None:
        self.setAccessibleName("Lesson")
        self.setFocusPolicy(Qt.FocusPolicy.ClickFocus)
        for widget in (self.panel, self.moments, self.handout, self.ask):
            self._stack.addWidget(widget)
        column = QVBoxLayout(self)
        column.setContentsMargins(14, 8, 14, 10)
        column.addWidget(self.words)
        column.addWidget(self._stack, 1)
        self.panel.fit(self.width())

    def _connect(self) -> None:
        self.words.chosen.connect(self._show_section)
        self.panel.found.connect(self._found)
        self.panel.listed.connect(self._listed)
        self.panel.ask_wanted.connect(self._ask)
        self.panel.handout_wanted.connect(self._hand_out_structure)
        self.panel.note_wanted.connect(self.note_wanted)
        self.panel.said.connect(self.said)
        self.ask.left.connect(self._leave_questions)
        self.desk.ask_wanted.connect(self._ask)
        self.desk.handout_wanted.connect(self._hand_out_game)
        self.desk.said.connect(self.said)
        self.handouts.said.connect(self.said)
        self.handout.coach_changed.connect(
            lambda name: self.settings_changed.emit({"coach": name})
        )

    # -- what is shown -------------------------------------------------------------------------

    @property
    def course(self) -> Course | None:
        """Whose lessons are shown."""
        return self.panel.course

    def show_course(self, course: Course, settings: Settings, look: Look) -> None:
        """Show another repertoire, or the same one after it was changed."""
        self.panel.flush()
        self.set_look(settings, look)
        self.handouts.show_course(course, None)
        self.desk.show_course(course)
        self.panel.show_course(course)

    def clear(self) -> None:
        """Show nothing, and forget the repertoire: another one is being read."""
        self.panel.clear()
        self.handouts.clear()
        self.desk.clear()
        self._go(Section.STRUCTURES)

    def flush(self) -> None:
        """Keep what was written and not kept yet."""
        self.panel.flush()
        self.desk.flush()

    def set_look(self, settings: Settings, look: Look) -> None:
        """Draw in another look."""
        self.words.set_look(look)
        self.panel.set_look(settings, look)
        self.moments.set_look(settings, look)
        self.handout.set_look(look)
        self.ask.set_look(settings, look)
        if not self.handout.coach.text():
            self.handout.coach.setText(settings.coach)
        self.panel.fit(self.width())

    def show_position(self, node: Node) -> None:
        """Show the structure of a position of the repertoire, with that position on the board."""
        self._go(Section.STRUCTURES)
        self.panel.show_position(node)

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self.panel.count_on()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self.panel.fit(self.width())

    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        self._give_focus()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape and self._stack.currentWidget() is self.ask:
            self._leave_questions()
        else:
            super().keyPressEvent(event)

    def _give_focus(self) -> None:
        current = self._stack.currentWidget()
        if current is self.ask:
            self.ask.board.setFocus()
        elif current is self.moments:
            self.moments.choose.setFocus()
        elif current is self.handout:
            self.handout.what.setFocus()
        else:
            self.panel.give_focus()

    def _go(self, section: Section) -> None:
        self.words.choose(section)
        self._show_section(section)

    def _show_section(self, number: int) -> None:
        self.panel.flush()
        self._stack.setCurrentIndex(number)
        if number == Section.HAND_OUT:
            # The page is as wide as its room, which is known once it stands on the screen.
            QTimer.singleShot(0, self, self.handouts.renew)

    def _found(self, structures: Structures) -> None:
        if self.course is not None:
            self.handouts.show_course(self.course, structures)

    def _listed(self) -> None:
        if self.panel.wanted is not None:
            self.show_position(self.panel.wanted)
        if self.hasFocus():
            # The player came here before there was anything to choose.
            self._give_focus()

    # -- questions -----------------------------------------------------------------------------

    def _ask(self, asking: Asking) -> None:
        self._stack.setCurrentWidget(self.ask)
        self.ask.ask(asking)

    def _leave_questions(self) -> None:
        self._stack.setCurrentIndex(self._section())
        self._give_focus()

    def _section(self) -> int:
        return next(
            (number for number, one in enumerate(self.words.buttons) if one.isChecked()), 0
        )

    # -- handing out ---------------------------------------------------------------------------

    def _hand_out_structure(self, share: StructureShare) -> None:
        self.handouts.choose_structure(share)
        self._go(Section.HAND_OUT)

    def _hand_out_game(self, lesson: Any) -> None:
        self.handouts.choose_lesson(lesson)
        self._go(Section.HAND_OUT)
