"""The place called Move orders: five lists, and what is chosen from them in full."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

import chess
from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QFocusEvent, QHideEvent, QKeyEvent, QKeySequence, QResizeEvent, QShortcut
from PySide6.QtWidgets import (
    QBoxLayout,
    QCheckBox,
    QComboBox,
    QHBoxLayout,
    QLineEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from trainer.storage.settings import Settings
from trainer.ui.labels import text_label
from trainer.ui.look import Look
from trainer.ui.orders.door_chooser import DoorChooser
from trainer.ui.orders.entry_list import EntryList
from trainer.ui.orders.findings import Basics, position_of_fen
from trainer.ui.orders.page import DetailPage
from trainer.ui.orders.sections import KINDS, ListKind, Section, sorted_entries
from trainer.ui.orders.seeker import Seeker
from trainer.ui.orders.word_row import WordRow
from trainer.ui.orders.words import OrderWords
from trainer.ui.tasks import TaskRunner
from trainer.ui.theme import LIGHT

if TYPE_CHECKING:
    from trainer.memory.course import Course
    from trainer.repertoire.doors import Doors
    from trainer.repertoire.graph import Node
    from trainer.repertoire.shortcuts import Shortcut

#: Below this width (at 100 %) list and entry take turns.
_BESIDE = 600
#: The share of the height that the words may take.
_MOST_WORDS = 0.3
_NO_MATCH = "Nothing in this list has “{}” in it."
_LOOKING = "Still looking …"


class OrdersPlace(QWidget):
    """Looks through a repertoire off this thread and shows what was found.

    With `editable` there are buttons for edits, which are passed on by `edit_wanted`. Nothing is
    looked for while the place is not on the screen.
    """

    #: The `Node` on the board of this place, each time another one stands there.
    position_chosen = Signal(object)
    #: Positions to drill now, a list of `Node`.
    drill_wanted = Signal(list)
    #: One of `trainer.ui.orders.edits`.
    edit_wanted = Signal(object)

    def __init__(
        self,
        runner: TaskRunner,
        *,
        editable: bool = False,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        settings, look = Settings(), Look(LIGHT, "letters", 1.0, flipped=False)
        self._settings, self._look = settings, look
        self._course: Course | None = None
        self._basics: Basics | None = None
        self._words: OrderWords | None = None
        self._doors: Doors | None = None
        self._last_node: Node | None = None
        self._entries: dict[Section, list[Any] | None] = dict.fromkeys(Section)
        self._chosen: dict[Section, Any] = {}
        self._shown: Any = None
        self._all_shortcuts = False
        self._stopped = False
        self._showing_entry = False
        self.seeker = Seeker(runner, self)
        self.words = WordRow([kind.name for kind in KINDS.values()])
        #: The same choice as `words`, where there is no room for them.
        self.word_box = QComboBox()
        self.filter = QLineEdit()
        self.sorting = QComboBox()
        self.list = EntryList(look)
        self.folded = QCheckBox()
        self.page = DetailPage(settings, look, editable=editable)
        self.chooser = DoorChooser()
        self.stop = QPushButton("S&top")
        self._status = text_label("", "muted")
        self._empty = text_label("", "note")
        self._build()
        self._connect()
        self.set_look(settings, look)
        self._show_section()

    def _build(self) -> None:
        self.setAccessibleName("Move orders")
        self.word_box.addItems([kind.name for kind in KINDS.values()])
        self.word_box.setAccessibleName("Lists")
        self.word_box.setMinimumWidth(60)
        self.filter.setPlaceholderText("Filter (Ctrl+F)")
        self.filter.setAccessibleName("Show only entries with this text")
        self.filter.setClearButtonEnabled(True)
        self.filter.setMinimumWidth(60)
        self.sorting.setAccessibleName("Order of the list")
        self.sorting.setMinimumWidth(60)
        self.folded.setMinimumWidth(60)
        self._controls = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self._controls.addWidget(self.filter, 1)
        self._controls.addWidget(self.sorting, 1)
        status = QHBoxLayout()
        status.addWidget(self._status, 1)
        status.addWidget(self.stop)
        self._left = QWidget()
        left = QVBoxLayout(self._left)
        left.setContentsMargins(0, 0, 0, 0)
        left.addLayout(self._controls)
        left.addWidget(self._empty)
        left.addWidget(self.list, 1)
        left.addWidget(self.folded)
        left.addLayout(status)
        left.addStretch(0)
        sides = QHBoxLayout()
        sides.setSpacing(0)
        sides.addWidget(self._left, 5)
        sides.addWidget(self.page, 8)
        column = QVBoxLayout(self)
        column.setContentsMargins(14, 8, 4, 10)
        column.addWidget(self.words)
        column.addWidget(self.word_box)
        column.addLayout(sides, 1)
        self.folded.hide()
        self.stop.hide()

    def _connect(self) -> None:
        self.words.chosen.connect(self._show_section)
        self.words.reworded.connect(self.word_box.setItemText)
        self.words.chosen.connect(self.word_box.setCurrentIndex)
        self.word_box.currentIndexChanged.connect(self.words.choose)
        self.filter.textChanged.connect(self.list.entries.set_filter)
        self.filter.returnPressed.connect(self.list.setFocus)
        self.sorting.activated.connect(lambda _number: self._fill())
        self.list.chosen.connect(self._choose)
        self.list.entered.connect(self._enter)
        self.list.entries.filtered.connect(self._filtered)
        self.list.entries.rowsInserted.connect(lambda *_: self._show_list(True))
        self.folded.toggled.connect(lambda _checked: self._fill())
        self.stop.clicked.connect(lambda _checked=False: self._stop_or_go_on())
        self.page.back_wanted.connect(self._back)
        self.page.drill_wanted.connect(self.drill_wanted)
        self.page.edit_wanted.connect(self.edit_wanted)
        self.page.stepped.connect(self._stepped)
        self.chooser.fen_given.connect(self._doors_of_fen)
        self.chooser.last_wanted.connect(self._doors_of_last)
        self.chooser.suggestion_wanted.connect(self._doors_as_suggested)
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
        """Show another repertoire, or the same one after it was changed."""
        self._forget()
        self._course = course
        self.set_look(settings, look)
        self.seeker.begin(course)

    def clear(self) -> None:
        """Show nothing, and forget the repertoire: another one is being read."""
        self._forget()
        self._show_section()

    def _forget(self) -> None:
        self.seeker.clear()
        self._course = self._basics = self._words = self._doors = self._last_node = None
        self._entries = dict.fromkeys(Section)
        self._chosen = {}
        self._all_shortcuts = self._stopped = False
        self.seeker.allow(self.isVisible())
        for section in Section:
            self.words.set_count(section, None)
        self._say("")
        self.stop.hide()
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
            self._words = OrderWords(self._basics.graph, self._basics.book, look.notation)
            self._shown = None
            self._fill()
            if self.section is Section.DOORS:
                self._ask_for_doors()

    @property
    def node_shown(self) -> Node | None:
        """The position of the repertoire that was on the board of this place last."""
        return self._last_node

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
        return self._status.text()

    @property
    def empty_sentence(self) -> str:
        """What stands in place of an empty list."""
        return "" if self._empty.isHidden() else self._empty.text()

    def _show_section(self, _number: int = 0) -> None:
        kind = self._kind
        self.sorting.clear()
        self.sorting.addItems([sorting.name for sorting in kind.sortings])
        self.list.setAccessibleName(kind.name)
        self._showing_entry = False
        self._clear_page()
        self._fill()
        self._arrange()

    def _fill(self) -> None:
        """Put the entries of the chosen list into it, and choose what was chosen before."""
        section, kind = self.section, self._kind
        entries = self._entries[section]
        shown: Any = entries or []
        hidden = 0
        if section is Section.SHORTCUTS:
            hidden = sum(one.goes_back for one in shown)
            if not self.folded.isChecked():
                shown = [one for one in shown if not one.goes_back]
        self.folded.setVisible(hidden > 0)
        self.folded.setText(f"&Also {hidden:,} that go back")
        self.folded.setToolTip("Moves that lead back to an earlier position")
        if self._basics is not None and self._words is not None:
            sorting = kind.sortings[max(0, self.sorting.currentIndex())]
            shown = sorted_entries(self._basics.graph, shown, sorting)
            self.list.entries.set_entries(shown, partial(kind.row, self._words))
        else:
            self.list.entries.set_entries([], None)

    def _filtered(self) -> None:
        """The list is complete: choose in it, or say in a sentence why it is empty."""
        model, section = self.list.entries, self.section
        empty = model.rowCount() == 0
        self._show_list(not empty)
        if not empty:
            if not self.list.currentIndex().isValid():
                self.list.choose_row(max(0, model.row_of(self._chosen.get(section))))
            return
        if self._course is None:
            sentence = "No repertoire is open."
        elif self.filter.text().strip() and self._entries[section]:
            sentence = _NO_MATCH.format(self.filter.text().strip())
        elif self._entries[section] is None or self._unfinished(section):
            sentence = _LOOKING
        else:
            sentence = self._kind.empty
        self._empty.setText(sentence)
        if self.page.detail is not None and not self.filter.text():
            self._clear_page()

    def _clear_page(self) -> None:
        self._shown = None
        self.page.clear("")

    def _show_list(self, shown: bool) -> None:
        if not shown and self.list.hasFocus():
            self.filter.setFocus()
        self.list.setVisible(shown)
        self._empty.setVisible(not shown)

    def _unfinished(self, section: Section) -> bool:
        return section is Section.SHORTCUTS and not self._all_shortcuts

    # -- finding -------------------------------------------------------------------------------

    def _show_basics(self, basics: Basics) -> None:
        self._basics = basics
        self._words = OrderWords(basics.graph, basics.book, self._look.notation)
        self._show_doors(basics.doors)
        self._found(Section.CONFLICTS, basics.conflicts)
        self._found(Section.CROSSINGS, basics.crossings)

    def _found(self, section: Section, entries: list[Any]) -> None:
        self._entries[section] = entries
        self.words.set_count(section, len(entries))
        if self.section is section:
            self._fill()

    def _show_shortcuts(self, found: list[Shortcut], last: bool) -> None:
        self._entries[Section.SHORTCUTS] = found
        self._all_shortcuts = last
        onward = sum(not one.goes_back for one in found)
        self.words.set_count(Section.SHORTCUTS, onward, more=not last)
        if self.section is Section.SHORTCUTS:
            self._fill()

    def _progressed(self, what: str, share: float) -> None:
        self._say(f"{what} … {share:.0%}" if share else f"{what} …")
        self.stop.setText("S&top")
        self.stop.show()

    def _rested(self) -> None:
        stopped = self._stopped and self.seeker.unfinished
        notice = "" if self._basics is None else self._basics.notice
        self._say("Stopped; only what was found so far is listed." if stopped else notice)
        self.stop.setText("&Go on")
        self.stop.setVisible(stopped)

    def _failed(self, sentence: str) -> None:
        self._say(sentence)
        self.stop.hide()

    def _say(self, sentence: str) -> None:
        self._status.setText(sentence)
        self._status.setVisible(bool(sentence))

    def _stop_or_go_on(self) -> None:
        self._stopped = not self._stopped
        self.seeker.allow(not self._stopped and self.isVisible())

    def showEvent(self, event) -> None:
        super().showEvent(event)
        self.seeker.allow(not self._stopped)

    def hideEvent(self, event: QHideEvent) -> None:
        super().hideEvent(event)
        # The drill must not wait for what nobody looks at.
        self.seeker.allow(False)

    # -- one entry -----------------------------------------------------------------------------

    def _choose(self, entry: Any) -> None:
        section = self.section
        self._chosen[section] = entry
        if entry is self._shown:
            return
        if section is Section.DOORS:
            self._show_door(entry)
            return
        detail, words = self._kind.detail, self._words
        if detail is None or words is None:
            return
        self.seeker.ask(lambda: detail(words, entry), partial(self._show_detail, entry))

    def _show_detail(self, entry: Any, detail: Any) -> None:
        if self._chosen.get(self.section) is not entry:
            return
        self._shown = entry
        self.page.show_detail(detail)
        if detail.pair is not None:
            self._tell(detail.node)

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
        if self.section is not Section.DOORS:
            self._last_node = node
        self.position_chosen.emit(node)

    # -- doors ---------------------------------------------------------------------------------

    def _show_doors(self, doors: Doors | None) -> None:
        self._doors = doors
        entries = [] if doors is None else list(doors.doors)
        self._entries[Section.DOORS] = entries
        self.words.set_count(Section.DOORS, 0 if doors is None else doors.order_count)
        self._chosen.pop(Section.DOORS, None)
        if self.section is Section.DOORS:
            self._clear_page()
            self._fill()

    def _show_door(self, entry: Any) -> None:
        """One door on the board; the page holds all of them."""
        doors, page = self._doors, self.page
        if doors is None or self._words is None:
            return
        number = next((n for n, door in enumerate(doors.doors) if door is entry), 0)
        if page.detail is not None and page.detail.node is doors.node:
            page.lines.go(number, len(entry.order.edges))
            return
        self._ask_for_doors()

    def _ask_for_doors(self) -> None:
        from trainer.ui.orders.detail import doors_detail

        doors, words = self._doors, self._words
        if doors is None or words is None:
            return
        self.seeker.ask(
            lambda: doors_detail(words, doors), partial(self._show_doors_detail, doors)
        )

    def _show_doors_detail(self, doors: Doors, detail: Any) -> None:
        if self.section is not Section.DOORS or self._doors is not doors or self._basics is None:
            return
        suggested = self._basics.doors is not None and self._basics.doors.node is doors.node
        self.chooser.offer(last=self._last_node is not None, suggestion=not suggested)
        self.page.show_detail(detail, [self.chooser])
        chosen = self._chosen.get(Section.DOORS)
        if chosen is not None:
            self._show_door(chosen)

    def _doors_of_fen(self, fen: str) -> None:
        if self._basics is None:
            return
        found = position_of_fen(self._basics, fen)
        if isinstance(found, str):
            self.chooser.say(found)
        else:
            self._doors_into(found)

    def _doors_of_last(self) -> None:
        if self._last_node is not None:
            self._doors_into(self._last_node)

    def _doors_as_suggested(self) -> None:
        if self._basics is not None and self._basics.doors is not None:
            self.chooser.say("")
            self._show_doors(self._basics.doors)

    def _doors_into(self, node: Node) -> None:
        from trainer.repertoire.doors import entry_doors

        basics = self._basics
        if basics is None:
            return
        self.chooser.say("")
        self.seeker.ask(lambda: entry_doors(basics.graph, node, basics.book), self._show_doors)

    # -- keys and room -------------------------------------------------------------------------

    def _find(self) -> None:
        self._back()
        self.filter.setFocus()
        self.filter.selectAll()

    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        (self.list if self.list.isVisible() else self.words.buttons[self.section]).setFocus()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            if not self.page.isAncestorOf(self.focusWidget()):
                self.filter.clear()
            self._back()
        else:
            super().keyPressEvent(event)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._arrange()

    def _arrange(self) -> None:
        """List and entry beside each other, or in turns where there is no room for both."""
        scale = self._look.scale
        narrow = self.width() < _BESIDE * scale
        self._left.setVisible(not narrow or not self._showing_entry)
        self.page.setVisible(not narrow or self._showing_entry)
        self.page.back.setVisible(narrow)
        shown = not narrow or not self._showing_entry
        tall = self.words.height_for(self.width()) > _MOST_WORDS * self.height()
        self.words.setVisible(shown and not tall)
        self.word_box.setVisible(shown and tall)
        beside = self.width() >= 1100 * scale or (narrow and self.width() >= 320 * scale)
        self._controls.setDirection(
            QBoxLayout.Direction.LeftToRight if beside else QBoxLayout.Direction.TopToBottom
        )
