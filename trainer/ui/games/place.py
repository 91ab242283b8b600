"""The place called Games: the list, what many games tell, and one game in full."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent, QKeySequence, QResizeEvent, QShortcut, QShowEvent
from PySide6.QtWidgets import QComboBox, QStackedWidget, QVBoxLayout, QWidget

from trainer.storage.settings import Settings
from trainer.ui.games.figures import FiguresPanel
from trainer.ui.games.list_panel import ListPanel
from trainer.ui.games.own import OwnGames, sources_of
from trainer.ui.games.page import GamePage
from trainer.ui.games.sections import SECTION_NAMES, Section
from trainer.ui.games.shelf import Reading
from trainer.ui.look import FIRST_LOOK, Look
from trainer.ui.orders.word_row import WordRow
from trainer.ui.tasks import TaskRunner
from trainer.ui.turns import Turns, all_at_once

if TYPE_CHECKING:
    from trainer.memory.course import Course
    from trainer.repertoire.graph import Node
    from trainer.ui.games.entries import GameEntry, Gathered

#: The share of the height that the words may take.
_MOST_WORDS = 0.2


class GamesPlace(QWidget):
    """Reads the player's games off this thread and shows them against the repertoire.

    With `editable` there are buttons that add moves to the repertoire; they are passed on by
    `answer_wanted`. `own` reads the games, also while the place is not on the screen; without it
    the place has one of its own. `furnish` puts more on the page of a game, a part each step.
    """

    #: Positions to drill now, a list of `Node`.
    drill_wanted = Signal(list)
    #: A move to add, and the position to add it to: `Node`, `chess.Move`.
    answer_wanted = Signal(object, object)
    #: A position of the repertoire that the player wants to see: a `Node`.
    position_chosen = Signal(object)
    #: Settings that the player changed here, by name.
    settings_changed = Signal(dict)
    #: What memory holds has changed: forgotten decisions were counted or taken back.
    memory_changed = Signal()

    def __init__(
        self,
        runner: TaskRunner,
        own: OwnGames | None = None,
        *,
        editable: bool = False,
        furnish: Callable[[GamePage], Iterator[None]] = lambda _page: iter(()),
        list_panel: ListPanel | None = None,
        figures: FiguresPanel | None = None,
        parent: QWidget | None = None,
    ) -> None:
        """`list_panel` and `figures` (of the same `editable`) may have been made before."""
        super().__init__(parent)
        settings, look = Settings(), FIRST_LOOK
        self._settings, self._look = settings, look
        self._runner = runner
        self._course: Course | None = None
        self.gathered: Gathered | None = None
        self.own = own or OwnGames(runner, runner, parent=self)
        self.shelf = self.own.shelf
        self.words = WordRow(SECTION_NAMES)
        #: The same choice as `words`, where there is no room for them.
        self.word_box = QComboBox()
        self.list = list_panel or ListPanel(look)
        self.figures = figures or FiguresPanel(look, editable=editable)
        self._editable = editable
        self._furnish = furnish
        self._page: GamePage | None = None
        self._making = self._make_page()
        self._stack = QStackedWidget()
        self._prepared = False
        self._turns = Turns(self)
        self._build()
        self._connect()

    def _build(self) -> None:
        self.setAccessibleName("Games")
        self.word_box.addItems(SECTION_NAMES)
        self.word_box.setAccessibleName("What to look at")
        self.word_box.setMinimumWidth(60)
        for widget in (self.list, self.figures):
            self._stack.addWidget(widget)
        column = QVBoxLayout(self)
        column.setContentsMargins(14, 8, 14, 10)
        column.addWidget(self.words)
        column.addWidget(self.word_box)
        column.addWidget(self._stack, 1)

    def _connect(self) -> None:
        self.words.chosen.connect(self._show_section)
        self.words.chosen.connect(self.word_box.setCurrentIndex)
        self.words.reworded.connect(self.word_box.setItemText)
        self.word_box.currentIndexChanged.connect(self.words.choose)
        self.list.opened.connect(self._open)
        self.list.sources_wanted.connect(self._add_sources)
        self.list.player_chosen.connect(lambda name: self._change(player=name))
        self.list.stop_wanted.connect(self.shelf.stop)
        self.list.go_on_wanted.connect(self.shelf.refresh)
        self.figures.games_wanted.connect(self._show_games_of)
        self.figures.game_wanted.connect(self._open_at)
        self.figures.position_chosen.connect(self.position_chosen)
        self.figures.drill_wanted.connect(self.drill_wanted)
        self.figures.count_wanted.connect(lambda count: self._change(count_games=count))
        self.figures.take_back_wanted.connect(self._take_back)
        self.own.found.connect(self._found)
        self.own.failed.connect(self.list.say)
        self.shelf.progressed.connect(self.list.show_progress)
        self.shelf.rested.connect(self.list.rest)
        find = QShortcut(QKeySequence(QKeySequence.StandardKey.Find), self)
        find.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
        find.activated.connect(self._find)

    # -- the page of a game --------------------------------------------------------------------

    @property
    def page(self) -> GamePage:
        """The page of one game, made at once where it is not there yet."""
        all_at_once(self._making)
        assert self._page is not None
        return self._page

    def _make_page(self) -> Iterator[None]:
        page = self._page = GamePage(self._settings, self._look, editable=self._editable)
        yield
        page.set_look(self._settings, self._look)
        page.back_wanted.connect(self._back)
        page.drill_wanted.connect(self.drill_wanted)
        page.today_wanted.connect(self._ask_today)
        page.answer_wanted.connect(self.answer_wanted)
        self._stack.addWidget(page)
        yield
        yield from self._furnish(page)

    @property
    def page_shown(self) -> GamePage | None:
        """The page of one game while it is what the place shows."""
        return self._page if self._stack.currentWidget() is self._page else None

    def _prepare(self) -> None:
        """Make the page, a little at a time, while the player looks at the list."""
        if not self._prepared and self.isVisible() and self.gathered and self.gathered.entries:
            self._prepared = True
            self._turns.run(self._prepared_page(), lambda: None)

    def _prepared_page(self) -> Iterator[None]:
        yield from self._making
        yield
        yield from self.page.prepare(self._stack.size())

    # -- what is shown -------------------------------------------------------------------------

    def show_course(self, course: Course, settings: Settings, look: Look) -> None:
        """Show the games against another repertoire, or the same one after it was changed."""
        self._course = course
        self.set_look(settings, look)
        self.list.show_sources(sources_of(settings))
        self.own.show_course(course, settings)
        if self.own.reading is not None:
            self._found(self.own.reading)

    def clear(self) -> None:
        """Show nothing, and forget the repertoire: another one is being read."""
        self._course = self.gathered = None
        self.own.clear()
        self.list.show_gathered(None, "")
        self.figures.clear()
        if self._page is not None:
            self._page.clear()
        self.words.choose(Section.GAMES)
        self._show_section()

    def set_look(self, settings: Settings, look: Look) -> None:
        """Draw in another look."""
        self._settings, self._look = settings, look
        self.words.set_look(look)
        self.list.set_look(look)
        self.figures.set_look(look)
        if self._page is not None:
            self._page.set_look(settings, look)
        self._arrange()

    @property
    def section(self) -> Section:
        """What is shown, or was shown before a game was opened."""
        return Section(self.words.current)

    def _show_section(self, _number: int = 0) -> None:
        section = self.section
        if section is Section.GAMES:
            self._stack.setCurrentWidget(self.list)
            return
        self._stack.setCurrentWidget(self.figures)
        self.figures.show_section(section)

    # -- reading -------------------------------------------------------------------------------

    def _found(self, reading: Reading) -> None:
        if self._course is None or self._course is not self.own.course:
            return  # of a course that is shown here only when the player comes
        gathered = self.gathered = reading.gathered
        if self._settings.player is None and not gathered.trouble:
            usual = likely_player(gathered)
            if usual:
                # Said in the list, where it can be changed.
                self._change(player=usual)
                return
        first = not self.list.table.isVisible()
        self.list.show_gathered(gathered, self._settings.player or "", reading.troubles)
        if first and self.isAncestorOf(self.focusWidget() or self):
            self._focus_section()
        self.figures.show_gathered(gathered, self._course, count=self._settings.count_games)
        counts = {
            Section.GAMES: len(gathered.entries),
            Section.PLACES: len(gathered.places),
            Section.NEVER: len(gathered.missed),
            Section.FORGOTTEN: len(gathered.forgotten),
        }
        for section, count in counts.items():
            self.words.set_count(section, count if sources_of(self._settings) else None)
        if self.page_shown is not None:
            self._renew_page(self.page_shown, gathered)
        self._prepare()
        if reading.counted:
            self.list.say_counted(len(reading.counted))
            self.memory_changed.emit()

    def _renew_page(self, page: GamePage, gathered: Gathered) -> None:
        """The open game, as it now stands against the repertoire."""
        old = page.entry
        if old is None:
            return
        mark = (old.game.identity, old.game.sans)
        for entry in gathered.entries:
            if (entry.game.identity, entry.game.sans) == mark:
                ply = page.ply
                self._show_game(entry)
                page.go(ply)
                return
        self._back()

    def _change(self, **fields: Any) -> None:
        """Note a setting and look through the games with it."""
        self.settings_changed.emit(fields)
        settings = self._settings = replace(self._settings, **fields)
        self.list.show_sources(sources_of(settings))
        self.own.choose(settings)

    def _add_sources(self, files: tuple[str, ...], folders: tuple[str, ...]) -> None:
        self._change(games_files=files, games_folders=folders)

    def _take_back(self, node: Node | None) -> None:
        """Take back what counts for memory, at one position or at all."""
        course = self._course
        if course is None:
            return
        counted = course.counted_slips()
        wanted = [one for one in counted if node is None or one.key == node.key]
        self._runner.start(
            lambda _control: course.discount_slips(wanted),
            done=lambda _nothing: self._taken_back(course),
            failed=self.list.say,
        )

    def _ask_today(self, node: Node) -> None:
        if self._course is not None:
            self._course.ask_today(node)

    def _taken_back(self, course: Course) -> None:
        self.memory_changed.emit()
        if self.gathered is not None and course is self._course:
            self.figures.show_gathered(self.gathered, course, count=self._settings.count_games)

    # -- one game ------------------------------------------------------------------------------

    def _open(self, entry: GameEntry) -> None:
        self._show_game(entry)
        self._stack.setCurrentWidget(self.page)
        self.page.ribbon.setFocus()

    def _open_at(self, entry: GameEntry, ply: int) -> None:
        self._open(entry)
        self.page.go(ply)

    def _show_game(self, entry: GameEntry) -> None:
        if self._course is not None:
            self.page.show_game(self._course.repertoire, entry)

    def _show_games_of(self, place: Any) -> None:
        """Only the games that left at one place."""
        self.words.choose(Section.GAMES)
        self.list.show_only(place)
        self.list.table.setFocus()

    def _back(self) -> None:
        self._show_section()
        self._focus_section()

    def _focus_section(self) -> None:
        if self.section is Section.GAMES:
            self.list.take_focus()
        else:
            self.figures.take_focus()

    # -- keys and room -------------------------------------------------------------------------

    def _find(self) -> None:
        self.words.choose(Section.GAMES)
        self._show_section()
        self.list.filter.setFocus()
        self.list.filter.selectAll()

    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        if self.page_shown is not None:
            self.page_shown.ribbon.setFocus()
        else:
            self._focus_section()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape and self.section is Section.GAMES:
            self.list.show_all()
        else:
            super().keyPressEvent(event)

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self._prepare()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._arrange()

    def _arrange(self) -> None:
        """The choice in words, or in a box where they would take too much of the height."""
        tall = self.words.height_for(self.width()) > _MOST_WORDS * self.height()
        self.words.setVisible(not tall)
        self.word_box.setVisible(tall)


def likely_player(gathered: Gathered) -> str:
    """The name that stands in more than half of several games, "" where there is none."""
    (name, games), *_ = gathered.names.most_common(1) or [("", 0)]
    total = len(gathered.entries)
    return name if total >= 3 and games > total / 2 else ""
