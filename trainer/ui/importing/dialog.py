"""The dialog that makes a repertoire of whole games."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import chess
from PySide6.QtCore import QSize, Qt, QTimer
from PySide6.QtGui import QKeyEvent, QResizeEvent
from PySide6.QtWidgets import (
    QApplication,
    QBoxLayout,
    QDialog,
    QFileDialog,
    QFrame,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from trainer.repertoire.side import SIDE_NAMES
from trainer.repertoire.workshop.edits import Merge
from trainer.repertoire.workshop.import_files import refusal, save_imported, target_files
from trainer.repertoire.workshop.kept_games import KeptGames
from trainer.ui.button_grid import ButtonGrid
from trainer.ui.importing.choices import Choices
from trainer.ui.importing.files import FileList
from trainer.ui.importing.preview import Preview
from trainer.ui.importing.wish import Outcome, Player, Wish, fulfil, players_of
from trainer.ui.labels import text_label
from trainer.ui.look import Look
from trainer.ui.naming import NameTakenError, with_ending

if TYPE_CHECKING:
    from trainer.memory.course import Course
    from trainer.storage.settings import Settings
    from trainer.ui.tasks import TaskControl, TaskRunner, Work

_COUNT_AFTER_MS = 300
_NO_FILES = "Add files of whole games in PGN: your own, or those of a player you follow."
_STOPPED = "Stopped. Change something, or count again."


@dataclass(frozen=True)
class OpenRepertoire:
    """The repertoire that is open, into which games can be merged."""

    title: str
    side: chess.Color
    path: Path | None


@dataclass(frozen=True)
class Wanted:
    """What the player made of games: files to open the first of, or an edit, or nothing."""

    saved: tuple[Path, ...] = ()
    merge: Merge | None = None


def ask_for_import(
    parent: QWidget, runner: TaskRunner, look: Look, settings: Settings, course: Course | None
) -> Wanted:
    """Show the dialog; with `course`, the games may be merged into its repertoire."""
    opened = None if course is None else OpenRepertoire(course.title, course.side, course.path)
    last = settings.last_file
    folder = str(Path(last).parent) if last else str(Path.home())
    dialog = ImportDialog(runner, look, folder=folder, opened=opened, parent=parent)
    dialog.exec()
    wanted = Wanted(tuple(dialog.saved), dialog.merge)
    dialog.deleteLater()
    return wanted


class ImportDialog(QDialog):
    """Files on the left with what to take of them; what comes out on the right.

    When it is accepted, `saved` names the new files, the first to be opened, or `merge` is the
    edit that takes the games into the open repertoire.
    """

    def __init__(
        self,
        runner: TaskRunner,
        look: Look,
        *,
        folder: str = "",
        opened: OpenRepertoire | None = None,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle("Import games")
        self.saved: list[Path] = []
        self.merge: Merge | None = None
        self._runner, self._look, self._opened = runner, look, opened
        self._games = KeptGames(())
        self._players_of: KeptGames | None = None
        self._outcome: Outcome | None = None
        self._task: TaskControl | None = None
        #: The worker is writing what came out, so that must not be taken apart.
        self._writing = False
        self.files = FileList(folder)
        self.choices = Choices()
        self.preview = Preview()
        self.said = text_label("")
        self.again = QPushButton("Co&unt again")
        self.save = QPushButton("&Save …")
        self.save.setToolTip("Save as a new repertoire and open it")
        self.save.setProperty("primary", True)
        self.merge_button = QPushButton("&Merge")
        self.merge_button.setVisible(opened is not None)
        self.cancel = QPushButton("&Cancel")
        self._pause = QTimer(self)
        self._pause.setSingleShot(True)
        self._pause.setInterval(_COUNT_AFTER_MS)
        self._lay_out()
        self._connect()
        self._say("")
        self._show_nothing(_NO_FILES)
        self.files.add.setFocus()

    # -- building ----------------------------------------------------------------------------

    def _lay_out(self) -> None:
        page = QWidget()
        column = QVBoxLayout(page)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(text_label("Games", "heading"))
        column.addWidget(self.files)
        column.addWidget(self.choices)
        column.addStretch(1)
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QFrame.Shape.NoFrame)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        scroll.setWidget(page)
        self._wanted_width = page.minimumSizeHint().width() + 24
        scroll.setMinimumWidth(self._wanted_width)
        self._sides = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self._sides.addWidget(scroll, 6)
        self._sides.addWidget(self.preview, 5)
        shown = [self.again, self.merge_button, self.save, self.cancel]
        if self._opened is None:
            shown.remove(self.merge_button)
        outer = QVBoxLayout(self)
        outer.addLayout(self._sides, 1)
        outer.addWidget(self.said)
        outer.addWidget(ButtonGrid(shown))
        for button in self.findChildren(QPushButton):
            button.setAutoDefault(False)
        self.save.setAutoDefault(True)
        screen = QApplication.primaryScreen().availableSize()
        wanted = QSize(round(900 * self._look.scale), round(600 * self._look.scale))
        self.resize(wanted.boundedTo(screen))

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        across, down = QBoxLayout.Direction.LeftToRight, QBoxLayout.Direction.TopToBottom
        beside = self.width() >= 1.7 * self._wanted_width
        self._sides.setDirection(across if beside else down)

    def _connect(self) -> None:
        self.files.changed.connect(self._files_changed)
        self.choices.changed.connect(self._count_soon)
        self.preview.stopped.connect(self.stop)
        self.again.clicked.connect(self._count)
        self.cancel.clicked.connect(self.reject)
        self.save.clicked.connect(self._ask_where)
        self.merge_button.clicked.connect(self._begin_merge)
        self._pause.timeout.connect(self._count)

    def add_files(self, paths: Iterable[Path]) -> None:
        """Import from these files too."""
        self.files.add_files(paths)

    # -- counting ----------------------------------------------------------------------------

    def _files_changed(self) -> None:
        self._games = KeptGames(self.files.paths)
        self._count_soon()

    def _count_soon(self) -> None:
        self._drop()
        if not self._games.paths:
            self.choices.set_players(())
            self._show_nothing(_NO_FILES)
            return
        self.preview.show_counting()
        self._pause.start()

    def _count(self) -> None:
        """Look who plays in new files, then make what is wanted of them."""
        self._drop()
        if not self._games.paths:
            return
        self.preview.show_counting()
        games, plies = self._games, self.choices.plies.value()
        if self._players_of is not games:
            self._start(
                lambda control: players_of(games, plies, control.report, control.cancelled),
                self._got_players,
            )
            return
        wish = Wish(games, self.choices.wanted_side(), self.choices.options())
        notation = self._look.notation
        self._start(
            lambda control: fulfil(wish, notation, control.report, control.cancelled), self._got
        )

    def _start(self, work: Work, done: Any) -> None:
        self._task = self._runner.start(
            work, done=done, failed=self._failed, progressed=self.preview.show_counting
        )

    def _got_players(self, players: list[Player]) -> None:
        self._players_of = self._games
        self.choices.set_players(players)
        self._count()

    def _got(self, outcome: Outcome) -> None:
        self._task = None
        self._outcome = outcome
        self.preview.show_outcome(outcome)
        self._say("")
        self._enable()

    def _failed(self, sentence: str) -> None:
        self._task = None
        self._show_nothing(sentence)

    def stop(self) -> None:
        """Stop counting."""
        self._drop()
        self._show_nothing(_STOPPED if self._games.paths else _NO_FILES)

    def _drop(self) -> None:
        """Stop what is under way and let go of what came out before."""
        self._pause.stop()
        if self._task is not None:
            self._task.cancel()
            self._task = None
        if self._outcome is not None and not self._writing:
            self._outcome.dismantle()
        self._outcome = None
        self._enable()

    def _show_nothing(self, sentence: str) -> None:
        self.preview.show_sentence(sentence)
        self._enable()

    def _enable(self) -> None:
        outcome = self._outcome
        self.again.setEnabled(bool(self._games.paths))
        self.save.setEnabled(outcome is not None)
        if self._opened is not None:
            fits = outcome is not None and self._opened.side in outcome.by_side
            self.merge_button.setEnabled(fits)
            self.merge_button.setToolTip(
                f"Merge into “{self._opened.title}”, the open repertoire for "
                f"{SIDE_NAMES[self._opened.side]}"
            )

    # -- what becomes of it ------------------------------------------------------------------

    def _ask_where(self) -> None:
        outcome = self._outcome
        if outcome is None:
            return
        first = self._games.paths[0]
        suggested = first.with_name(f"{first.stem}-repertoire.pgn")
        name, _kind = QFileDialog.getSaveFileName(
            self, "Save the repertoire", str(suggested), "Repertoires in PGN (*.pgn)"
        )
        if not name:
            return
        try:
            self.save_as(with_ending(name, ".pgn"))
        except NameTakenError as error:
            self._say(str(error))

    def save_as(self, path: Path) -> None:
        """Write what came out to `path`, or beside it, one file for each side."""
        outcome = self._outcome
        if outcome is None:
            return
        files = target_files(path, outcome.by_side)
        opened = None if self._opened is None else self._opened.path
        for file in files.values():
            sentence = refusal(file, self._games.paths, opened)
            if not sentence and file != path and file.exists():
                # The file dialog has asked about the name as it was typed only.
                sentence = f"There is a file {file.name} already; choose another name."
            if sentence:
                self._say(sentence)
                return
        self._busy("Saving …")
        self._task = self._runner.start(
            lambda _control: save_imported(outcome.by_side, files),
            done=self._saved,
            failed=self._not_done,
        )

    def _saved(self, paths: list[Path]) -> None:
        self._task = None
        self.saved = paths
        self.accept()

    def _begin_merge(self) -> None:
        outcome, opened = self._outcome, self._opened
        if outcome is None or opened is None:
            return
        repertoire = outcome.by_side[opened.side].repertoire
        self._busy("Getting ready …")
        self._task = self._runner.start(
            lambda _control: Merge.of(repertoire), done=self._merge_ready, failed=self._not_done
        )

    def _merge_ready(self, edit: Merge) -> None:
        self._task = None
        self.merge = edit
        self.accept()

    def _busy(self, sentence: str) -> None:
        self._writing = True
        self._say(sentence)
        for form in (self.files, self.choices):
            form.setEnabled(False)
        for button in (self.save, self.merge_button, self.again):
            button.setEnabled(False)

    def _say(self, sentence: str) -> None:
        self.said.setText(sentence)
        self.said.setVisible(bool(sentence))

    def _not_done(self, sentence: str) -> None:
        self._task = None
        self._writing = False
        self._say(sentence)
        for form in (self.files, self.choices):
            form.setEnabled(True)
        self._enable()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        # In a field, Enter only takes over what is typed there.
        button = isinstance(self.focusWidget(), QPushButton)
        if button or event.key() not in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            super().keyPressEvent(event)

    def done(self, result: int) -> None:
        self._drop()
        super().done(result)
