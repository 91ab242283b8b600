"""The window's reference base: which it is, what it is asked, and building one in the background.

Look-ups and builds have a thread each, so that neither waits for other work of the window.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QWidget

from trainer.errors import StemlineError
from trainer.storage.log import BugLog
from trainer.storage.settings import Settings
from trainer.ui.look import FIRST_LOOK, Look
from trainer.ui.tasks import TaskControl, TaskRunner

if TYPE_CHECKING:
    import chess

    from trainer.games.base.builder import BuildReport
    from trainer.games.base.figures import GameEntry
    from trainer.games.base.store import ReferenceBase
    from trainer.ui.base.dialog import BaseDialog
    from trainer.ui.base.game_dialog import BaseGameDialog
    from trainer.ui.base.rows import Found


class BaseDesk(QObject):
    """Holds the chosen base. `folder` is where a new one is put unless the player says else."""

    #: Another base was chosen, or games were added to this one.
    changed = Signal()
    #: Another `Look`.
    look_changed = Signal(object)
    #: The name of the chosen file, for the settings; "" for none.
    chosen = Signal(str)
    #: The share of a build that is done.
    progressed = Signal(float)
    #: A build has ended: the sentences about it, and whether it went well.
    built = Signal(str, bool)

    def __init__(self, window: QWidget, log: BugLog, folder: Path) -> None:
        super().__init__(window)
        self._window = window
        self.folder = folder
        self._asking = TaskRunner(log, self)
        self._building = TaskRunner(log, self)
        self._build: TaskControl | None = None
        self._stopped: set[TaskControl] = set()
        self.settings = Settings()
        self.look = FIRST_LOOK
        self.path: Path | None = None
        self._base: ReferenceBase | None = None
        #: Bases that are not wanted any more and still open.
        self._left: list[ReferenceBase] = []
        self.dialog: BaseDialog | None = None
        self.game: BaseGameDialog | None = None

    # -- which base --------------------------------------------------------------------------

    @property
    def has_base(self) -> bool:
        """Whether a base is chosen; it may still turn out that it cannot be read."""
        return self.path is not None

    def set_look(self, settings: Settings, look: Look) -> None:
        """Draw in another look, and use the base that the settings name."""
        self.settings, self.look = settings, look
        path = Path(settings.base_file) if settings.base_file else None
        if path != self.path:
            self.path = path
            self._changed()
        if self.game is not None:
            self.game.set_look(settings, look)
        self.look_changed.emit(look)

    def choose(self, path: Path | None) -> None:
        """Use the base at `path` from now on, or none."""
        self.path = path
        self.chosen.emit("" if path is None else str(path))
        self._changed()

    def _changed(self) -> None:
        if self._base is not None:
            self._left.append(self._base)
            self._base = None
            self._asking.start(lambda _control: self._close_left(), done=_nothing, failed=_nothing)
        self.changed.emit()

    def _opened(self) -> ReferenceBase:
        """The base, opened at first use; for the asking thread. Raises `BaseFileError`."""
        from trainer.games.base.store import ReferenceBase

        assert self.path is not None
        if self._base is None or self._base.path != self.path:
            self._base = ReferenceBase(self.path)
        return self._base

    # -- asking ------------------------------------------------------------------------------

    def look_up(
        self,
        board: chess.Board,
        done: Callable[[Found | None], None],
        failed: Callable[[str], None],
    ) -> TaskControl:
        """Tell `done` what the base holds of a position, or `failed` why that cannot be."""

        def work(control: TaskControl) -> Found | None:
            from trainer.ui.base.rows import look_up

            return look_up(self._opened(), board, control.cancelled)

        return self._asking.start(work, done=done, failed=failed)

    def ask(
        self,
        question: Callable[[ReferenceBase], object],
        done: Callable[[object], None],
        failed: Callable[[str], None],
    ) -> TaskControl | None:
        """Tell `done` what `question` finds in the base; None where none is chosen."""
        if not self.has_base:
            return None
        return self._asking.start(
            lambda _control: question(self._opened()), done=done, failed=failed
        )

    def describe(
        self, path: Path, done: Callable[[str], None], describing: Callable[[Path], str]
    ) -> None:
        """Tell `done` what the base at `path` holds, while that is the chosen one."""

        def tell(sentences: str) -> None:
            if path == self.path:
                done(sentences)

        self._asking.start(lambda _control: describing(path), done=tell, failed=done)

    def show_game(self, entry: GameEntry, board: chess.Board | None = None) -> None:
        """Show a game of the base on a board, at the position on `board` where it has that."""
        from trainer.ui.base.game_dialog import BaseGameDialog, replay

        def show(found: object) -> None:
            if self.game is None:
                self.game = BaseGameDialog(self.settings, self.look, self._window)
            self.game.show_game(entry, found, board)

        def fail(sentence: str) -> None:
            from trainer.ui.message import tell

            tell(self._window, "Game", sentence)

        self.ask(lambda base: replay(base.game_text(entry)), show, fail)

    # -- building ----------------------------------------------------------------------------

    def show_dialog(self) -> None:
        """Let the player choose or build a base."""
        from trainer.ui.base.dialog import BaseDialog

        if self.dialog is None:
            self.dialog = BaseDialog(self, self._window)
        self.dialog.renew()
        self.dialog.show()
        self.dialog.activateWindow()

    @property
    def is_building(self) -> bool:
        """Whether a build is under way."""
        return self._build is not None

    def build(self, path: Path, files: Sequence[Path]) -> None:
        """Add files to the base at `path`, which is made where it is not there, and use it."""
        if self._build is not None:
            return

        def work(control: TaskControl) -> BuildReport:
            import os

            from trainer.games.base.builder import build_base

            # One core is left to the window; and never this process, which has to draw.
            jobs = max(2, (os.cpu_count() or 1) - 1)
            return build_base(
                path,
                list(files),
                jobs=jobs,
                progress=control.report,
                cancelled=lambda: control.cancelled() or control in self._stopped,
            )

        self._stopped.clear()
        self._build = self._building.start(
            work,
            done=lambda report: self._done(path, report),
            failed=self._failed,
            progressed=self.progressed.emit,
        )

    def stop(self) -> None:
        """Stop the build; it says so when it has stopped."""
        if self._build is not None:
            self._stopped.add(self._build)

    def _done(self, path: Path, report: BuildReport) -> None:
        from trainer.games.base.report import build_text, unused_lines

        self._build = None
        lines = unused_lines(report.unused[:8])
        if len(report.unused) > len(lines):
            lines.append(f"… and {len(report.unused) - len(lines):,} more.")
        self.built.emit("\n".join([build_text(report), *lines]), True)
        self.choose(path)

    def _failed(self, sentence: str) -> None:
        self._build = None
        self.built.emit(sentence, False)

    def close(self) -> None:
        """Stop everything and let the file go."""
        self._building.close()
        self._asking.close()
        if self._base is not None:
            self._left.append(self._base)
            self._base = None
        # Work that has not begun when a runner is closed is never done.
        self._close_left()

    def _close_left(self) -> None:
        """Close what is not wanted any more, in the thread that asks the base or after it."""
        while self._left:
            self._left.pop().close()


def describe(path: Path) -> str:
    """What a base holds, in sentences, or why it cannot be read; for a worker thread."""
    from trainer.games.base.report import summary_text
    from trainer.games.base.store import ReferenceBase

    try:
        with ReferenceBase(path) as base:
            return summary_text(base.summary())
    except StemlineError as error:
        return str(error)


def _nothing(_value: object) -> None:
    return
