"""The engine's part of the window: its menu, its windows, and what they pass to the others."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager, nullcontext
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject, Signal
from PySide6.QtGui import QKeySequence
from PySide6.QtWidgets import QMenu, QWidget

from trainer.storage.log import BugLog
from trainer.storage.settings import Settings
from trainer.ui.look import Look
from trainer.ui.tasks import TaskRunner

if TYPE_CHECKING:
    import chess

    from trainer.engine.check import Finding
    from trainer.memory.course import Course
    from trainer.memory.today import NotedDecision
    from trainer.repertoire.graph import Node, Repertoire
    from trainer.repertoire.reach import Weigh
    from trainer.ui.drill.controller import DrillController
    from trainer.ui.drill.view import DrillView
    from trainer.ui.engine.adviser import Adviser
    from trainer.ui.engine.in_workshop import EngineInWorkshop
    from trainer.ui.engine.look_window import LookWindow
    from trainer.ui.engine.replies import KnownReplies
    from trainer.ui.engine.test_window import TestWindow
    from trainer.ui.workshop.page import WorkshopPage


class EngineParts(QObject):
    """Made with the window; no engine is started before the player asks for something."""

    #: Settings by name that the player has changed.
    settings_changed = Signal(dict)
    #: A known position and moves in SAN from there, to be taken into the repertoire.
    line_taken = Signal(object, str)
    #: A known position to open in the workshop, a `Node`.
    edit_wanted = Signal(object)
    #: A sentence for the status line.
    said = Signal(str)

    def __init__(
        self,
        window: QWidget,
        runner: TaskRunner,
        settings: Settings,
        cache_folder: Path,
        log: BugLog,
        look: Callable[[], Look],
        held: Callable[[], AbstractContextManager[None]] = nullcontext,
    ) -> None:
        """`held` makes a drill stand still while a box is open over it."""
        super().__init__(window)
        self._window = window
        self._runner = runner
        self._settings = settings
        self._look = look
        self._held = held
        self._course: Course | None = None
        self._cache_folder = cache_folder
        self._log = log
        self.look_window: LookWindow | None = None
        self.test_window: TestWindow | None = None
        self.suggestions: EngineInWorkshop | None = None

    # Built when they are first asked for: the start of the window does not wait for them.

    @cached_property
    def adviser(self) -> Adviser:
        """The window's one way to the engine."""
        from trainer.ui.engine.adviser import Adviser

        return Adviser(self._settings, self._cache_folder, self._log, self)

    @cached_property
    def replies(self) -> KnownReplies:
        """What is known of plausible replies."""
        from trainer.ui.engine.replies import KnownReplies

        return KnownReplies(self.adviser)

    def fill_menu(self, menu: QMenu, look_here: Callable[[], None]) -> None:
        """The entries of the menu; `look_here` looks at what the player has before him."""
        for text, slot, keys in (
            ("&Look at this position", look_here, "Ctrl+L"),
            ("&Test the repertoire …", self.show_test, ""),
            ("&Engine …", self.choose_engine, ""),
        ):
            action = menu.addAction(text)
            action.triggered.connect(lambda _checked=False, slot=slot: slot())
            if keys:
                action.setShortcut(QKeySequence(keys))

    def help_in(self, controller: DrillController, view: DrillView) -> None:
        """Offer "why not?" in the drill, and be silent there while a question is open."""
        from trainer.ui.engine.drill_help import DrillHelp

        DrillHelp(controller, view, self.adviser)

    def suggest_in(self, page: WorkshopPage) -> None:
        """Put what the engine suggests into the page of the workshop."""
        from trainer.ui.engine.in_workshop import EngineInWorkshop

        self.suggestions = EngineInWorkshop(
            page, lambda: self.adviser, self._look, self._number_of
        )
        self.suggestions.note_read.connect(
            lambda: self.settings_changed.emit({"engine_note_read": True})
        )

    def suggest_soon(self) -> None:
        """The player has come to answer a move: look at the position behind it."""
        if self.suggestions is not None:
            self.suggestions.ask_soon()

    def _number_of(self, board: chess.Board) -> int:
        from trainer.engine.check_report import move_number

        course = self._course
        node = None if course is None else course.repertoire.node_at(board)
        return 1 if course is None or node is None else move_number(course.repertoire, node)

    # -- what is open ------------------------------------------------------------------------

    def set_course(self, course: Course | None) -> None:
        """Another repertoire is open, or the same one after edits."""
        before, self._course = self._course, course
        if course is not None:
            course.plausible = self.replies
        if self.test_window is None:
            return
        if course is not None and before is not None and course.repertoire is before.repertoire:
            self.test_window.edited()
        else:
            self.test_window.forget()

    def set_look(self, settings: Settings) -> None:
        """Draw in another look, and ask by other settings."""
        self._settings = settings
        if "adviser" in self.__dict__:
            self.adviser.set_settings(settings)
        if self.look_window is not None:
            self.look_window.set_look(settings, self._look())
        if self.test_window is not None:
            self.test_window.set_look(self._look())

    # -- looking -----------------------------------------------------------------------------

    def look_at(self, node: Node) -> None:
        """Look at a position of the repertoire."""
        self.look_at_board(node.board())

    def look_at_board(
        self, board: chess.Board, order: str = "", number: int | None = None
    ) -> LookWindow | None:
        """Look at any position; where the repertoire knows it, its shortest order is named.

        The window that shows it; None while the engine has to be silent.
        """
        from trainer.engine.check_report import move_number, where
        from trainer.ui.engine.look_window import Subject

        if self.adviser.silent:
            from trainer.ui.engine.words import SILENT

            self.said.emit(SILENT)
            return None
        course = self._course
        node = None if course is None else course.repertoire.node_at(board)
        if course is not None and node is not None:
            order = order or where(course.repertoire, node, self._look().notation)
            number = number or move_number(course.repertoire, node)
        window = self._window_to_look()
        window.show_subject(Subject(board.copy(stack=False), order, number or 1))
        return window

    def why_not(self, decision: NotedDecision) -> None:
        """Say what speaks against the wrong move that was made at a decision."""
        shown = self.look_at_board(decision.node.board())
        if shown is not None and decision.played is not None:
            shown.ask_why_not(decision.played)

    def _window_to_look(self) -> LookWindow:
        if self.look_window is None:
            from trainer.ui.engine.look_window import LookWindow

            self.look_window = LookWindow(self.adviser, self._settings, self._look(), self._window)
            self.look_window.line_taken.connect(self._take)
            self.look_window.settings_wanted.connect(self.choose_engine)
            self.look_window.edit_wanted.connect(self._edit)
            self.look_window.note_read.connect(
                lambda: self.settings_changed.emit({"engine_note_read": True})
            )
        return self.look_window

    def _edit(self, board: chess.Board) -> None:
        course = self._course
        node = None if course is None else course.repertoire.node_at(board)
        if node is None:
            self.said.emit("This position is not in the repertoire; take a line into it first.")
        else:
            self.edit_wanted.emit(node)

    def _take(self, board: chess.Board, moves: Sequence[chess.Move]) -> None:
        """Hand a line on, from the last position of it that the repertoire knows."""
        from trainer.engine.evaluation import line_sans

        course = self._course
        node = None if course is None else course.repertoire.node_at(board)
        if course is None or node is None:
            self.said.emit("This position is not in the repertoire, so no line can begin there.")
            return
        self.line_taken.emit(node, " ".join(line_sans(board, tuple(moves))))

    # -- testing -----------------------------------------------------------------------------

    def show_test(self) -> None:
        """The test of the repertoire: start it, stop it, see what it found."""
        if self._course is None:
            self.said.emit("Open a repertoire first; then it can be tested.")
            return
        if self.test_window is None:
            from trainer.ui.engine.test_window import TestWindow

            self.test_window = TestWindow(self.adviser, self._copy, self._look(), self._window)
            self.test_window.chosen.connect(self._look_at_finding)
            self.test_window.settings_wanted.connect(self.choose_engine)
            self.test_window.said.connect(self.said)
            self.test_window.line_taken.connect(self._take)
            self.test_window.edit_wanted.connect(self._edit)
            if self.adviser.cache().notice:
                self.said.emit(self.adviser.cache().notice)
        self.test_window.show()
        self.test_window.activateWindow()

    def _copy(
        self, then: Callable[[Repertoire, Weigh], None], failed: Callable[[str], None]
    ) -> None:
        """A copy of the open repertoire: the engine's thread must not read what is edited.

        With it goes how its replies weigh, as they were measured.
        """
        course = self._course
        if course is None:
            failed("Open a repertoire first; then it can be tested.")
            return
        repertoire = course.repertoire

        def work(_control: Any) -> Repertoire:
            from trainer.repertoire.workshop.merging import copy_repertoire

            return copy_repertoire(repertoire)

        self._runner.start(
            work, done=lambda copy: then(copy, course.measured.shares), failed=failed
        )

    def _look_at_finding(self, finding: Finding, repertoire: Repertoire) -> None:
        from trainer.engine.check import FindingKind
        from trainer.engine.check_report import move_number, where

        order = where(repertoire, finding.node, self._look().notation)
        number = move_number(repertoire, finding.node)
        shown = self.look_at_board(finding.node.board(), order, number)
        prepared = finding.kind in (FindingKind.LOSES, FindingKind.BETTER)
        if shown is not None and prepared and finding.move is not None:
            shown.ask_why_not(finding.move)

    # -- settings ----------------------------------------------------------------------------

    def choose_engine(self) -> None:
        """Which engine, and how much of the computer it may use."""
        from trainer.ui.engine.settings_dialog import EngineDialog

        dialog = EngineDialog(self._settings, self.adviser, self._window)
        with self._held():
            accepted = dialog.exec()
        if accepted:
            chosen = dialog.settings()
            self.settings_changed.emit(
                {
                    name: getattr(chosen, name)
                    for name in (
                        "engine",
                        "engine_hash_mb",
                        "engine_threads",
                        "engine_seconds",
                        "engine_nodes",
                        "engine_margin",
                    )
                }
            )
            if self.look_window is not None:
                self.look_window.ask_again()

    def close(self) -> None:
        """Stop everything and end the engine."""
        if self.look_window is not None:
            self.look_window.close()
        if self.test_window is not None:
            self.test_window.stop()
            self.test_window.close()
        if "replies" in self.__dict__:
            self.replies.close()
        if "adviser" in self.__dict__:
            self.adviser.close()
