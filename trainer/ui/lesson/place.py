"""The place called Lesson: structures of the repertoire, moments of a game, what to hand out."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import IntEnum
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtGui import (
    QFocusEvent,
    QKeyEvent,
    QKeySequence,
    QResizeEvent,
    QShortcut,
    QShowEvent,
)
from PySide6.QtWidgets import (
    QBoxLayout,
    QComboBox,
    QFrame,
    QListWidget,
    QListWidgetItem,
    QScrollArea,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from trainer.storage.settings import Settings
from trainer.ui.labels import text_label
from trainer.ui.lesson.ask_panel import Asking, AskPanel
from trainer.ui.lesson.handout_panel import HandoutPanel
from trainer.ui.lesson.handouts import Handouts
from trainer.ui.lesson.moments_desk import MomentsDesk
from trainer.ui.lesson.moments_panel import MomentsPanel
from trainer.ui.lesson.structure_page import StructurePage
from trainer.ui.look import FIRST_LOOK, Look
from trainer.ui.orders.word_row import WordRow
from trainer.ui.tasks import TaskControl, TaskRunner

if TYPE_CHECKING:
    from trainer.lesson.break_drill import BreakQuestion
    from trainer.lesson.games import GameStructure
    from trainer.lesson.plans import PlanNotes
    from trainer.lesson.shares import StructureShare
    from trainer.lesson.tricks import Trick
    from trainer.memory.course import Course
    from trainer.repertoire.graph import Edge, Node
    from trainer.ui.lesson.engine_side import EngineSide
    from trainer.ui.lesson.facts import PositionFacts, Structures
    from trainer.ui.lesson.model_games import Looked, ModelGame, ModelGames


class Section(IntEnum):
    """What the place shows, in the order of the words."""

    STRUCTURES = 0
    MOMENTS = 1
    HAND_OUT = 2


_NAMES = ("Structures", "Moments", "Hand out")
#: Below this width (at 100 %) a box stands for the list of structures.
_LIST_BESIDE = 760
_LIST_WIDTH = 250
_QUESTIONS = 12
#: Seconds of counting games at a time.
_PIECE = 0.1
#: Positions of a structure in which tricks are looked for, a few hundredths of a second each.
_MOST_SEARCHED = 300
#: Milliseconds that a position is looked at before the engine is asked of its tricks.
_BEFORE_ASKING = 400
_EMPTY = "No named structure occurs in this repertoire."


@dataclass
class _Shown:
    """Which structure and which of its positions is on the board."""

    share: StructureShare
    number: int = 0


class LessonPlace(QWidget):
    """Looks everything up off this thread. Nothing is looked for while it is not on the screen."""

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
        self._settings, self._look = settings, look
        self._runner = runner
        self._notes = notes
        self._rng = rng or random.Random()
        self._engine = engine
        self._models = model_games
        #: For which structure games of the base are listed below it.
        self._models_of: _Shown | None = None
        self.model_games: list[ModelGame] = []
        #: Whose structures are shown.
        self.course: Course | None = None
        self._finding: TaskControl | None = None
        self._looking: TaskControl | None = None
        self.structures: Structures | None = None
        self.facts: PositionFacts | None = None
        #: The structures of the player's own games by key, once they were counted.
        self.own_games: dict[str, GameStructure] = {}
        self._counting: TaskControl | None = None
        self._shown: _Shown | None = None
        #: A position to show as soon as the structures are known.
        self._wanted: Node | None = None
        self.words = WordRow(_NAMES)
        self.list = QListWidget()
        self.box = QComboBox()
        self.page = StructurePage(settings, look)
        self.empty = text_label("", "note")
        self.moments = MomentsPanel(look)
        self.handout = HandoutPanel(look)
        self.ask = AskPanel(settings, look)
        self.handouts = Handouts(runner, self.handout, notes)
        self.desk = MomentsDesk(runner, self.moments, data_folder)
        self.desk.engine = engine
        self.desk.confirm = self.confirm
        self._judging = QTimer(self)
        self._judging.setSingleShot(True)
        self._judging.setInterval(_BEFORE_ASKING)
        self._judging.timeout.connect(self._judge_what_is_seen)
        self._stack = QStackedWidget()
        self._build()
        self._connect()

    # -- building ------------------------------------------------------------------------------

    def _build(self) -> None:
        self.setAccessibleName("Lesson")
        self.setFocusPolicy(Qt.FocusPolicy.ClickFocus)
        self.list.setAccessibleName("Structures of the repertoire")
        self.list.setWordWrap(True)
        self.list.setSpacing(3)
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.box.setAccessibleName("Structures of the repertoire")
        self.box.setMinimumWidth(60)
        self._scroll = QScrollArea()
        self._scroll.setFrameShape(QFrame.Shape.NoFrame)
        self._scroll.setWidgetResizable(True)
        self._scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._scroll.setWidget(self.page)
        structures = self._structures_page = QWidget()
        self._split = QBoxLayout(QBoxLayout.Direction.LeftToRight, structures)
        self._split.setContentsMargins(0, 0, 0, 0)
        self._split.setSpacing(14)
        self._split.addWidget(self.list)
        self._split.addWidget(self.box)
        self._split.addWidget(self.empty)
        self._split.addWidget(self._scroll, 1)
        for widget in (structures, self.moments, self.handout, self.ask):
            self._stack.addWidget(widget)
        column = QVBoxLayout(self)
        column.setContentsMargins(14, 8, 14, 10)
        column.addWidget(self.words)
        column.addWidget(self._stack, 1)
        self._scroll.hide()
        self._fit()

    def _connect(self) -> None:
        self.words.chosen.connect(self._show_section)
        for key, by in (("Alt+Left", -1), ("Alt+Right", 1)):
            shortcut = QShortcut(QKeySequence(key), self._structures_page)
            shortcut.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
            shortcut.activated.connect(partial(self._step, by))
        self.list.currentRowChanged.connect(self._choose)
        self.box.activated.connect(self._choose)
        self.page.stepped.connect(self._step)
        self.page.judge_wanted.connect(self._judge)
        self.page.tricks_wanted.connect(self._ask_tricks)
        self.page.note_wanted.connect(self._note_tricks)
        self.page.model_games_wanted.connect(self._find_model_games)
        self.page.game_wanted.connect(self._show_model_game)
        self.page.breaks_wanted.connect(self._ask_breaks)
        self.page.handout_wanted.connect(self._hand_out_structure)
        self.page.editor.kept.connect(self._keep_plan)
        self.ask.left.connect(self._leave_questions)
        self.desk.ask_wanted.connect(self._ask)
        self.desk.handout_wanted.connect(self._hand_out_game)
        self.desk.said.connect(self.said)
        self.handouts.said.connect(self.said)
        self.handout.coach_changed.connect(
            lambda name: self.settings_changed.emit({"coach": name})
        )

    # -- what is shown -------------------------------------------------------------------------

    def show_course(self, course: Course, settings: Settings, look: Look) -> None:
        """Show the structures of another repertoire, or of the same one after it was changed."""
        self.page.editor.flush()
        self.course = course
        self.set_look(settings, look)
        self.structures = None
        self.handouts.show_course(course, None)
        self.desk.show_course(course)
        self._stop()
        self.empty.setText("Looking at the pawns …")
        self.empty.show()

        def find(_control: TaskControl) -> Structures:
            from trainer.ui.lesson.facts import find_structures

            return find_structures(course)

        self._finding = self._runner.start(find, done=self._found, failed=self._failed)

    def clear(self) -> None:
        """Show nothing, and forget the repertoire: another one is being read."""
        self.page.editor.flush()
        self._stop()
        self.course = self.structures = self.facts = self._shown = None
        self.list.clear()
        self.box.clear()
        self._scroll.hide()
        self.handouts.clear()
        self.desk.clear()
        self.words.choose(Section.STRUCTURES)
        self._show_section(Section.STRUCTURES)

    def flush(self) -> None:
        """Keep what was written and not kept yet."""
        self.page.editor.flush()
        self.desk.flush()

    def set_look(self, settings: Settings, look: Look) -> None:
        """Draw in another look."""
        self._settings, self._look = settings, look
        self.words.set_look(look)
        self.page.set_look(settings, look)
        self.moments.set_look(settings, look)
        self.handout.set_look(look)
        self.ask.set_look(settings, look)
        if not self.handout.coach.text():
            self.handout.coach.setText(settings.coach)
        if self._shown is not None and self.facts is not None:
            self._show_facts(self.facts)
        self._fit()

    def show_position(self, node: Node) -> None:
        """Show the structure of a position of the repertoire, with that position on the board."""
        self.words.choose(Section.STRUCTURES)
        self._show_section(Section.STRUCTURES)
        if self.structures is None:
            self._wanted = node
            return
        self._wanted = None
        for row, share in enumerate(self.structures.shares):
            nodes = [one.key for one in share.nodes]
            if node.key in nodes:
                self._select(row, nodes.index(node.key))
                return
        self.said.emit("This position has no named structure.")

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        # Counting came to rest while another place was on the screen.
        if self.structures is not None and not self.own_games and self._counting is None:
            self._count_games(self.structures)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit()

    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        self._give_focus()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape and self._stack.currentWidget() is self.ask:
            self._leave_questions()
        else:
            super().keyPressEvent(event)

    def _fit(self) -> None:
        wide = self.width() >= _LIST_BESIDE * self._look.scale
        direction = QBoxLayout.Direction
        self._split.setDirection(direction.LeftToRight if wide else direction.TopToBottom)
        filled = self.list.count() > 0
        self.list.setVisible(wide and filled)
        self.box.setVisible(not wide and filled)
        self.list.setFixedWidth(round(_LIST_WIDTH * self._look.scale))

    def _give_focus(self) -> None:
        current = self._stack.currentWidget()
        if current is self.ask:
            self.ask.board.setFocus()
        elif current is self.moments:
            self.moments.choose.setFocus()
        elif current is self.handout:
            self.handout.what.setFocus()
        elif self.list.count():
            (self.box if self.list.isHidden() else self.list).setFocus()

    def _show_section(self, number: int) -> None:
        self.page.editor.flush()
        self._stack.setCurrentIndex(number)
        if number == Section.HAND_OUT:
            # The page is as wide as its room, which is known once it stands on the screen.
            QTimer.singleShot(0, self, self.handouts.renew)

    def _stop(self) -> None:
        for task in (self._finding, self._looking, self._counting):
            if task is not None:
                task.cancel()
        self._finding = self._looking = self._counting = None

    # -- structures ----------------------------------------------------------------------------

    def _found(self, structures: Structures) -> None:
        from trainer.notation.display import percent

        self._finding = None
        before, self._shown = self._shown, None
        self.structures = structures
        if self.course is not None:
            self.handouts.show_course(self.course, structures)
        self.list.blockSignals(True)
        self.list.clear()
        self.box.clear()
        for share in structures.shares:
            met, ends = percent(share.met), percent(share.ends)
            figures = f"met {met}, at the end {ends}".replace(" %", "\u00a0%")
            self.list.addItem(QListWidgetItem(f"{share.found.name}\n{figures}"))
            self.box.addItem(f"{share.found.name}, {met}")
        self.list.blockSignals(False)
        self.empty.setText("" if structures.shares else _EMPTY)
        self.empty.setVisible(not structures.shares)
        self._scroll.setVisible(bool(structures.shares))
        self._fit()
        if not structures.shares:
            return
        self._select(*_place_again(structures, before))
        if self._wanted is not None:
            self.show_position(self._wanted)
        if self.hasFocus():
            # The player came here before there was anything to choose.
            self._give_focus()
        self._count_games(structures)

    def _count_games(self, structures: Structures) -> None:
        """Look for the structures in the player's own games, a little at a time."""
        from trainer.ui.lesson.facts import OwnGames

        settings = self._settings
        self.own_games = {}
        if not (settings.games_files or settings.games_folders):
            return
        counting = OwnGames(settings, structures.side, structures.book)

        def go_on(more: bool = True) -> None:
            # In small pieces, so that what the player does meanwhile is not kept waiting.
            self._counting = None
            if not more:
                self._counted(counting.result())
            elif self.isVisible():
                self._counting = self._runner.start(
                    lambda _control: counting.go_on(_PIECE), done=go_on, failed=self._failed
                )

        go_on()

    def _counted(self, found: dict[str, GameStructure]) -> None:
        self.own_games = found
        self._show_games()

    def _show_games(self) -> None:
        if self._shown is not None and self.structures is not None:
            known = {share.found.key for share in self.structures.shares}
            self.page.show_games(self.own_games, self._shown.share.found.key, known)

    def _failed(self, sentence: str) -> None:
        self._finding = self._looking = None
        self.empty.setText(sentence)
        self.empty.show()

    def _select(self, row: int, number: int) -> None:
        self.list.blockSignals(True)
        self.list.setCurrentRow(row)
        self.list.blockSignals(False)
        self._choose(row, number)

    def _choose(self, row: int, number: int = 0) -> None:
        if self.structures is None or not 0 <= row < len(self.structures.shares):
            return
        share = self.structures.shares[row]
        self.box.setCurrentIndex(row)
        if self.list.currentRow() != row:
            self._select(row, number)
            return
        self.page.editor.flush()
        self._shown = _Shown(share, number)
        self.page.show_structure(share, self.structures.side, self._notes.of(share.found))
        self._show_games()
        self._forget_model_games()
        self._scroll.verticalScrollBar().setValue(0)
        self._look_up()

    def _step(self, by: int) -> None:
        if self._shown is not None:
            self._shown.number = (self._shown.number + by) % len(self._shown.share.nodes)
            self._look_up()

    def _look_up(self) -> None:
        shown, course, structures = self._shown, self.course, self.structures
        if shown is None or course is None or structures is None:
            return
        if self._looking is not None:
            self._looking.cancel()
        node = shown.share.nodes[shown.number]

        def look(_control: TaskControl) -> PositionFacts:
            from trainer.ui.lesson.facts import look_at

            return look_at(course, node, shown.share.found, structures.book)

        self._looking = self._runner.start(look, done=self._show_facts, failed=self._failed)

    def _show_facts(self, facts: PositionFacts) -> None:
        self._looking = None
        shown = self._shown
        if shown is None:
            return
        self.facts = facts
        self.page.show_facts(
            facts,
            shown.share.found,
            number=shown.number + 1,
            count=len(shown.share.nodes),
        )
        self.page.offer_note(bool(self._notes_to_add()))
        # Not for every position that is only passed on the way.
        self._judging.start()

    def _entry(self) -> Edge | None:
        """The player's move that leads to the position on the board."""
        shown, structures = self._shown, self.structures
        if shown is None or structures is None:
            return None
        node = shown.share.nodes[shown.number]
        return next((edge for edge in node.entries if edge.parent.turn == structures.side), None)

    def _notes_to_add(self) -> list[str]:
        """The player's tricks on the board, as notes that the move does not have yet."""
        from trainer.lesson.trick_drill import note_of

        edge, facts = self._entry(), self.facts
        if edge is None or facts is None:
            return []
        own = [
            one
            for one in facts.tricks
            if one.taking and one.side == edge.parent.turn and one.confirmed is not False
        ]
        return [note for one in own if (note := note_of(one)) not in edge.comments]

    def _note_tricks(self) -> None:
        edge, notes = self._entry(), self._notes_to_add()
        if edge is not None and notes:
            self.note_wanted.emit(edge, notes)
            self.said.emit("Noted at the move that leads to this position.")

    def _ask_tricks(self) -> None:
        """Ask for the tricks of the positions of this structure, as moments."""
        structures, shown = self.structures, self._shown
        if structures is None or shown is None:
            return
        self.page.editor.flush()

        def find(control: TaskControl) -> list[Trick]:
            from trainer.lesson.trick_drill import tricks_of

            nodes = shown.share.nodes[:_MOST_SEARCHED]
            side = structures.side
            return tricks_of(nodes, side, most=_QUESTIONS, cancelled=control.cancelled)

        def found(tricks: list[Trick]) -> None:
            self._looking = None
            self.confirm(tricks, self._tricks_found)

        self.said.emit("Looking for tricks …")
        self._looking = self._runner.start(find, done=found, failed=self._failed)

    def _tricks_found(self, tricks: list[Trick]) -> None:
        from trainer.lesson.moments import MomentRun
        from trainer.lesson.trick_drill import trick_moment
        from trainer.ui.lesson.askings import MomentAsking

        moments = [trick_moment(one) for one in tricks if one.confirmed is not False]
        if moments:
            self.said.emit("")
            self._ask(MomentAsking(MomentRun(moments)))
        else:
            self.said.emit("No trick of yours stands in the positions of this structure.")

    def _judge(self, *, asked: bool = True) -> None:
        """Ask the engine whether the tricks on the board hold.

        That happens by itself where there is an engine, and in silence where there is none;
        `asked` tells that the player wants to know.
        """
        facts = self.facts
        if facts is None or not any(one.answer and one.confirmed is None for one in facts.tricks):
            return
        if self._engine is None:
            if asked:
                self.said.emit("There is no engine to ask.")
            return

        def told(tricks: list[Trick]) -> None:
            if facts is self.facts or (self.facts and facts.board == self.facts.board):
                self.facts = replace(facts, tricks=tuple(tricks))
                self.page.show_tricks(tricks)
                self.page.offer_note(bool(self._notes_to_add()))

        self._engine.judge(
            facts.tricks,
            told=told,
            failed=self.said.emit if asked else _in_silence,
            background=not asked,
        )

    def confirm(self, tricks: list[Trick], done: Callable[[list[Trick]], None]) -> None:
        """Ask the engine of tricks and tell them with its word, where there is an engine."""
        if self._engine is None or not any(one.answer for one in tricks):
            done(tricks)
            return
        judged = list(tricks)

        def told(now: list[Trick]) -> None:
            judged[:] = now

        self._engine.judge(
            tricks,
            told=told,
            done=done,
            failed=lambda _sentence: done(list(judged)),
            beside=True,
        )

    def _judge_what_is_seen(self) -> None:
        if self.page.isVisible():
            self._judge(asked=False)

    def _find_model_games(self) -> None:
        """Look through the reference base for games with this structure, or stop looking."""
        structures, shown = self.structures, self._shown
        if structures is None or shown is None or self._models is None:
            return
        if self._models.looking and self._models_of is shown:
            self._models.stop()
            return
        self._models_of = shown
        name = shown.share.found.name

        def told(looked: Looked) -> None:
            if self._models_of is not self._shown:
                return
            first = not self.model_games
            self.model_games = list(looked.games)
            self.page.show_model_games(
                [one.title for one in looked.games], looked.sentence(name), looking=not looked.over
            )
            if first and self.model_games:
                # The list stands below what was seen until now.
                QTimer.singleShot(0, self, self._show_found)

        def failed(sentence: str) -> None:
            self.page.show_model_games((), sentence)

        self.page.show_model_games((), "Looking through the reference base …", looking=True)
        self._models.look(shown.share.found.key, structures.book, told, failed)

    def _show_found(self) -> None:
        self._scroll.ensureWidgetVisible(self.page.found_games)
        if self.page.model_games.hasFocus():
            self.page.found_games.setFocus()

    def _show_model_game(self, row: int) -> None:
        if self._models is not None and 0 <= row < len(self.model_games):
            self._models.show(self.model_games[row])

    def _forget_model_games(self) -> None:
        # A search goes on: it is for all structures, and the next one will be told at once.
        self.model_games = []
        self._models_of = None
        self.page.show_model_games((), "")

    def _keep_plan(self, text: str) -> None:
        from trainer.lesson.plans import PlanNotesError

        if self._shown is None:
            return
        try:
            self._notes.keep(self._shown.share.found, text)
        except PlanNotesError as error:
            self.page.editor.say(str(error))
        else:
            self.page.editor.say("")

    # -- questions -----------------------------------------------------------------------------

    def _ask_breaks(self) -> None:
        structures, shown = self.structures, self._shown
        if structures is None or shown is None:
            return
        self.page.editor.flush()
        # The structure that is looked at first, then the others.
        shares = sorted(structures.shares, key=lambda one: one is not shown.share)
        rng = self._rng

        def find(_control: TaskControl) -> list[BreakQuestion]:
            from trainer.lesson.break_drill import break_questions

            return break_questions(shares, structures.side, most=_QUESTIONS, rng=rng)

        self._looking = self._runner.start(find, done=self._breaks_found, failed=self._failed)

    def _breaks_found(self, questions: list[BreakQuestion]) -> None:
        from trainer.lesson.break_drill import BreakRun
        from trainer.ui.lesson.askings import BreakAsking

        self._looking = None
        if questions:
            self._ask(BreakAsking(BreakRun(questions), self._notes))
        else:
            self.said.emit(
                "No position of this repertoire has a usual break that can be played now."
            )

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

    def _hand_out_structure(self) -> None:
        if self._shown is not None:
            self.handouts.choose_structure(self._shown.share)
            self.words.choose(Section.HAND_OUT)
            self._show_section(Section.HAND_OUT)

    def _hand_out_game(self, lesson: Any) -> None:
        self.handouts.choose_lesson(lesson)
        self.words.choose(Section.HAND_OUT)
        self._show_section(Section.HAND_OUT)


def _in_silence(_sentence: str) -> None:
    return


def _place_again(structures: Structures, before: _Shown | None) -> tuple[int, int]:
    """The row of the structure that was shown before an edit, and the number of its position."""
    if before is None:
        return 0, 0
    node = before.share.nodes[before.number]
    for row, share in enumerate(structures.shares):
        if share.found.key == before.share.found.key:
            keys = [one.key for one in share.nodes]
            return row, keys.index(node.key) if node.key in keys else 0
    return 0, 0
