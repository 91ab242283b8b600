"""The structures of a repertoire: the list of them, and one with its positions on the board."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import (
    QBoxLayout,
    QComboBox,
    QFrame,
    QListWidget,
    QListWidgetItem,
    QScrollArea,
    QWidget,
)

from trainer.storage.settings import Settings
from trainer.ui.labels import text_label, wrap_items
from trainer.ui.lesson.structure_models import StructureModels
from trainer.ui.lesson.structure_page import StructurePage
from trainer.ui.lesson.structure_tricks import MOST_QUESTIONS, StructureTricks
from trainer.ui.look import Look
from trainer.ui.tasks import TaskControl, TaskRunner

if TYPE_CHECKING:
    from trainer.lesson.break_drill import BreakQuestion
    from trainer.lesson.games import GameStructure
    from trainer.lesson.plans import PlanNotes
    from trainer.lesson.shares import StructureShare
    from trainer.memory.course import Course
    from trainer.repertoire.graph import Node
    from trainer.ui.lesson.engine_side import EngineSide
    from trainer.ui.lesson.facts import PositionFacts, Structures
    from trainer.ui.lesson.model_games import ModelGames

#: Below this width (at 100 %) a box stands for the list of structures.
_LIST_BESIDE = 760
_LIST_WIDTH = 250
#: Seconds of counting games at a time.
_PIECE = 0.1
_EMPTY = "No named structure occurs in this repertoire."


@dataclass
class Shown:
    """Which structure and which of its positions is on the board."""

    share: StructureShare
    number: int = 0

    @property
    def node(self) -> Node:
        """The position on the board."""
        return self.share.nodes[self.number]


class StructuresPanel(QWidget):
    """Looks everything up off this thread."""

    #: The structures of the open repertoire are known: `Structures`.
    found = Signal(object)
    #: They are listed, and one of them is shown.
    listed = Signal()
    #: Questions to be asked: an `Asking`.
    ask_wanted = Signal(object)
    #: A `StructureShare` to hand out.
    handout_wanted = Signal(object)
    #: Paragraphs to be added to the note of a move: an `Edge`, a list of texts.
    note_wanted = Signal(object, list)
    said = Signal(str)

    def __init__(
        self,
        runner: TaskRunner,
        notes: PlanNotes,
        settings: Settings,
        look: Look,
        *,
        in_sight: Callable[[], bool],
        engine: EngineSide | None,
        model_games: ModelGames | None,
        rng: random.Random,
    ) -> None:
        """Games are counted only while the panel's place is `in_sight`."""
        super().__init__()
        self._settings, self._look = settings, look
        self._runner = runner
        self._notes = notes
        self._in_sight = in_sight
        self._rng = rng
        self._room = 0
        #: Whose structures are shown.
        self.course: Course | None = None
        self.structures: Structures | None = None
        self.facts: PositionFacts | None = None
        self.shown: Shown | None = None
        #: The structures of the player's own games by key, once they were counted.
        self.own_games: dict[str, GameStructure] = {}
        #: A position to show as soon as the structures are known.
        self.wanted: Node | None = None
        self._finding: TaskControl | None = None
        self._looking: TaskControl | None = None
        self._counting: TaskControl | None = None
        self.list = QListWidget()
        self.box = QComboBox()
        self.page = StructurePage(settings, look)
        self.empty = text_label("", "note")
        self.tricks = StructureTricks(self, engine)
        self.models = StructureModels(self, model_games)
        self._build()
        self._connect()

    # -- building ------------------------------------------------------------------------------

    def _build(self) -> None:
        self.list.setAccessibleName("Structures of the repertoire")
        wrap_items(self.list)
        self.list.setSpacing(3)
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.box.setAccessibleName("Structures of the repertoire")
        self.box.setMinimumWidth(60)
        self._scroll = QScrollArea()
        self._scroll.setFrameShape(QFrame.Shape.NoFrame)
        self._scroll.setWidgetResizable(True)
        self._scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._scroll.setWidget(self.page)
        self._split = QBoxLayout(QBoxLayout.Direction.LeftToRight, self)
        self._split.setContentsMargins(0, 0, 0, 0)
        self._split.setSpacing(14)
        self._split.addWidget(self.list)
        self._split.addWidget(self.box)
        self._split.addWidget(self.empty)
        self._split.addWidget(self._scroll, 1)
        self._scroll.hide()

    def _connect(self) -> None:
        for key, by in (("Alt+Left", -1), ("Alt+Right", 1)):
            shortcut = QShortcut(QKeySequence(key), self)
            shortcut.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
            shortcut.activated.connect(partial(self._step, by))
        self.list.currentRowChanged.connect(self._choose)
        self.box.activated.connect(self._choose)
        self.page.stepped.connect(self._step)
        self.page.breaks_wanted.connect(self._ask_breaks)
        self.page.handout_wanted.connect(self._hand_out)
        self.page.editor.kept.connect(self._keep_plan)
        self.models.listed.connect(self._show_found)

    # -- what is shown -------------------------------------------------------------------------

    def show_course(self, course: Course) -> None:
        """Show the structures of another repertoire, or of the same one after it was changed."""
        self.course = course
        self.structures = None
        self._stop()
        self.empty.setText("Looking at the pawns …")
        self.empty.show()

        def find(_control: TaskControl) -> Structures:
            from trainer.ui.lesson.facts import find_structures

            return find_structures(course)

        self._finding = self._runner.start(find, done=self._found, failed=self._failed)

    def clear(self) -> None:
        """Show nothing, and forget the repertoire: another one is being read."""
        self.flush()
        self._stop()
        self.course = self.structures = self.facts = self.shown = None
        self.list.clear()
        self.box.clear()
        self._scroll.hide()

    def flush(self) -> None:
        """Keep the plan that was written and not kept yet."""
        self.page.editor.flush()

    def set_look(self, settings: Settings, look: Look) -> None:
        """Draw in another look."""
        self._settings, self._look = settings, look
        self.page.set_look(settings, look)
        if self.shown is not None and self.facts is not None:
            self._show_facts(self.facts)

    def fit(self, width: int) -> None:
        """Take what room there is: a list where it is wide, else a box."""
        self._room = width
        wide = width >= _LIST_BESIDE * self._look.scale
        direction = QBoxLayout.Direction
        self._split.setDirection(direction.LeftToRight if wide else direction.TopToBottom)
        filled = self.list.count() > 0
        self.list.setVisible(wide and filled)
        self.box.setVisible(not wide and filled)
        self.list.setFixedWidth(round(_LIST_WIDTH * self._look.scale))

    def give_focus(self) -> None:
        """Let the keys choose a structure, where there is any."""
        if self.list.count():
            (self.box if self.list.isHidden() else self.list).setFocus()

    def show_position(self, node: Node) -> None:
        """Show the structure of a position of the repertoire, with that position on the board."""
        if self.structures is None:
            self.wanted = node
            return
        self.wanted = None
        for row, share in enumerate(self.structures.shares):
            nodes = [one.key for one in share.nodes]
            if node.key in nodes:
                self._select(row, nodes.index(node.key))
                return
        self.said.emit("This position has no named structure.")

    def _stop(self) -> None:
        for task in (self._finding, self._looking, self._counting):
            if task is not None:
                task.cancel()
        self._finding = self._looking = self._counting = None

    def _failed(self, sentence: str) -> None:
        self._finding = self._looking = None
        self.empty.setText(sentence)
        self.empty.show()

    # -- the list ------------------------------------------------------------------------------

    def _found(self, structures: Structures) -> None:
        from trainer.notation.display import percent

        self._finding = None
        before, self.shown = self.shown, None
        self.structures = structures
        self.found.emit(structures)
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
        self.fit(self._room)
        if not structures.shares:
            return
        self._select(*_place_again(structures, before))
        self.listed.emit()
        self._count_games(structures)

    def count_on(self) -> None:
        """Go on counting games, which came to rest while the place was out of sight."""
        if self.structures is not None and not self.own_games and self._counting is None:
            self._count_games(self.structures)

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
            elif self._in_sight():
                self._counting = self._runner.start(
                    lambda _control: counting.go_on(_PIECE), done=go_on, failed=self._failed
                )

        go_on()

    def _counted(self, found: dict[str, GameStructure]) -> None:
        self.own_games = found
        self._show_games()

    def _show_games(self) -> None:
        if self.shown is not None and self.structures is not None:
            known = {share.found.key for share in self.structures.shares}
            self.page.show_games(self.own_games, self.shown.share.found.key, known)

    # -- one structure -------------------------------------------------------------------------

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
        self.flush()
        self.shown = Shown(share, number)
        self.page.show_structure(share, self.structures.side, self._notes.of(share.found))
        self._show_games()
        self.models.forget()
        self._scroll.verticalScrollBar().setValue(0)
        self._look_up()

    def _step(self, by: int) -> None:
        if self.shown is not None:
            self.shown.number = (self.shown.number + by) % len(self.shown.share.nodes)
            self._look_up()

    def _look_up(self) -> None:
        shown, course, structures = self.shown, self.course, self.structures
        if shown is None or course is None or structures is None:
            return
        if self._looking is not None:
            self._looking.cancel()
        node = shown.node

        def look(_control: TaskControl) -> PositionFacts:
            from trainer.ui.lesson.facts import look_at

            return look_at(course, node, shown.share.found, structures.book)

        self.look(look, self._show_facts)

    def look(self, work: Callable[[TaskControl], Any], done: Callable[[Any], None]) -> None:
        """Look something up in the background for what is shown."""

        def found(result: Any) -> None:
            self._looking = None
            done(result)

        self._looking = self._runner.start(work, done=found, failed=self._failed)

    def _show_facts(self, facts: PositionFacts) -> None:
        shown = self.shown
        if shown is None:
            return
        self.facts = facts
        self.page.show_facts(
            facts,
            shown.share.found,
            number=shown.number + 1,
            count=len(shown.share.nodes),
        )
        self.tricks.look_at(facts)

    def _show_found(self) -> None:
        self._scroll.ensureWidgetVisible(self.page.found_games)
        if self.page.model_games.hasFocus():
            self.page.found_games.setFocus()

    def _keep_plan(self, text: str) -> None:
        from trainer.lesson.plans import PlanNotesError

        if self.shown is None:
            return
        try:
            self._notes.keep(self.shown.share.found, text)
        except PlanNotesError as error:
            self.page.editor.say(str(error))
        else:
            self.page.editor.say("")

    def _hand_out(self) -> None:
        if self.shown is not None:
            self.handout_wanted.emit(self.shown.share)

    # -- questions -----------------------------------------------------------------------------

    def _ask_breaks(self) -> None:
        structures, shown = self.structures, self.shown
        if structures is None or shown is None:
            return
        self.flush()
        # The structure that is looked at first, then the others.
        shares = sorted(structures.shares, key=lambda one: one is not shown.share)
        rng = self._rng

        def find(_control: TaskControl) -> list[BreakQuestion]:
            from trainer.lesson.break_drill import break_questions

            return break_questions(shares, structures.side, most=MOST_QUESTIONS, rng=rng)

        self.look(find, self._breaks_found)

    def _breaks_found(self, questions: list[BreakQuestion]) -> None:
        from trainer.lesson.break_drill import BreakRun
        from trainer.ui.lesson.askings import BreakAsking

        if questions:
            self.ask_wanted.emit(BreakAsking(BreakRun(questions), self._notes))
        else:
            self.said.emit(
                "No position of this repertoire has a usual break that can be played now."
            )


def _place_again(structures: Structures, before: Shown | None) -> tuple[int, int]:
    """The row of the structure that was shown before an edit, and the number of its position."""
    if before is None:
        return 0, 0
    for row, share in enumerate(structures.shares):
        if share.found.key == before.share.found.key:
            keys = [one.key for one in share.nodes]
            return row, keys.index(before.node.key) if before.node.key in keys else 0
    return 0, 0
