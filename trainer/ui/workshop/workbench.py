"""The editor of the open repertoire in the window: each step in its turn with other work.

Edits change the graph that the runner's worker reads. They are made in the thread of the window
while no work is under way (`TaskRunner.alone`), large ones by the worker itself; so nothing ever
reads the graph while it changes, and nothing waits in the thread of the window.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum, auto
from pathlib import Path
from typing import TypeVar

from PySide6.QtCore import QObject, QTimer, Signal

from trainer.errors import FileChangedError, StemlineError
from trainer.repertoire.graph import Repertoire
from trainer.repertoire.workshop.editor import Editor
from trainer.repertoire.workshop.edits import DeleteSections, Edit, Merge, Paste
from trainer.repertoire.workshop.journal import Journal, JournalError
from trainer.repertoire.workshop.results import Result
from trainer.repertoire.workshop.transaction import Transaction
from trainer.ui.tasks import TaskRunner

_T = TypeVar("_T")

#: A text of more characters, or a step of more changes, may take longer than the window can wait.
_LONG_TEXT = 4000
_MANY_CHANGES = 10_000
_FLUSH_EVERY_MS = 500
#: After so long without a step, all of the journal is on the disk.
_FLUSHED_AFTER = 3.0
_WITHOUT_JOURNAL = "Editing goes on, but a crash would now lose what is not saved."


class StepKind(Enum):
    """What became of an edit."""

    DONE = auto()
    UNDONE = auto()
    REDONE = auto()


@dataclass(frozen=True, eq=False)
class Step:
    """An edit that was made, taken back or made again; `result` is None where it was not made."""

    kind: StepKind
    edit: Edit
    result: Result | None = None


@dataclass(frozen=True)
class _Saved:
    """What became of a saving; `changed_elsewhere` is the sentence of `FileChangedError`."""

    warning: str = ""
    changed_elsewhere: str = ""


class Workbench(QObject):
    """Makes, undoes and saves; says what happened."""

    #: A `Step` was taken.
    stepped = Signal(object)
    #: A step is about to be taken: what only reads the graph may give way.
    wanted = Signal()
    #: What can be undone, or whether all is saved, has changed.
    changed = Signal()
    #: One sentence: why a step was not taken.
    said = Signal(str)
    #: One sentence: the journal cannot be written, and editing goes on without it.
    warned = Signal(str)
    #: Whether the worker is changing the graph, so that nobody may look at it.
    occupied = Signal(bool)

    def __init__(self, editor: Editor, runner: TaskRunner, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.editor = editor
        self._runner = runner
        #: Rises with each step that changed the graph.
        self.revision = 0
        self.busy = False
        #: How many steps wait until other work has ended.
        self.waiting = 0
        #: Where nothing may be edited: the sentence that says why.
        self.forbidden = ""
        #: Whether the file was written since it was opened.
        self.saved_once = False
        self._saving = False
        self._closed = False
        self._last_step = 0.0
        self._warning = ""
        self._flush = QTimer(self)
        self._flush.setInterval(_FLUSH_EVERY_MS)
        self._flush.timeout.connect(self._flush_journal)

    # -- asking ------------------------------------------------------------------------------

    @property
    def repertoire(self) -> Repertoire:
        """The graph being edited."""
        return self.editor.repertoire

    @property
    def unsaved(self) -> bool:
        """Whether there are edits that are not in the file."""
        return self.editor.changed

    def preview(self, edit: Edit, then: Callable[[Result], None], *, large: bool = False) -> None:
        """Hand `then` what an edit would tell, without making it."""
        if large:
            self._in_worker(lambda: self._look(edit), then)
            return

        def look() -> None:
            try:
                result = self._look(edit)
            except StemlineError as error:
                self.said.emit(str(error))
            else:
                then(result)

        self._alone(look)

    def _look(self, edit: Edit) -> Result:
        transaction = Transaction(self.repertoire)
        try:
            return edit.apply(transaction)
        finally:
            transaction.roll_back()

    # -- steps -------------------------------------------------------------------------------

    def do(self, edit: Edit, *, instead: Edit | None = None, large: bool = False) -> None:
        """Make an edit, a `large` one off this thread; what follows is told by the signals.

        Where `instead` is what was done last, it is taken back first: the text of a note grows
        without a step for each pause in typing.
        """
        if self.forbidden:
            self.said.emit(self.forbidden)
            return
        if large or _is_large(edit):
            self._in_worker(
                lambda: self._without_journal_if_need_be(lambda: self.editor.do(edit)),
                lambda result: self._done(edit, result),
            )
            return

        def act() -> None:
            taken_back = instead is not None and self.editor.undoable is instead
            if taken_back:
                self._guarded(self.editor.undo)
            result = self._guarded(lambda: self.editor.do(edit))
            if result is None and taken_back:
                self._guarded(self.editor.redo)
            self._done(edit, result)

        self._alone(act)

    def undo(self) -> None:
        """Take back the last step."""
        large = self.editor.undo_size > _MANY_CHANGES
        self._move(StepKind.UNDONE, self.editor.undo, large=large)

    def redo(self) -> None:
        """Make again what was undone last."""
        large = self.editor.redo_size > _MANY_CHANGES
        self._move(StepKind.REDONE, self.editor.redo, large=large)

    def _move(self, kind: StepKind, move: Callable[[], Edit | None], *, large: bool) -> None:
        if large:
            self._in_worker(
                lambda: self._without_journal_if_need_be(move),
                lambda edit: self._moved(kind, edit),
            )
        else:
            self._alone(lambda: self._moved(kind, self._guarded(move)))

    def _alone(self, act: Callable[[], None]) -> None:
        if self._closed or self.busy:
            return
        self.wanted.emit()
        self.waiting += 1

        def in_turn() -> None:
            self.waiting -= 1
            if not self._closed and not self.busy:
                act()

        self._runner.alone(in_turn)

    def _guarded(self, work: Callable[[], _T | None]) -> _T | None:
        """Do it; None, with the reason told, where it failed."""
        try:
            return self._without_journal_if_need_be(work)
        except StemlineError as error:
            self.said.emit(str(error))
            return None

    def _without_journal_if_need_be(self, work: Callable[[], _T]) -> _T:
        """Do it, and where the journal cannot be written, once more without."""
        try:
            return work()
        except JournalError as error:
            self.editor.stop_journal()
            self._warning = f"{error} {_WITHOUT_JOURNAL}"
            return work()

    def _done(self, edit: Edit, result: Result | None) -> None:
        if result is not None:
            self._count()
            self.stepped.emit(Step(StepKind.DONE, edit, result))
        self._settle()

    def _moved(self, kind: StepKind, edit: Edit | None) -> None:
        if edit is not None:
            self._count()
            self.stepped.emit(Step(kind, edit))
        self._settle()

    def _settle(self) -> None:
        """After a step, whose own words are shown by then."""
        self.changed.emit()
        warning, self._warning = self._warning, ""
        if warning:
            self.warned.emit(warning)

    def _count(self) -> None:
        self.revision += 1
        self._last_step = time.monotonic()
        self._flush.start()

    def _in_worker(self, work: Callable[[], _T], done: Callable[[_T], None]) -> None:
        """Have the worker change the graph; while it does, nobody may look at it."""
        if self._closed or self.busy:
            return

        def over(result: _T) -> None:
            self._occupy(busy=False)
            done(result)

        def failed(sentence: str) -> None:
            self._occupy(busy=False)
            self._settle()
            self.said.emit(sentence)

        self.wanted.emit()
        self._occupy(busy=True)
        self._runner.start(lambda _control: work(), done=over, failed=failed)

    def _occupy(self, *, busy: bool) -> None:
        self.busy = busy
        self.occupied.emit(busy)

    # -- saving ------------------------------------------------------------------------------

    def save(
        self,
        *,
        done: Callable[[], None],
        changed_elsewhere: Callable[[str], None],
        path: Path | None = None,
        journal: Path | None = None,
    ) -> None:
        """Write the file, or another one at `path` with the journal at `journal` from then on.

        `changed_elsewhere` gets one sentence where another program changed the file; other
        troubles are told by `said`.
        """
        if self._closed or self.busy or self._saving:
            return
        self._saving = True

        def saved(result: _Saved) -> None:
            self._saving = False
            self.changed.emit()
            if result.changed_elsewhere:
                changed_elsewhere(result.changed_elsewhere)
                return
            self.saved_once = True
            done()
            if result.warning:
                self.warned.emit(result.warning)

        def failed(sentence: str) -> None:
            self._saving = False
            self.said.emit(sentence)

        self._runner.start(
            lambda _control: _save(self.editor, path, journal), done=saved, failed=failed
        )

    def _flush_journal(self) -> None:
        if time.monotonic() - self._last_step > _FLUSHED_AFTER:
            self._flush.stop()
        # The disk may take its time, so this is work for the worker.
        self._runner.start(
            lambda _control: self.editor.flush_due(time.monotonic()),
            done=lambda _none: None,
            failed=self._not_flushed,
        )

    def _not_flushed(self, sentence: str) -> None:
        self._flush.stop()
        self.warned.emit(sentence)

    def prepare(self) -> None:
        """Have the journal begun before the first edit, which would else wait for the disk."""
        if self._closed or self.busy or self.forbidden:
            return
        self._runner.start(
            lambda _control: self.editor.prepare_journal(),
            done=lambda _none: None,
            failed=self._not_prepared,
        )

    def _not_prepared(self, sentence: str) -> None:
        self.editor.stop_journal()
        self.warned.emit(f"{sentence} {_WITHOUT_JOURNAL}")

    def close(self, *, forget: bool = False) -> None:
        """Let go of the file; with `forget`, what is not saved is given up.

        Call it when no work is under way. Raises `JournalError`.
        """
        if self._closed:
            return
        self._closed = True
        self._flush.stop()
        self.editor.close(forget=forget)


def _is_large(edit: Edit) -> bool:
    if isinstance(edit, Paste):
        return len(edit.text) > _LONG_TEXT
    if isinstance(edit, Merge):
        return len(edit.pgn) > _LONG_TEXT
    return isinstance(edit, DeleteSections)


def _save(editor: Editor, path: Path | None, journal: Path | None) -> _Saved:
    warning = ""
    try:
        editor.save(path)
    except FileChangedError as error:
        return _Saved(changed_elsewhere=str(error))
    except JournalError as error:
        # The file is written by then; only the journal could not be begun anew.
        editor.stop_journal()
        warning = f"{error} {_WITHOUT_JOURNAL}"
    if journal is not None and not warning:
        try:
            editor.move_journal(Journal(journal))
        except (JournalError, OSError) as error:
            editor.stop_journal()
            warning = f"{error} {_WITHOUT_JOURNAL}"
    if not warning:
        try:
            editor.prepare_journal()
        except JournalError as error:
            editor.stop_journal()
            warning = f"{error} {_WITHOUT_JOURNAL}"
    return _Saved(warning=warning)
