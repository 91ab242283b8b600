"""The window: it holds the places, the menu and the open repertoire, and passes things between."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QByteArray, QSize, Qt, QTimer, Signal
from PySide6.QtGui import (
    QAction,
    QCloseEvent,
    QDragEnterEvent,
    QDropEvent,
    QKeySequence,
    QPaintEvent,
)
from PySide6.QtWidgets import QMainWindow, QMenu, QMessageBox, QWidget

from trainer.resources import repertoire_path
from trainer.storage.log import BugLog
from trainer.storage.settings import Settings
from trainer.storage.writer import Writer
from trainer.ui.appearance import Appearance
from trainer.ui.drill.desk import DrillDesk, DrillMeans
from trainer.ui.engine.parts import EngineParts
from trainer.ui.garbage import GarbageDuty
from trainer.ui.keeper import Keeper
from trainer.ui.lesson.own_plans import OwnPlans
from trainer.ui.loading import CourseLoader
from trainer.ui.look import Look
from trainer.ui.memory.access import MemoryAccess
from trainer.ui.message import tell
from trainer.ui.notices import notice, show_unread
from trainer.ui.places import Places
from trainer.ui.recent import RecentMenu, without_file
from trainer.ui.rooms import Asked, Means, Rooms
from trainer.ui.tasks import TaskControl, TaskRunner
from trainer.ui.today.view import TodayView
from trainer.ui.workshop.menu import WorkshopMenu
from trainer.ui.workshop.wanted import added_move, added_note, edit_for, taken_line

if TYPE_CHECKING:
    import chess

    from trainer.memory.course import Course
    from trainer.memory.session import DrillSession
    from trainer.memory.today import NotedDecision, Today
    from trainer.repertoire.graph import Node
    from trainer.repertoire.workshop.edits import Edit
    from trainer.ui.workshop.desk import Desk

DEMO = "kings-indian-attack.pgn"
_REPLAN_AFTER_MS = 250
_MESSAGE_MS = 15_000
_SIZE = QSize(1080, 760)


class MainWindow(QMainWindow):
    """One window on one repertoire."""

    #: The figures of the open repertoire stand on the screen.
    ready = Signal()
    #: The window stands on the screen for the first time.
    painted = Signal()
    _told = Signal(str)
    _noted = Signal(str)

    def __init__(
        self, settings: Settings, appearance: Appearance, keeper: Keeper, log: BugLog
    ) -> None:
        super().__init__()
        self.settings = settings
        self.course: Course | None = None
        self.log = log
        self._keeper = keeper
        self._appearance = appearance
        self._garbage = GarbageDuty(self)
        self._runner = TaskRunner(log, self)
        self._writer = Writer(self._not_written)
        self._planning: TaskControl | None = None
        self._loader = CourseLoader(
            self,
            self._runner,
            keeper,
            self._build_parts(),
            self._built_desk,
            lambda: self.settings,
        )
        #: What is to be done once the course was built anew after edits.
        self._when_renewed: Callable[[], None] | None = None
        self._drill_when_ready: int | None = None
        self._was_painted = False
        self._flagged: tuple[NotedDecision, ...] = ()
        theme = appearance.theme(settings)
        self.today = TodayView(theme)
        self.places = Places()
        self.plans = OwnPlans(keeper.data_folder)
        self.drills = self._build_drills()
        self.desk: Desk | None = None
        self.engine = EngineParts(
            self,
            self._runner,
            settings,
            keeper.cache_folder,
            log,
            self._look,
            self.drills.held,
        )
        #: What was shown before the workshop: the number of a place, or a widget shown alone.
        self._came_from: int | QWidget = 0
        self.memory = MemoryAccess(self, self._runner, self._look, self._free_course)
        self.rooms = self._build_rooms()
        self._today_place = self.places.add("Today", self._open_today)
        self.places.add("Map", self.rooms.open_map)
        self.places.add("Move orders", self.rooms.open_orders)
        self.places.add("Games", self.rooms.open_games)
        self.places.add("Lesson", self.rooms.open_lesson)
        self.places.show_place(self._today_place, self.today)
        self.setCentralWidget(self.places)
        self._replan = QTimer(self)
        self._replan.setSingleShot(True)
        self._replan.setInterval(_REPLAN_AFTER_MS)
        self._recent_menu = RecentMenu(self.open, self)
        self._build_menus()
        self._connect()
        self.setAcceptDrops(True)
        self.setWindowTitle("Stemline")
        self._restore_geometry()
        self._apply_settings()

    # -- building ----------------------------------------------------------------------------

    def _build_drills(self) -> DrillDesk:
        means = DrillMeans(
            self,
            self.places,
            self._runner,
            self._writer,
            self.plans,
            self.log,
            course=lambda: self.course,
            look=self._look,
        )
        drills = DrillDesk(means)
        drills.not_begun.connect(self._complain)
        drills.nothing_asked.connect(self.show_today)
        return drills

    def _build_rooms(self) -> Rooms:
        means = Means(
            self,
            self.places,
            self._runner,
            self._keeper,
            self.engine,
            self.plans,
            self._garbage,
            self.log,
        )
        asked = Asked(
            course=lambda: self.course,
            stale=self._is_stale,
            drilling=lambda: self.drills.drilling,
            settings=lambda: self.settings,
            look=self._look,
        )
        rooms = Rooms(means, asked)
        rooms.drill_wanted.connect(self.drill_positions)
        rooms.position_chosen.connect(self.show_position)
        rooms.edit_wanted.connect(self.edit_at)
        rooms.edit_asked.connect(lambda asked: self._do(edit_for(asked)))
        rooms.answer_wanted.connect(self._add_answer)
        rooms.note_wanted.connect(lambda edge, said: self._do(added_note(edge, said)))
        rooms.settings_changed.connect(lambda fields: self._change(**fields))
        rooms.said.connect(self._say)
        rooms.complained.connect(self._complain)
        rooms.figures_changed.connect(self._refresh_if_shown)
        rooms.reach_measured.connect(self._look_through_again)
        self.ready.connect(rooms.import_later)
        self.ready.connect(rooms.catch_up_later)
        return rooms

    def _build_menus(self) -> None:
        file_menu = self.menuBar().addMenu("&File")
        self._action(file_menu, "&Open …", self.choose_file, QKeySequence.StandardKey.Open)
        file_menu.addMenu(self._recent_menu)
        self._report_action = self._action(file_menu, "&What was not read …", self.show_report)
        self._report_action.setEnabled(False)
        self._action(file_menu, "Open the &demo", lambda: self.open(repertoire_path(DEMO)))
        self._action(file_menu, "&Import games …", self.import_games, QKeySequence("Ctrl+I"))
        self._action(file_menu, "Reference &base …", lambda: self.rooms.base_desk().show_dialog())
        file_menu.addSeparator()
        self._action(file_menu, "&Settings …", self.edit_settings, QKeySequence("Ctrl+,"))
        file_menu.addSeparator()
        self._action(file_menu, "&Quit", self.close, QKeySequence("Ctrl+Q"))
        drill_menu = self.menuBar().addMenu("&Drill")
        self._action(drill_menu, "&Start", self.start_drill, QKeySequence("Ctrl+Return"))
        self._action(drill_menu, "&End", self.drills.leave)
        self.memory.fill_menu(drill_menu)
        view_menu = self.menuBar().addMenu("&View")
        for number, name in enumerate(("&Today", "&Map", "Move &orders", "&Games", "&Lesson")):
            self._action(
                view_menu,
                name,
                lambda number=number: self.places.go(number),
                QKeySequence(f"Ctrl+{number + 1}"),
            )
        here = ("&Structure of this position", self.structure_here)
        self._action(view_menu, *here, QKeySequence("Ctrl+Shift+L"))
        self._workshop = WorkshopMenu(
            self.menuBar(),
            {
                "edit": self.edit_here,
                "before": lambda: self._with_desk(lambda desk: desk.write_before()),
                "undo": lambda: self._with_desk(lambda desk: desk.undo()),
                "redo": lambda: self._with_desk(lambda desk: desk.redo()),
                "save": lambda: self._with_desk(lambda desk: desk.save()),
                "save as": lambda: self._with_desk(lambda desk: desk.save_as()),
                "put right": lambda: self._with_desk(lambda desk: desk.show_list()),
                "sections": lambda: self._with_desk(self._edit_sections),
                "merge": lambda: self._with_desk(self._merge_file),
            },
        )
        self.engine.fill_menu(self.menuBar().addMenu("E&ngine"), self.look_here)
        help_menu = self.menuBar().addMenu("&Help")
        self._action(help_menu, "&Keys", self.show_keys, QKeySequence("F1"))
        self._action(help_menu, "&About Stemline", self.show_about)

    def _action(self, menu: QMenu, text: str, slot, shortcut=None) -> QAction:
        action = menu.addAction(text)
        action.triggered.connect(lambda _checked=False: slot())
        if shortcut is not None:
            action.setShortcut(shortcut)
        return action

    def _connect(self) -> None:
        self.today.start.connect(self._begin_drill)
        self.today.minutes_changed.connect(self._change_minutes)
        self.today.decision_chosen.connect(self.show_decision)
        self.today.put_right.connect(lambda: self._with_desk(lambda desk: desk.show_list()))
        self.today.memory_wanted.connect(self.memory.show_page)
        self.today.exercise_wanted.connect(self.memory.choose_exercise)
        self.memory.page_wanted.connect(self.places.show_alone)
        self.memory.left.connect(self.show_today)
        self.memory.exercise.connect(self._begin_exercise)
        self.memory.changed.connect(self._change_and_apply)
        self.memory.decision_chosen.connect(self.show_decision)
        self._loader.progressed.connect(self.today.show_reading)
        self._loader.opened.connect(self._opened)
        self._loader.failed.connect(self._not_opened)
        self._loader.other_side.connect(self._read_for)
        self._loader.refused.connect(self.close)
        self._loader.renewed.connect(self._renewed)
        self._loader.not_renewed.connect(self._not_renewed)
        self._replan.timeout.connect(self._save_and_refresh)
        self._told.connect(self._complain, Qt.ConnectionType.QueuedConnection)
        self._noted.connect(self._say, Qt.ConnectionType.QueuedConnection)
        self._appearance.changed.connect(self._apply_settings)
        self.engine.settings_changed.connect(self._change_and_apply)
        self.engine.line_taken.connect(lambda node, sans: self._do(taken_line(node, sans)))
        self.engine.edit_wanted.connect(self.edit_at)
        self.engine.said.connect(self._say)

    def _build_parts(self) -> Iterator[None]:
        """Build what is not on the screen at the start, step by step.

        Only once the worker has loaded the library that the parts need.
        """
        yield from self._build_drill()
        yield
        yield from self._build_desk()

    def _build_drill(self) -> Iterator[None]:
        yield from self.drills.build(self.settings)
        summary = self.drills.summary
        summary.back.connect(self.show_today)
        summary.again.connect(self.start_drill)
        summary.decision_chosen.connect(self.show_decision)
        summary.why_not.connect(self.engine.why_not)
        summary.edit.connect(self.edit_here)
        assert self.drills.controller is not None
        self.engine.help_in(self.drills.controller, self.drills.view)

    def _build_desk(self) -> Iterator[None]:
        from trainer.ui.workshop.desk import Desk
        from trainer.ui.workshop.page import WorkshopPage

        # Of the window from the first, so that it goes with it though it was never shown.
        page = WorkshopPage(self)
        page.hide()
        yield
        page.lay_out()
        yield
        desk = Desk(self, self._runner, self._keeper.journal_file, page)
        desk.page_wanted.connect(self._show_workshop)
        desk.left.connect(self._leave_workshop)
        desk.state_changed.connect(self._show_state)
        desk.stale.connect(self._renew_course)
        desk.saved.connect(self._saved_elsewhere)
        desk.reopen.connect(self.open)
        desk.said.connect(self._say)
        desk.counted.connect(self.today.show_put_right)
        self.rooms.put_base_beside(page)
        yield
        self.engine.suggest_in(page)
        desk.set_look(self.settings, self._look())
        self.desk = desk

    def _built_desk(self) -> Desk:
        assert self.desk is not None
        return self.desk

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        if not self._was_painted:
            self._was_painted = True
            QTimer.singleShot(0, self.painted.emit)

    # -- opening -----------------------------------------------------------------------------

    def open(
        self, path: Path, *, drill_minutes: int | None = None, side: chess.Color | None = None
    ) -> None:
        """Read a repertoire in the background and show Today; `drill_minutes` starts at once.

        `side` overrides what the file says.
        """
        self.drills.leave()
        if self.desk is not None and self.desk.engaged:
            self.desk.settle(lambda: self.open(path, drill_minutes=drill_minutes, side=side))
            return
        if self._planning is not None:
            self._planning.cancel()
        self._when_renewed = None
        self.drills.give_up()
        self._loader.cancel()
        if self.desk is not None:
            self.desk.clear()
        self._garbage.hold()
        self._drill_when_ready = drill_minutes
        self.course = None
        self._show_state()
        self.engine.set_course(None)
        self._report_action.setEnabled(False)
        self.setWindowTitle("Stemline")
        self.rooms.clear()
        self.today.show_reading(path.name)
        self.places.show_place(self._today_place, self.today)
        self._loader.read(path, side)

    def choose_file(self) -> None:
        """Ask for a file and open it."""
        last = self.settings.last_file
        folder = str(Path(last).parent) if last else str(Path.home())
        from trainer.ui.opening import ask_for_file

        path = ask_for_file(self, folder)
        if path is not None:
            self.open(path)

    def _read_for(self, path: Path, side: bool) -> None:
        self.open(path, drill_minutes=self._drill_when_ready, side=side)

    def _opened(self, course: Course, today: Today) -> None:
        self.course = course
        self._garbage.spare()
        self._remember_file(self.course.path)
        self._report_action.setEnabled(bool(self.course.loaded.skipped))
        self._show_figures(today)
        assert self.desk is not None
        self.desk.set_look(self.settings, self._look())
        self.desk.set_course(self.course, forbidden=self._keeper.elsewhere)
        self.engine.set_course(self.course)
        if self._drill_when_ready is not None:
            minutes, self._drill_when_ready = self._drill_when_ready, None
            self._begin_drill(minutes or self.settings.minutes)

    def _not_opened(self, path: Path, sentence: str) -> None:
        self._garbage.go_on()
        self.today.show_failure(sentence)
        self._forget_file(path)

    def _remember_file(self, path: Path) -> None:
        self._set_settings(self.settings.with_recent(str(path.resolve())))
        self._fill_recent()

    def _forget_file(self, path: Path) -> None:
        self._change(**without_file(self.settings, path))
        self._fill_recent()

    def _fill_recent(self) -> None:
        self._recent_menu.show_files(self.settings.recent_files)

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        from trainer.ui.opening import dropped_file

        if dropped_file(event.mimeData()) is not None:
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        from trainer.ui.opening import dropped_file

        path = dropped_file(event.mimeData())
        if path is not None:
            event.acceptProposedAction()
            self.open(path)

    # -- today -------------------------------------------------------------------------------

    def show_today(self) -> None:
        """Back to Today, with fresh figures."""
        self.places.show_place(self._today_place, self.today)
        self.today.setFocus()
        self._refresh()

    def _open_today(self) -> QWidget:
        self._refresh()
        return self.today

    def _refresh(self) -> None:
        course = self.course
        if course is None or self.drills.drilling or self._is_stale():
            return
        if self._planning is not None:
            self._planning.cancel()
        minutes = self.settings.minutes
        self._planning = self._runner.start(
            lambda _control: course.today(minutes), done=self._show_figures, failed=self._complain
        )

    def _refresh_if_shown(self) -> None:
        """Renew the figures that stand on the screen; others are renewed when they are shown."""
        if self.places.current() is self.today:
            self._refresh()

    def _look_through_again(self) -> None:
        if self.desk is not None:
            self.desk.look_again()

    def _show_figures(self, today: Today) -> None:
        course = self.course
        if course is None:
            return
        self._flagged = today.flagged
        self._show_state()
        self.today.set_minutes(self.settings.minutes)
        self.today.show_today(
            today,
            title=course.title,
            notice=notice(course, self._keeper.notice),
            look=self._look(),
        )
        focused = self.focusWidget()
        held = focused is not None and self.today.isAncestorOf(focused) and focused.isVisible()
        if self.places.current() is self.today and not held:
            self.today.start_button.setFocus()
        self.ready.emit()

    def _look(self) -> Look:
        return Look(
            self._appearance.theme(self.settings),
            self.settings.notation,
            self.settings.scale,
            flipped=self.course is not None and not self.course.side,
        )

    def _change_minutes(self, minutes: int) -> None:
        self.settings = replace(self.settings, minutes=minutes)
        self._replan.start()

    def _save_and_refresh(self) -> None:
        self._set_settings(self.settings)
        self._refresh()

    def show_decision(self, decision: NotedDecision) -> None:
        """Show one listed position with its note."""
        course = self.course
        if course is None:
            return
        node = decision.node
        if course.repertoire.nodes.get(node.key) is not node or decision.edge not in node.edges:
            said = "This was edited since it was listed; it is not in the repertoire any more."
            self.statusBar().showMessage(said, _MESSAGE_MS)
            return
        from trainer.ui.position_dialog import PositionDialog

        flagged = decision in self._flagged
        dialog = PositionDialog(
            decision, self.settings, self._look(), flagged=flagged, parent=self
        )
        dialog.exec()
        if dialog.edit:
            self.edit_at(node)
        if dialog.look:
            self.engine.look_at(node)
        if dialog.unflag:
            # Off this thread, as the disk may take its time over it.
            self._runner.start(
                lambda _control: course.unflag(node.key),
                done=lambda _nothing: self._refresh(),
                failed=self._complain,
            )

    def show_report(self) -> None:
        """All places of the file that could not be read."""
        if self.course is not None:
            show_unread(self, self.course)

    # -- map ---------------------------------------------------------------------------------

    def structure_here(self) -> None:
        """Show the structure of what is chosen where the player is, in the place Lesson."""
        self.rooms.show_structure(self.rooms.node_chosen())

    def show_position(self, node: Node) -> None:
        """Show a position of the map with its note, where something is prepared."""
        course = self.course
        if course is None or not course.repertoire.is_decision(node):
            return
        from trainer.memory.forecast import noted
        from trainer.memory.plan import frequency

        number = course.arrays.number_of.get(node.key)
        said = "" if number is None else f"{frequency(float(course.reach[number]))} here"
        self.show_decision(noted(course.repertoire, node, said))

    # -- engine ------------------------------------------------------------------------------

    def look_here(self) -> None:
        """Look with the engine at what is chosen where the player is."""
        node = self.rooms.node_chosen()
        if node is not None:
            self.engine.look_at(node)
            return
        from trainer.ui.engine.here import shown_in

        shown = shown_in(self.places.current())
        if shown is not None:
            self.engine.look_at_board(shown.board, shown.order, shown.number)
        elif self.course is not None and self.course.repertoire.roots:
            self.engine.look_at(self.course.repertoire.roots[0])

    def _change_and_apply(self, fields: dict[str, object]) -> None:
        self._change(**fields)
        self._apply_settings()

    # -- workshop ----------------------------------------------------------------------------

    def _with_desk(self, act: Callable[[Desk], None]) -> None:
        if self.desk is not None and self.course is not None and not self.drills.drilling:
            act(self.desk)

    def edit_here(self) -> None:
        """Open the workshop at what is chosen where the player is."""
        if self.desk is not None and self.places.current() is self.desk.page:
            return
        node = self.rooms.node_known()
        self._with_desk(lambda desk: desk.edit_at(node))

    def edit_at(self, node: Node) -> None:
        """Open the workshop at a position."""
        self._with_desk(lambda desk: desk.edit_at(node))

    def _do(self, edit: Edit | None) -> None:
        """Make an edit that was asked for elsewhere, as one step that can be undone."""
        if edit is not None:
            self._with_desk(lambda desk: desk.do(edit))

    def _add_answer(self, node: Node, move: chess.Move) -> None:
        """Add a move that was played, and open the workshop where it is to be answered."""
        self.edit_at(node)
        self.engine.suggest_soon()
        self._do(added_move(node, move))

    def import_games(self) -> None:
        """Make a repertoire of whole games and open it, or take them into the open one."""
        from trainer.ui.importing.dialog import ask_for_import

        if self.drills.drilling:
            self._say("End the drill first, then import games.")
            return
        wanted = ask_for_import(self, self._runner, self._look(), self.settings, self.course)
        if wanted.merge is not None and self.desk is not None:
            from trainer.ui.sections.entry import tell_of

            tell_of(self.desk, wanted.merge, self._look(), self._say)
        elif wanted.saved:
            self.open(wanted.saved[0])

    def _edit_sections(self, desk: Desk) -> None:
        from trainer.ui.sections.entry import open_sections

        open_sections(self, desk, self._runner, self.settings, self._look())

    def _merge_file(self, desk: Desk) -> None:
        from trainer.ui.sections.entry import merge_file

        merge_file(self, desk, self._runner, self._look(), self._say)

    def _say(self, sentence: str) -> None:
        self.statusBar().showMessage(sentence, _MESSAGE_MS)

    def _show_workshop(self, page: QWidget) -> None:
        desk, current = self.desk, self.places.current()
        assert desk is not None
        if not desk.shows(current):
            alone = self.places.bar.isHidden()
            self._came_from = current if alone else self.places.bar.currentIndex()
            if self._planning is not None:
                self._planning.cancel()
        self.places.show_alone(page)

    def _leave_workshop(self) -> None:
        if isinstance(self._came_from, int):
            self.places.come_back(self._came_from)
            spot = None if self.desk is None else self.desk.author.spot
            if spot is not None:
                self.rooms.come_to(spot.node)
        else:
            self.places.show_alone(self._came_from)
            self._came_from.setFocus()

    def _show_state(self) -> None:
        """Whether all is saved, in the title, and what can be undone, in the menu."""
        desk, course = self.desk, self.course
        if desk is None:
            return
        self._workshop.show_state(
            opened=course is not None,
            undo=desk.undoable,
            redo=desk.redoable,
            unsaved=desk.unsaved,
        )
        if course is not None:
            unsaved = " (not saved)" if desk.unsaved else ""
            self.setWindowTitle(f"{course.title}{unsaved} — Stemline")

    def _is_stale(self) -> bool:
        """Whether the repertoire was edited since the course was built."""
        edited = self.desk is not None and self.desk.is_stale
        return edited or self._loader.renewing

    def _renew_course(self) -> None:
        """Build the course anew on the graph as it is now, without reading the file again."""
        loaded = None if self.desk is None else self.desk.loaded
        if loaded is None or self.course is None:
            return
        assert self.desk is not None
        self.today.start_button.setEnabled(False)
        self._garbage.hold()
        self._loader.renew(loaded, self.course, self.desk.revision)

    def _not_renewed(self, sentence: str) -> None:
        self._when_renewed = None
        self._garbage.go_on()
        self._complain(sentence)

    def _renewed(self, course: Course, today: Today, revision: int) -> None:
        desk = self.desk
        if desk is None or self.course is None:
            return
        self.course = course
        self._garbage.spare()
        desk.set_course(self.course, forbidden=self._keeper.elsewhere, revision=revision)
        self.engine.set_course(self.course)
        if desk.is_stale and not desk.shows(self.places.current()):
            self._renew_course()  # edited again in the meantime
            return
        self._show_figures(today)
        then, self._when_renewed = self._when_renewed, None
        if then is not None:
            then()
        else:
            self.rooms.renew()

    def _saved_elsewhere(self, path: Path) -> None:
        """The repertoire was saved under another name, which is the open one from now on."""
        self._remember_file(path)
        self._renew_course()

    # -- drill -------------------------------------------------------------------------------

    def start_drill(self) -> None:
        """Start the drill with the chosen minutes."""
        self._begin_drill(self.settings.minutes)

    def _begin_drill(self, minutes: int) -> None:
        course = self.course
        if course is None or self.drills.drilling:
            return
        if self.desk is not None:
            self.desk.put_down()
        if self._is_stale():
            self._when_renewed = lambda: self._begin_drill(minutes)
            if not self._loader.renewing:
                self._renew_course()
            return
        if self._replan.isActive():
            # The drill is planned by what was just chosen; the figures can wait for its end.
            self._replan.stop()
            self._set_settings(self.settings)
        self._begin(lambda: course.begin(minutes))

    def drill_positions(self, nodes: list[Node]) -> None:
        """Drill just these positions, now."""
        course = self.course
        if course is not None and not self.drills.drilling and not self._is_stale():
            self._begin(lambda: course.begin_with(nodes))

    def _free_course(self) -> Course | None:
        """The open course, where no drill is under way and nothing was edited since."""
        return None if self.drills.drilling or self._is_stale() else self.course

    def _begin_exercise(self, begin: Callable[[], DrillSession], blind: bool) -> None:
        if self._free_course() is not None:
            self._begin(begin, blind=blind)

    def _begin(self, begin: Callable[[], DrillSession], *, blind: bool = False) -> None:
        self.today.start_button.setEnabled(False)
        if self.desk is not None:
            self.desk.hush()
        self.rooms.make_way()
        self.drills.begin(begin, blind=blind)

    # -- settings ----------------------------------------------------------------------------

    def edit_settings(self) -> None:
        """Show the settings and apply what was chosen."""
        from trainer.ui.settings_dialog import SettingsDialog

        dialog = SettingsDialog(self.settings, self)
        with self.drills.held():
            chosen = dialog.exec()
        if chosen:
            self._set_settings(dialog.settings())
            self._apply_settings()
            self._refresh()

    def _change(self, **fields: object) -> None:
        self._set_settings(replace(self.settings, **fields))

    def _set_settings(self, settings: Settings) -> None:
        self.settings = settings
        save = self._keeper.save_settings
        self._writer.put(lambda: save(settings), instead="settings")

    def _not_written(self, error: Exception) -> None:
        """Say what could not be written; called in the thread that tried."""
        self._noted.emit(self.log.sentence(error))

    def _apply_settings(self) -> None:
        theme = self._appearance.apply(self.settings)
        self.today.set_theme(theme)
        self.drills.set_settings(self.settings)
        self.rooms.set_look()
        if self.desk is not None:
            self.desk.set_look(self.settings, self._look())
        self.engine.set_look(self.settings)
        if self.course is not None:
            self.course.settings = self.settings
        self._fill_recent()

    # -- the rest ----------------------------------------------------------------------------

    def tell_later(self, sentence: str) -> None:
        """Show a sentence from whatever thread, once the window has time for it."""
        self._told.emit(sentence)

    def _complain(self, sentence: str) -> None:
        self.today.start_button.setEnabled(True)
        tell(self, "Stemline", sentence, QMessageBox.Icon.Warning)

    def show_keys(self) -> None:
        """The keys of the drill, or of the workshop where that is shown."""
        from trainer.ui.drill.view import keys_text
        from trainer.ui.workshop.keys import workshop_keys_text

        if self.desk is not None and self.desk.shows(self.places.current()):
            keys = workshop_keys_text()
            tell(self, "Keys of the workshop", keys, QMessageBox.Icon.Information)
            return
        with self.drills.held():
            tell(self, "Keys of the drill", keys_text(), QMessageBox.Icon.Information)

    def show_about(self) -> None:
        """What the program is, and the one way to misuse it."""
        QMessageBox.about(
            self,
            "About Stemline",
            "Stemline drills one opening system from your own PGN files. It works offline and "
            "sends nothing anywhere.\n\nIt is for preparation and for after the game: any help "
            "during a game breaks the Laws of Chess (FIDE Laws 11.3).\n\n"
            "Free software, GPL-3.0-or-later.",
        )

    def _restore_geometry(self) -> None:
        # Larger type needs a larger window, as far as the screen has room.
        self.resize((_SIZE * self.settings.scale).boundedTo(self.screen().availableSize()))
        if self.settings.window_geometry:
            saved = QByteArray.fromBase64(self.settings.window_geometry.encode("ascii"))
            self.restoreGeometry(saved)

    def closeEvent(self, event: QCloseEvent) -> None:
        self.drills.leave()
        self.rooms.flush()
        if self.desk is not None and self.desk.engaged:
            event.ignore()
            self.desk.settle(self.close)
            return
        geometry = bytes(self.saveGeometry().toBase64().data()).decode("ascii")
        self._change(window_geometry=geometry)
        self._loader.cancel()
        self.drills.give_up()
        self.engine.close()
        self._runner.close()
        self.rooms.close()
        if self.desk is not None:
            self.desk.clear()
        self._writer.finish()
        self._keeper.close()
        self._garbage.end()
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose, False)
        super().closeEvent(event)
