"""The place called Move orders: five lists, and what is chosen from them in full."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

import chess
from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QFocusEvent, QHideEvent, QKeyEvent, QKeySequence, QResizeEvent, QShortcut
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QVBoxLayout, QWidget

from trainer.storage.settings import Settings
from trainer.ui.letting_go import LettingGo
from trainer.ui.look import FIRST_LOOK, Look
from trainer.ui.orders.doors_part import DoorsPart
from trainer.ui.orders.edit_part import EditPart
from trainer.ui.orders.entry_list import EDIT_KEYS
from trainer.ui.orders.findings import Basics, FoundShortcuts, GamesOf
from trainer.ui.orders.list_side import ListSide
from trainer.ui.orders.lists import Lists
from trainer.ui.orders.page import DetailPage
from trainer.ui.orders.sections import KINDS, ListKind, Section
from trainer.ui.orders.seeker import Seeker
from trainer.ui.orders.word_row import WordRow
from trainer.ui.orders.words import OrderWords
from trainer.ui.tasks import TaskRunner

if TYPE_CHECKING:
    from trainer.memory.course import Course
    from trainer.repertoire.doors import Doors
    from trainer.repertoire.graph import Node

#: Below this width (at 100 %) list and entry take turns.
_BESIDE = 600
#: The share of the height that the words may take.
_MOST_WORDS = 0.3
_NO_MATCH = "Nothing in this list has “{}” in it."
_LOOKING = "Still looking …"


class OrdersPlace(QWidget):
    """Looks through a repertoire off this thread and shows what was found.

    With `editable` there are buttons for edits, which are passed on by `edit_wanted`; when one was
    made, `show_course` is called with a new course. What tells look-alikes apart is kept by the
    course. Nothing is looked for while the place is not on the screen.
    """

    #: The `Node` on the board of this place, each time another one stands there.
    position_chosen = Signal(object)
    #: Positions to drill now, a list of `Node`.
    drill_wanted = Signal(list)
    #: `AddShortcut` or `ResolveConflict` of `trainer.ui.orders.edits`.
    edit_wanted = Signal(object)

    def __init__(
        self,
        runner: TaskRunner,
        *,
        editable: bool = False,
        games_of: GamesOf | None = None,
        side: ListSide | None = None,
        page: DetailPage | None = None,
        parent: QWidget | None = None,
    ) -> None:
        """`games_of` gives the player's games, whose orders are counted beside those of drills.

        `side` and `page` (of the same `editable`) may have been made before, in `FIRST_LOOK`:
        either takes as long as the rest.
        """
        super().__init__(parent)
        settings, look = Settings(), FIRST_LOOK
        self._settings, self._look = settings, look
        self._course: Course | None = None
        self._basics: Basics | None = None
        self._words: OrderWords | None = None
        self._lists = Lists()
        self._node_shown: Node | None = None
        self._shown: Any = None
        self._stopped = False
        #: The lists are those of before an edit.
        self._renewing = False
        self._showing_entry = False
        self._letting_go = LettingGo(self)
        self.seeker = Seeker(runner, self, games_of=games_of)
        self.words = WordRow([kind.name for kind in KINDS.values()])
        #: The same choice as `words`, where there is no room for them.
        self.word_box = QComboBox()
        self.side = side or ListSide(look)
        self.filter, self.sorting, self.list = self.side.filter, self.side.sorting, self.side.list
        self.folded, self.stop = self.side.folded, self.side.stop
        self.page = page or DetailPage(settings, look, editable=editable)
        self.doors = DoorsPart(self.seeker, self.page, self)
        self.edits = EditPart(self.seeker, self.page, self, editable=editable)
        self._build()
        self._connect()
        self.set_look(settings, look)
        self._show_section()

    def _build(self) -> None:
        self.setAccessibleName("Move orders")
        self.word_box.addItems([kind.name for kind in KINDS.values()])
        self.word_box.setAccessibleName("Lists")
        self.word_box.setMinimumWidth(60)
        sides = QHBoxLayout()
        sides.setSpacing(0)
        sides.addWidget(self.side, 5)
        sides.addWidget(self.page, 8)
        column = QVBoxLayout(self)
        column.setContentsMargins(14, 8, 4, 10)
        column.addWidget(self.words)
        column.addWidget(self.word_box)
        column.addLayout(sides, 1)

    def _connect(self) -> None:
        self.words.chosen.connect(self._show_section)
        self.words.reworded.connect(self.word_box.setItemText)
        self.words.chosen.connect(self.word_box.setCurrentIndex)
        self.word_box.currentIndexChanged.connect(self.words.choose)
        self.side.rearranged.connect(self._fill)
        self.side.stop_pressed.connect(self._stop_or_go_on)
        self.list.chosen.connect(self._choose)
        self.list.entered.connect(self._enter)
        self.list.entries.filtered.connect(self._filtered)
        self.page.back_wanted.connect(self._back)
        self.page.drill_wanted.connect(self.drill_wanted)
        self.edits.leaving.connect(self._back)
        self.edits.wanted.connect(self.edit_wanted)
        self.edits.noted.connect(self._noted)
        self.edits.failed.connect(self._failed)
        self.page.stepped.connect(self._stepped)
        self.doors.found.connect(self._show_doors)
        self.seeker.basics_found.connect(self._show_basics)
        self.seeker.pairs_found.connect(partial(self._found, Section.NEAR_MISSES))
        self.seeker.shortcuts_found.connect(self._show_shortcuts)
        self.seeker.progressed.connect(self._progressed)
        self.seeker.rested.connect(self._rested)
        self.seeker.failed.connect(self._failed)
        find = QShortcut(QKeySequence(QKeySequence.StandardKey.Find), self)
        find.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
        find.activated.connect(self._find)

    # -- what is shown -------------------------------------------------------------------------

    def show_course(self, course: Course, settings: Settings, look: Look) -> None:
        """Show another repertoire, or the same one with its course built anew after an edit.

        The same one stays on the screen, what was chosen too, while it is looked through again.
        """
        before, kept = self._course, None
        if before is not None and before.repertoire is course.repertoire and self._basics:
            self._renewing = True
            self._stopped = False
            kept = self._lists.kept()
        else:
            self._forget()
        self._course = self.edits.course = course
        self.set_look(settings, look)
        self.seeker.begin(course, kept)
        if kept is None:
            self._show_section()

    def clear(self) -> None:
        """Show nothing, and forget the repertoire: another one is being read."""
        self._forget()
        self._show_section()

    def flush(self) -> None:
        """Have a note kept that is being written."""
        if self.page.note is not None:
            self.page.note.flush()

    def _forget(self) -> None:
        self.flush()
        self.seeker.clear()
        self.doors.clear()
        self._course = self.edits.course = None
        self._basics = self._words = self._node_shown = None
        self._lists = Lists()
        self._stopped = self._renewing = False
        self.seeker.allow(self.isVisible())
        for section in Section:
            self.words.set_count(section, None)
        self.side.say("")
        self.filter.clear()
        self._show_section()

    def set_look(self, settings: Settings, look: Look) -> None:
        """Draw in another look."""
        renew = look != self._look or settings.notation != self._settings.notation
        self._settings, self._look = settings, look
        self.words.set_look(look)
        self.list.set_look(look)
        self.page.set_look(settings, look)
        self._arrange()
        if self._basics is not None and renew:
            words = self._take_words(self._basics)
            self._shown = None
            self._fill()
            self.doors.reword(words)

    def _take_words(self, basics: Basics) -> OrderWords:
        words = OrderWords(basics.graph, basics.book, self._look.notation, basics.sightings)
        if self._course is not None:
            words.pair_notes = self._course.pair_notes
        if self._lists.shortcuts is not None:
            words.shortcuts = self._lists.shortcuts.by_move
        self._words = words
        return words

    @property
    def node_shown(self) -> Node | None:
        """The position of the repertoire that was on the board of this place last."""
        return self._node_shown

    @property
    def section(self) -> Section:
        """The list that is shown."""
        return Section(self.words.current)

    @property
    def _kind(self) -> ListKind:
        return KINDS[self.section]

    @property
    def status(self) -> str:
        """What is said about the search."""
        return self.side.status

    @property
    def empty_sentence(self) -> str:
        """What stands in place of an empty list."""
        return self.side.sentence

    def _show_section(self, _number: int = 0) -> None:
        self.doors.active = self.section is Section.DOORS
        self.side.show_kind(self._kind)
        self._showing_entry = False
        self._clear_page()
        self._fill()
        self._arrange()

    def _fill(self) -> None:
        """Put the entries of the chosen list into it, and choose what was chosen before."""
        section, kind, words = self.section, self._kind, self._words
        self.side.offer_folded(self._lists.going_back if section is Section.SHORTCUTS else 0)
        if words is None:
            self.list.entries.set_entries([], None)
            return
        shown = self._lists.shown(
            section, words, self.side.sorting_of(kind), folded=not self.folded.isChecked()
        )
        self.list.entries.set_entries(shown, partial(kind.row, words))

    def _filtered(self) -> None:
        """The list is complete: choose in it, or say in a sentence why it is empty."""
        model, section = self.list.entries, self.section
        if model.rowCount():
            self.side.show_list()
            if not self.list.currentIndex().isValid():
                self.list.choose_row(self._lists.row_to_choose(section, model))
            return
        needle = self.filter.text().strip()
        if self._course is None:
            sentence = "No repertoire is open."
        elif needle and self._lists.entries[section]:
            sentence = _NO_MATCH.format(needle)
        elif self._lists.unfinished(section):
            sentence = _LOOKING
        else:
            sentence = self._kind.empty
        self.side.show_sentence(sentence)
        if self.page.detail is not None and not self.filter.text():
            self._clear_page()

    def _clear_page(self) -> None:
        self._shown = None
        self.page.clear("")

    # -- finding -------------------------------------------------------------------------------

    def _show_basics(self, basics: Basics) -> None:
        if self._basics is not None:
            self._letting_go.take_apart(self._basics.graph)
        self._basics = basics
        renewing, self._renewing = self._renewing, False
        if basics.kept is not None:
            for section, number in self._lists.take_kept(basics.kept).items():
                self.words.set_count(section, number, more=True)
        words = self._take_words(basics)
        self.doors.begin(basics, words)
        self._found(Section.CONFLICTS, basics.conflicts)
        self._found(Section.CROSSINGS, basics.crossings)
        if renewing and self.section not in (Section.CONFLICTS, Section.CROSSINGS):
            self._fill()

    def _found(self, section: Section, entries: list[Any]) -> None:
        self._lists.entries[section] = entries
        self.words.set_count(section, len(entries))
        if self.section is section:
            self._fill()

    def _show_shortcuts(self, found: FoundShortcuts, last: bool) -> None:
        if not self._lists.take_shortcuts(found, last=last):
            return
        if self._words is not None:
            self._words.shortcuts = found.by_move
        self.words.set_count(Section.SHORTCUTS, found.onward, more=not last)
        if self.section is Section.SHORTCUTS:
            self._fill()

    def _show_doors(self, doors: Doors | None) -> None:
        self._lists.entries[Section.DOORS] = [] if doors is None else list(doors.doors)
        self.words.set_count(Section.DOORS, 0 if doors is None else doors.order_count)
        if self.section is Section.DOORS:
            if doors is None:
                self._clear_page()
            self._fill()

    def _progressed(self, what: str, share: float) -> None:
        self.side.say(f"{what} … {share:.0%}" if share else f"{what} …", "S&top")

    def _rested(self) -> None:
        if self._stopped and self.seeker.unfinished:
            self.side.say("Stopped; only what was found so far is listed.", "&Go on")
        else:
            self.side.say("" if self._basics is None else self._basics.notice)

    def _failed(self, sentence: str) -> None:
        self.side.say(sentence)

    def _stop_or_go_on(self) -> None:
        self._stopped = not self._stopped
        self.seeker.allow(not self._stopped and self.isVisible())

    def showEvent(self, event) -> None:
        super().showEvent(event)
        self.seeker.allow(not self._stopped)
        self._count_again()

    def hideEvent(self, event: QHideEvent) -> None:
        super().hideEvent(event)
        self.flush()
        # The drill must not wait for what nobody looks at.
        self.seeker.allow(False)

    def _count_again(self) -> None:
        """Count how often orders were seen once more, where a drill was held since."""
        course, basics = self._course, self._basics
        if course is None or basics is None or len(course.answers) == basics.answers:
            return
        self.seeker.ask(partial(self.seeker.sightings, basics, course), self._counted)

    def _counted(self, basics: Basics) -> None:
        self._basics = basics
        self._take_words(basics)
        self._shown = None
        self._fill()

    # -- one entry -----------------------------------------------------------------------------

    def _choose(self, entry: Any) -> None:
        section = self.section
        self._lists.choose(section, entry, self.list.currentIndex().row())
        if entry is self._shown or self._renewing:
            return
        if section is Section.DOORS:
            self._shown = None
            self.doors.show_door(entry)
            return
        detail, words = self._kind.detail, self._words
        if detail is None or words is None:
            return
        self.seeker.ask(lambda: detail(words, entry), partial(self._show_detail, entry))

    def _show_detail(self, entry: Any, detail: Any) -> None:
        if not self._lists.is_chosen(self.section, entry):
            return
        name = (self.section, self._kind.identity(entry))
        again = self.page.place if self.page.shows == name else None
        writing = self.page.note is not None and self.page.note.paper.hasFocus()
        self._shown = entry
        if again is not None and writing:
            return  # it holds already all that could have changed but what is being written
        self.page.show_detail(detail, of=name)
        if again is not None:
            self.page.go_to(again)
        if detail.pair is not None:
            self._tell(detail.node)

    def _noted(self) -> None:
        if self.section is Section.NEAR_MISSES:
            self.list.entries.renew()

    def _enter(self) -> None:
        """Go on from the list to the entry."""
        self._showing_entry = True
        self._arrange()
        self.page.enter()

    def _back(self) -> None:
        self._showing_entry = False
        self._arrange()
        self.list.setFocus()

    def _stepped(self, board: chess.Board) -> None:
        if self._course is not None:
            node = self._course.repertoire.node_at(board)
            if node is not None:
                self._tell(node)

    def _tell(self, node: Node) -> None:
        self._node_shown = node
        if self.section is not Section.DOORS:
            self.doors.last_node = node
        self.position_chosen.emit(node)

    # -- keys and room -------------------------------------------------------------------------

    def _find(self) -> None:
        self._back()
        self.filter.setFocus()
        self.filter.selectAll()

    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        (self.list if self.list.isVisible() else self.words.buttons[self.section]).setFocus()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        plain = not event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier
        edit = EDIT_KEYS.get(Qt.Key(event.key())) if plain else None
        if event.key() == Qt.Key.Key_Escape:
            if not self.page.isAncestorOf(self.focusWidget()):
                self.filter.clear()
            self._back()
        elif edit is None or self.filter.hasFocus() or not self.edits.by_number(edit):
            super().keyPressEvent(event)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._arrange()

    def _arrange(self) -> None:
        """List and entry beside each other, or in turns where there is no room for both."""
        scale = self._look.scale
        narrow = self.width() < _BESIDE * scale
        self.side.setVisible(not narrow or not self._showing_entry)
        self.page.setVisible(not narrow or self._showing_entry)
        self.page.back.setVisible(narrow)
        shown = not narrow or not self._showing_entry
        tall = self.words.height_for(self.width()) > _MOST_WORDS * self.height()
        self.words.setVisible(shown and not tall)
        self.word_box.setVisible(shown and tall)
        beside = self.width() >= 1100 * scale or (narrow and self.width() >= 320 * scale)
        self.side.set_beside(beside)
