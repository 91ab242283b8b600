"""The places behind Today, each built when the player first goes there.

What they need is imported by a worker when the window is at rest, or when the place is gone to;
Move orders and Games, which take longest, are built then too.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from importlib import import_module
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QObject, Qt, QTimer, Signal
from PySide6.QtWidgets import QWidget

from trainer.errors import StemlineError
from trainer.storage.log import BugLog
from trainer.storage.settings import Settings
from trainer.ui.engine.parts import EngineParts
from trainer.ui.garbage import GarbageDuty
from trainer.ui.keeper import Keeper
from trainer.ui.labels import text_label
from trainer.ui.lesson.own_plans import OwnPlans
from trainer.ui.look import FIRST_LOOK, Look
from trainer.ui.places import Places
from trainer.ui.tasks import TaskControl, TaskRunner
from trainer.ui.turns import Turns, all_at_once

if TYPE_CHECKING:
    from pathlib import Path

    from trainer.lesson.facts import NoveltyFact
    from trainer.memory.course import Course
    from trainer.repertoire.graph import Node
    from trainer.ui.base.desk import BaseDesk
    from trainer.ui.games.own import News, OwnGames
    from trainer.ui.games.page import GamePage
    from trainer.ui.games.place import GamesPlace
    from trainer.ui.lesson.model_games import ModelGames
    from trainer.ui.lesson.place import LessonPlace
    from trainer.ui.map.place import MapPlace
    from trainer.ui.orders.place import OrdersPlace
    from trainer.ui.workshop.page import WorkshopPage


#: The numbers of the places.
_MAP: Final = 1
_ORDERS: Final = 2
_GAMES: Final = 3
_LESSON: Final = 4
#: How long the figures have stood on the screen before the player's games are looked through.
_CATCH_UP_AFTER_MS: Final = 1_500
#: How long before the parts are imported that are not on the screen yet.
_IMPORT_AFTER_MS: Final = 400
#: What each place is built from: only there once it is imported, which a worker does.
_NEEDED_AT: Final = {
    _MAP: ("trainer.ui.map.place",),
    _ORDERS: ("trainer.ui.orders.place",),
    _GAMES: (
        "trainer.ui.games.own",
        "trainer.ui.games.place",
        "trainer.ui.base.joining",
        "trainer.ui.engine.game_moments",
        "trainer.engine.kept_moments",
    ),
    _LESSON: (
        "trainer.ui.lesson.engine_side",
        "trainer.ui.lesson.model_games",
        "trainer.ui.lesson.place",
    ),
}
_LATER_PARTS: Final = tuple(name for names in _NEEDED_AT.values() for name in names)
_ONE_MOMENT: Final = "One moment …"


@dataclass(frozen=True)
class Means:
    """What the places work with; all of it outlasts them."""

    window: QWidget
    places: Places
    runner: TaskRunner
    keeper: Keeper
    engine: EngineParts
    plans: OwnPlans
    garbage: GarbageDuty
    log: BugLog


@dataclass(frozen=True)
class Asked:
    """What the places ask the window each time.

    `stale` says whether the repertoire was edited since the course was built.
    """

    course: Callable[[], Course | None]
    stale: Callable[[], bool]
    drilling: Callable[[], bool]
    settings: Callable[[], Settings]
    look: Callable[[], Look]


class Rooms(QObject):
    """Holds the widgets of Map, Move orders, Games and Lesson, and the reference base."""

    #: Decisions to be drilled now.
    drill_wanted = Signal(list)
    #: A position that was opened.
    position_chosen = Signal(object)
    #: A position that the workshop is to show.
    edit_wanted = Signal(object)
    #: Something that Move orders asks the workshop to do.
    edit_asked = Signal(object)
    #: A position, and a move played there that is to be answered.
    answer_wanted = Signal(object, object)
    #: A move, and paragraphs to be added to its note.
    note_wanted = Signal(object, list)
    #: Settings by name that were changed.
    settings_changed = Signal(dict)
    #: A sentence for the status line, and one that must not be missed.
    said = Signal(str)
    complained = Signal(str)
    #: Memory or reach has changed behind what is shown.
    figures_changed = Signal()
    #: Replies are as likely as they were counted now, so what goes by reach is out of date.
    reach_measured = Signal()

    def __init__(self, means: Means, asked: Asked) -> None:
        super().__init__(means.window)
        self._means = means
        self._asked = asked
        self.map: MapPlace | None = None
        self.orders: OrdersPlace | None = None
        self.games: GamesPlace | None = None
        self._games_visited = False
        self.lesson: LessonPlace | None = None
        self.base: BaseDesk | None = None
        self._models: ModelGames | None = None
        #: The course whose move orders are shown: looking for them anew would take seconds.
        self.orders_of: Course | None = None
        #: The course that games are held against: reading many would take seconds.
        self._games_of: Course | None = None
        self._own: OwnGames | None = None
        #: Reads the player's games, so that nothing else waits for that.
        self._reader = TaskRunner(means.log, self)
        self._catching_up = QTimer(self)
        self._catching_up.setSingleShot(True)
        self._catching_up.setInterval(_CATCH_UP_AFTER_MS)
        self._catching_up.timeout.connect(self._catch_up)
        self._importing = QTimer(self)
        self._importing.setSingleShot(True)
        self._importing.setInterval(_IMPORT_AFTER_MS)
        self._importing.timeout.connect(self._import_later_parts)
        self._imported = False
        #: Imports what a place needs that the player goes to before all is imported.
        self._importer = TaskRunner(means.log, self)
        #: Shown in the place of such a place, and what is to be done once it is there.
        self._one_moment = text_label(_ONE_MOMENT, "muted")
        self._one_moment.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self._one_moment.setParent(means.places)
        self._one_moment.hide()
        self._when_there: Callable[[], None] | None = None
        self._coming: set[int] = set()
        #: Build these places step by step, when the window is at rest or they are gone to.
        self._steps = {_ORDERS: self._build_orders(), _GAMES: self._build_games()}
        self._building = Turns(self)

    # -- going there -------------------------------------------------------------------------

    def _not_yet(self, number: int) -> QWidget | None:
        """What stands on the screen while the parts of a place are imported; None if they are."""
        self._when_there = None
        names = _NEEDED_AT[number]
        if all(map(_is_imported, names)):
            return None
        if number not in self._coming:
            self._coming.add(number)
            self._importer.start(
                lambda control: _import_parts(control, names),
                done=lambda _nothing: self._come(number),
                failed=self.complained.emit,
            )
        return self._one_moment

    def _come(self, number: int) -> None:
        self._coming.remove(number)
        if number in self._steps:
            self._building.run(self._steps[number], lambda: self._arrive(number))
        else:
            self._arrive(number)

    def _arrive(self, number: int) -> None:
        places, then = self._means.places, self._when_there
        if places.current() is self._one_moment and places.bar.currentIndex() == number:
            places.go(number)
            if then is not None:
                then()

    def show_structure(self, node: Node | None) -> None:
        """Go to the place Lesson, and show the structure of a position there."""

        def show() -> None:
            if node is not None and self.lesson is not None:
                self.lesson.show_position(node)

        self._means.places.go(_LESSON)
        if self._means.places.current() is self._one_moment:
            self._when_there = show
        else:
            show()

    def open_map(self) -> QWidget:
        """The map of the open repertoire, drawn anew where a drill has changed what is known."""
        if self.map is None:
            if (waiting := self._not_yet(_MAP)) is not None:
                return waiting
            from trainer.ui.map.place import MapPlace

            self.map = MapPlace(self._means.runner.start)
            self.map.position_chosen.connect(self.position_chosen)
            self.map.edit_wanted.connect(self.edit_wanted)
        course = self._fresh()
        # A drill that is being planned will take the window over, and changes what is drawn.
        if course is not None and not self._asked.drilling():
            self.map.show_course(course, self._asked.look())
        return self.map

    def open_orders(self) -> QWidget:
        """The move orders of the open repertoire; it looks for them while it is on the screen."""
        if self.orders is None:
            if (waiting := self._not_yet(_ORDERS)) is not None:
                return waiting
            all_at_once(self._steps[_ORDERS])
            assert self.orders is not None
        course = self._fresh()
        if course is not None and course is not self.orders_of:
            self.orders_of = course
            self.orders.show_course(course, self._asked.settings(), self._asked.look())
        return self.orders

    def _build_orders(self) -> Iterator[None]:
        from trainer.ui.orders.list_side import ListSide
        from trainer.ui.orders.page import DetailPage
        from trainer.ui.orders.place import OrdersPlace

        side = ListSide(FIRST_LOOK)
        yield
        page = DetailPage(Settings(), FIRST_LOOK, editable=True)
        yield
        orders = OrdersPlace(
            self._means.runner, editable=True, games_of=self._games_played, side=side, page=page
        )
        orders.drill_wanted.connect(self.drill_wanted)
        orders.edit_wanted.connect(self.edit_asked)
        orders.seeker.looking.connect(self._spare_what_is_found)
        self.orders = orders

    def open_games(self) -> QWidget:
        """The player's games against the open repertoire."""
        if self.games is None:
            if (waiting := self._not_yet(_GAMES)) is not None:
                return waiting
            all_at_once(self._steps[_GAMES])
            assert self.games is not None
        if not self._games_visited:
            self._games_visited = True
            adviser = self._means.engine.adviser
            self._means.runner.start(
                lambda _control: adviser.get_ready(),
                done=lambda _nothing: None,
                failed=self.complained.emit,
            )
        course = self._fresh()
        if course is not None and course is not self._games_of:
            self._games_of = course
            self.games.show_course(course, self._asked.settings(), self._asked.look())
        self._means.places.tell_at(_GAMES, "")
        return self.games

    def _build_games(self) -> Iterator[None]:
        from trainer.ui.games.figures import FiguresPanel
        from trainer.ui.games.list_panel import ListPanel
        from trainer.ui.games.place import GamesPlace

        list_panel = ListPanel(FIRST_LOOK)
        yield
        figures = FiguresPanel(FIRST_LOOK, editable=True)
        yield
        games = GamesPlace(
            self._means.runner,
            self._own_games(),
            editable=True,
            furnish=self._furnish_page,
            list_panel=list_panel,
            figures=figures,
        )
        games.drill_wanted.connect(self.drill_wanted)
        games.position_chosen.connect(self.position_chosen)
        games.answer_wanted.connect(self.answer_wanted)
        games.settings_changed.connect(self.settings_changed)
        self.games = games

    def _furnish_page(self, page: GamePage) -> Iterator[None]:
        """What the base and the engine say stands on the page of a game."""
        from trainer.ui.base.joining import BaseBesideGame
        from trainer.ui.engine.game_moments import MomentsBesideGame

        BaseBesideGame(self.base_desk(), page)
        yield
        MomentsBesideGame(self._means.engine.adviser, page)

    def import_later(self) -> None:
        """Import what the places need once the window has been at rest for a moment.

        It would hold up the window when the player first goes to a place.
        """
        if not self._imported:
            self._importing.start()

    def _import_later_parts(self) -> None:
        if self._asked.drilling():
            self._importing.start()
            return
        self._imported = True
        self._reader.start(
            lambda control: _import_parts(control, _LATER_PARTS),
            done=lambda _nothing: self._build_later_parts(),
            failed=self.said.emit,
        )

    def _build_later_parts(self) -> None:
        """Build what takes longest, too, and read the drawings of the pieces."""
        if self._asked.drilling():
            self._importing.start()
        elif not self._building.active:
            self._building.run(self._later_steps(), lambda: None)

    def _later_steps(self) -> Iterator[None]:
        # Not `yield from`, which would end the steps with these when these are given up.
        for steps in self._steps.values():
            for _ in steps:
                yield
        from trainer.ui.board.pieces import shared_pieces

        yield from shared_pieces().read(self._asked.look().theme.piece_paper)

    # -- own games, whatever is shown ----------------------------------------------------------

    def catch_up_later(self) -> None:
        """Look through the player's games once the window has been at rest for a moment."""
        settings, course = self._asked.settings(), self._asked.course()
        named = settings.games_files or settings.games_folders or settings.base_file
        # What was counted before is to be forgotten where nothing is named any more.
        if named or (course is not None and course.replies):
            self._catching_up.start()

    def make_way(self) -> None:
        """A drill begins: nothing is to slow it."""
        if self._own is not None:
            self._own.make_way()

    def _catch_up(self) -> None:
        if self._asked.drilling():
            self._catching_up.start()
            return
        course = self._fresh()
        if course is not None:
            self._own_games().show_course(course, self._asked.settings())

    def _own_games(self) -> OwnGames:
        if self._own is None:
            from trainer.ui.games.own import OwnGames

            means = self._means
            own = OwnGames(means.runner, self._reader, self._asked.drilling, self)
            own.measure(self.base_desk(), means.keeper.replies_file)
            own.measured.connect(self._reach_measured)
            own.news.connect(self._tell_news)
            own.failed.connect(self._own_games_failed)
            own.shelf.busy.connect(self._spare_what_is_found)
            self._own = own
        return self._own

    def _games_shown(self) -> bool:
        return self.games is not None and self._means.places.current() is self.games

    def _reach_measured(self) -> None:
        # Move orders are to be looked for anew: other ones are likely now.
        self.orders_of = None
        self.figures_changed.emit()
        self.reach_measured.emit()

    def _tell_news(self, news: News) -> None:
        if news.slips:
            self.figures_changed.emit()
        if not self._games_shown():
            if news.games:
                self._means.places.tell_at(_GAMES, f"{news.games:,} new")
            self.said.emit(f"Your games: {news.sentence}")

    def _own_games_failed(self, sentence: str) -> None:
        if not self._games_shown():
            self.said.emit(sentence)

    def open_lesson(self) -> QWidget:
        """Structures, moments and handouts of the open repertoire."""
        if self.lesson is None:
            if (waiting := self._not_yet(_LESSON)) is not None:
                return waiting
            try:
                self.lesson = self._build_lesson()
            except StemlineError as error:
                # Once the place that stays on the screen stands there again.
                QTimer.singleShot(0, lambda said=str(error): self.complained.emit(said))
                return self._means.places.current()
        course = self._fresh()
        if course is not None and course is not self.lesson.course:
            self.lesson.show_course(course, self._asked.settings(), self._asked.look())
        return self.lesson

    def _build_lesson(self) -> LessonPlace:
        from trainer.ui.lesson.engine_side import EngineSide
        from trainer.ui.lesson.model_games import ModelGames
        from trainer.ui.lesson.place import LessonPlace

        means = self._means
        self._models = ModelGames(
            self.base_desk(), means.log, means.keeper.cache_folder, means.window
        )
        lesson = LessonPlace(
            means.runner,
            means.plans.notes(),
            means.keeper.data_folder,
            engine=EngineSide(means.engine.adviser, means.window),
            model_games=self._models,
        )
        lesson.desk.find_novelty = self._novelty
        lesson.note_wanted.connect(self.note_wanted)
        lesson.settings_changed.connect(self.settings_changed)
        lesson.said.connect(self.said)
        return lesson

    def _novelty(self, path: Path, number: int) -> NoveltyFact | None:
        """What was new in a game against the base, where there is one; for a worker thread."""
        from trainer.ui.lesson.facts import novelty_of

        base = self.base_desk().path
        return None if base is None else novelty_of(base, path, number)

    def base_desk(self) -> BaseDesk:
        """The reference base, in whatever part of the window asks it."""
        if self.base is None:
            from trainer.ui.base.desk import BaseDesk

            means = self._means
            self.base = BaseDesk(means.window, means.log, means.keeper.data_folder)
            self.base.set_look(self._asked.settings(), self._asked.look())
            self.base.chosen.connect(
                lambda name: self.settings_changed.emit({"base_file": name or None})
            )
            self.base.changed.connect(self._catching_up.start)
            self.base.built.connect(lambda said, _well: self.said.emit(said.split("\n")[0]))
        return self.base

    def put_base_beside(self, page: WorkshopPage) -> None:
        """Show in the workshop what the reference base holds of the position."""
        from trainer.ui.base.joining import BaseInWorkshop

        self._in_workshop = BaseInWorkshop(self.base_desk(), page)

    def _fresh(self) -> Course | None:
        return None if self._asked.stale() else self._asked.course()

    # -- for all of them ---------------------------------------------------------------------

    def node_chosen(self) -> Node | None:
        """What is chosen on the map or among the move orders, where one of them is shown."""
        shown = self._means.places.current()
        if self.map is not None and shown is self.map:
            return self.map.chosen_node
        if self.orders is not None and shown is self.orders:
            return self.orders.node_shown
        return None

    def node_known(self) -> Node | None:
        """As `node_chosen`; of a game the last position that the repertoire knows."""
        if self.games is not None and self._means.places.current() is self.games:
            page = self.games.page_shown
            return None if page is None else page.known_node()
        return self.node_chosen()

    def come_to(self, node: Node) -> None:
        """Where the map is shown, choose a position on it once it is drawn."""
        if self.map is not None and self._means.places.current() is self.map:
            self.map.choose_later(node)

    def renew(self) -> None:
        """Show the course anew in the place that is on the screen."""
        shown = self._means.places.current()
        for widget, show in (
            (self.map, self.open_map),
            (self.orders, self.open_orders),
            (self.games, self.open_games),
            (self.lesson, self.open_lesson),
        ):
            if widget is not None and shown is widget:
                show()

    def set_look(self) -> None:
        """Pass on settings, theme, notation and scale."""
        settings, look = self._asked.settings(), self._asked.look()
        if self.map is not None:
            self.map.set_look(look)
        for room in (self.orders, self.games, self.lesson, self.base):
            if room is not None:
                room.set_look(settings, look)

    def clear(self) -> None:
        """Let go of the course before its repertoire is taken apart."""
        self._catching_up.stop()
        for place in (self.map, self.orders, self.games, self.lesson, self._own):
            if place is not None:
                place.clear()
        self._means.places.tell_at(_GAMES, "")

    def flush(self) -> None:
        """Keep what is being written there."""
        if self.orders is not None:
            self.orders.flush()
        if self.lesson is not None:
            self.lesson.flush()

    def close(self) -> None:
        """End what runs beside the window."""
        self._catching_up.stop()
        self._importing.stop()
        self._building.cancel()
        if self._own is not None:
            self._own.clear()
        self._reader.close()
        self._importer.close()
        if self._models is not None:
            self._models.close()
        if self.base is not None:
            self.base.close()

    # -- between them ------------------------------------------------------------------------

    def _games_played(self, _course: Course) -> list[Sequence[int]]:
        """The positions of the player's games, where they have been read; also for a worker."""
        gathered = None if self.games is None else self.games.gathered
        return [] if gathered is None else [entry.game.keys for entry in gathered.entries]

    def _spare_what_is_found(self, looking: bool) -> None:
        """What is found among the move orders stays; no search for garbage goes through it."""
        if self._asked.course() is None:
            return  # a file is being read, which sees to that itself
        if looking:
            self._means.garbage.hold()
        else:
            self._means.garbage.spare()


def _is_imported(name: str) -> bool:
    """Whether a module is there, not still being imported by another thread."""
    module = sys.modules.get(name)
    return module is not None and not getattr(module.__spec__, "_initializing", False)


def _import_parts(control: TaskControl, names: Sequence[str]) -> None:
    for name in names:
        if control.cancelled():
            return
        import_module(name)
