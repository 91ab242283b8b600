"""The workshop as the window knows it: the open repertoire's edits, from opening to closing."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QTimer, Signal
from PySide6.QtWidgets import QMessageBox, QWidget

from trainer.errors import StemlineError
from trainer.repertoire.graph import Node
from trainer.repertoire.workshop.editor import Editor, Recovery, recover
from trainer.repertoire.workshop.edits import Edit
from trainer.repertoire.workshop.findings import AuditEntry
from trainer.repertoire.workshop.journal import Journal
from trainer.repertoire.workshop.waiting import Left, look_for_left
from trainer.resources import repertoire_path
from trainer.storage.settings import Settings
from trainer.ui.look import Look
from trainer.ui.message import tell
from trainer.ui.naming import NameTakenError
from trainer.ui.tasks import TaskControl, TaskRunner
from trainer.ui.workshop import boxes
from trainer.ui.workshop.author import Author
from trainer.ui.workshop.findings import Findings, find
from trainer.ui.workshop.page import WorkshopPage
from trainer.ui.workshop.workbench import Step, StepKind, Workbench

if TYPE_CHECKING:
    from trainer.memory.course import Course
    from trainer.repertoire.reader import LoadedRepertoire
    from trainer.ui.workshop.put_right import PutRightPage

#: After an edit, what takes a walk through all positions waits for so long without another.
_LOOK_AFTER_MS = 700
_ELSEWHERE = (
    "Another Stemline window is open, so nothing can be edited in this one; close the other and "
    "open the file again."
)

_DEMO = "kings-indian-attack.pgn"

JournalOf = Callable[[Path], Path]
Start = Callable[..., TaskControl]


class Desk(QObject):
    """Holds the page, the list, and the editor of the open repertoire."""

    #: A widget that takes the whole window: the page or the list.
    page_wanted = Signal(object)
    #: Back to where the player came from.
    left = Signal()
    #: What can be undone, what the title says.
    state_changed = Signal()
    #: The repertoire was edited and the player is elsewhere: the course is to be built anew.
    stale = Signal()
    #: A sentence for the status line.
    said = Signal(str)
    #: The file is to be read again.
    reopen = Signal(object)
    #: How many things are to be put right.
    counted = Signal(int)
    #: A saving went to this file.
    saved = Signal(object)

    def __init__(
        self, window: QWidget, runner: TaskRunner, journal_of: JournalOf, page: WorkshopPage
    ) -> None:
        super().__init__(window)
        self._window = window
        self._runner = runner
        self._journal_of = journal_of
        self.course: Course | None = None
        self.bench: Workbench | None = None
        self.findings = Findings()
        self._look: Look | None = None
        self.page = page
        self._list: PutRightPage | None = None
        self.author = Author(self.page, self)
        #: The revision that the course and the findings are of.
        self._course_of = 0
        self._looking: TaskControl | None = None
        self._from_list = False
        self._recovered: Editor | None = None
        self._look_later = QTimer(self)
        self._look_later.setSingleShot(True)
        self._look_later.setInterval(_LOOK_AFTER_MS)
        self._look_later.timeout.connect(self._look_through)
        self.author.leaving.connect(self._leave_page)
        self.author.asked.connect(self._asked)

    @property
    def list(self) -> PutRightPage:
        """What is to be put right; built when it is first looked at."""
        if self._list is None:
            from trainer.ui.workshop.put_right import PutRightPage

            self._list = PutRightPage()
            self._list.opened.connect(self._open_entry)
            self._list.leave.connect(self._leave_list)
            if self._look is not None:
                self._list.set_look(self._look)
            self._list.show_entries(self.findings.entries)
        return self._list

    def _show_entries(self, entries: Sequence[AuditEntry] | None) -> None:
        if self._list is not None:
            self._list.show_entries(entries)

    # -- opening -----------------------------------------------------------------------------

    def offer(
        self,
        loaded: LoadedRepertoire,
        start: Start,
        then: Callable[[LoadedRepertoire], None],
        *,
        forbidden: bool,
    ) -> None:
        """Offer back what was not saved last time, and go on with what comes of it.

        `start` starts work as `TaskRunner.start` does.
        """
        assert loaded.path is not None
        journal, name = self._journal_of(loaded.path), loaded.path.name

        def seen(left: Left) -> None:
            choice = boxes.Waiting.BRING_BACK if left.damaged else boxes.Waiting.KEEP
            if left.steps:
                choice = boxes.ask_about_waiting(self._window, name, left.steps)
            if choice is boxes.Waiting.BRING_BACK:
                start(lambda _control: recover(journal, loaded), done=recovered, failed=failed)
                return
            if choice is boxes.Waiting.GIVE_UP:
                try:
                    journal.unlink(missing_ok=True)
                except OSError as error:
                    self.said.emit(f"{journal} cannot be removed ({error.strerror or error}).")
            then(loaded)

        def recovered(recovery: Recovery) -> None:
            if recovery.problem is not None:
                kept = f" They are kept in {recovery.kept}." if recovery.kept else ""
                sentence = f"{recovery.problem}{kept}"
                tell(self._window, "Edits", sentence, QMessageBox.Icon.Warning)
            self._recovered = recovery.editor
            then(recovery.editor.loaded)

        def failed(sentence: str) -> None:
            tell(self._window, "Edits", sentence, QMessageBox.Icon.Warning)
            then(loaded)

        if forbidden or not journal.exists():
            then(loaded)
        else:
            start(lambda _control: look_for_left(journal), done=seen, failed=failed)

    def set_course(self, course: Course, *, forbidden: bool, revision: int = 0) -> None:
        """A repertoire was opened, or its course was built anew after edits (`revision`)."""
        self.course = course
        bench = self.bench
        if bench is None or bench.repertoire is not course.repertoire:
            self._take(course, forbidden=forbidden)
        else:
            self._course_of = revision
        self._look_through()
        self.state_changed.emit()

    def _take(self, course: Course, *, forbidden: bool) -> None:
        editor, self._recovered = self._recovered, None
        if editor is None or editor.repertoire is not course.repertoire:
            editor = Editor(course.loaded, Journal(self._journal_of(course.path)))
        bench = Workbench(editor, self._runner, self)
        bench.forbidden = _ELSEWHERE if forbidden else ""
        bench.wanted.connect(self._give_way)
        bench.stepped.connect(self._stepped)
        bench.changed.connect(self._changed)
        bench.said.connect(self._say)
        bench.warned.connect(self._warn)
        bench.occupied.connect(self._occupied)
        self.bench = bench
        self._course_of = 0
        self.findings = Findings(book=self.findings.book)
        self.author.take(bench)
        self._show_entries(None)

    def set_look(self, settings: Settings, look: Look) -> None:
        """Draw in another look."""
        self._look = look
        self.author.set_look(settings, look)
        if self._list is not None:
            self._list.set_look(look)

    def clear(self) -> None:
        """Let go of the repertoire, before another one is read; nothing unsaved is kept."""
        self.hush()
        bench, self.bench, self.course = self.bench, None, None
        self._recovered = None
        self.author.take(None)
        self._show_entries(())
        if bench is not None:
            self._close(bench)
            bench.deleteLater()
        self.state_changed.emit()

    def _close(self, bench: Workbench) -> None:
        try:
            bench.close(forget=True)
        except (StemlineError, OSError) as error:
            self.said.emit(str(error))

    # -- asking ------------------------------------------------------------------------------

    @property
    def unsaved(self) -> bool:
        """Whether there are edits that are not in the file."""
        return self.bench is not None and self.bench.unsaved

    @property
    def engaged(self) -> bool:
        """Whether leaving the file could lose something, or cannot be told yet."""
        writing = self.page.note.dirty or self.page.before.dirty
        bench = self.bench
        return bench is not None and (self.unsaved or bench.busy or bench.waiting > 0 or writing)

    @property
    def is_stale(self) -> bool:
        """Whether the course is older than the last edit."""
        bench = self.bench
        return bench is not None and (bench.revision != self._course_of or bench.waiting > 0)

    @property
    def revision(self) -> int:
        """How many steps were taken."""
        return 0 if self.bench is None else self.bench.revision

    @property
    def loaded(self) -> LoadedRepertoire | None:
        """The repertoire as it is now."""
        return None if self.bench is None else self.bench.editor.loaded

    @property
    def undoable(self) -> str:
        """The name of the step that would be undone, or nothing."""
        edit = None if self.bench is None else self.bench.editor.undoable
        return "" if edit is None else edit.title

    @property
    def redoable(self) -> str:
        """The name of the step that would be made again, or nothing."""
        edit = None if self.bench is None else self.bench.editor.redoable
        return "" if edit is None else edit.title

    def shows(self, widget: QWidget | None) -> bool:
        """Whether a widget is one of those shown here."""
        return widget is self.page or (widget is not None and widget is self._list)

    # -- going there -------------------------------------------------------------------------

    def put_down(self) -> None:
        """Take in what is being written: the player goes elsewhere."""
        self.page.keep_notes()

    def edit_at(self, node: Node | None = None) -> None:
        """Show the page at a position, or where the player was last."""
        if self.bench is None:
            return
        self._from_list = False
        self.bench.prepare()
        self._show_page()
        if node is None or not self.author.go_to(node):
            self.author.begin()
        self.page.take_keys()

    def show_list(self) -> None:
        """Show what is to be put right."""
        if self.bench is None:
            return
        self.page.keep_notes()
        self.page_wanted.emit(self.list)
        self.list.setFocus()
        # A drill may have changed what is often missed.
        self._look_through()

    def write_before(self) -> None:
        """Begin a text in front of the move that the page is about."""
        if self.page.isVisible():
            self.author.command("before")

    def _show_page(self) -> None:
        self._changed()
        self.page_wanted.emit(self.page)

    def _open_entry(self, entry: AuditEntry) -> None:
        self._from_list = True
        self._changed()
        self.page_wanted.emit(self.page)
        self.author.open_entry(entry)

    def _leave_page(self) -> None:
        if self._from_list:
            self._from_list = False
            self.show_list()
        else:
            self._leave_list()

    def _leave_list(self) -> None:
        # First, so that no place shows figures of what is not there any more.
        if self.is_stale:
            self.stale.emit()
        self.left.emit()

    # -- steps -------------------------------------------------------------------------------

    def do(self, edit: Edit) -> None:
        """Make an edit that some other part of the window asks for."""
        if self.bench is not None:
            if not self.bench.editor.journal_begun:
                # By the worker, as when the page is opened; the edit waits for its turn.
                self.bench.prepare()
            self.bench.do(edit)

    def undo(self) -> None:
        """Take back the last step and show where it was."""
        if self.bench is not None:
            self.page.keep_notes()
            self.bench.undo()

    def redo(self) -> None:
        """Make the last step again and show where it is."""
        if self.bench is not None:
            self.page.keep_notes()
            self.bench.redo()

    def _asked(self, name: str) -> None:
        {"save": self.save, "right": self.show_list, "undo": self.undo, "redo": self.redo}[name]()

    def _stepped(self, step: Step) -> None:
        if not self.page.isVisible() and step.kind is StepKind.DONE:
            self.said.emit(f"Done: {step.edit.title}. Ctrl+Z takes it back.")
            self.author.forget()
            self.stale.emit()
            return
        if not self.page.isVisible():
            self._from_list = False
            self.page_wanted.emit(self.page)
            self.page.take_keys()
        self.author.step_taken(step)

    def _changed(self) -> None:
        bench = self.bench
        if bench is None:
            return
        state = "Not saved" if bench.unsaved else ""
        if state and not bench.editor.has_journal:
            state = "Not saved, and a crash would lose it"
        self.page.show_state(state, undo=self.undoable, redo=self.redoable, save=bench.unsaved)
        self.state_changed.emit()

    def _say(self, sentence: str) -> None:
        if self.page.isVisible():
            self.page.say(sentence)
        else:
            self.said.emit(sentence)

    def _warn(self, sentence: str) -> None:
        if self.page.isVisible():
            self.page.say(sentence)
        self.said.emit(sentence)

    def _occupied(self, busy: bool) -> None:
        self._window.setEnabled(not busy)
        if busy:
            self.said.emit("One moment: this is a large edit …")
        else:
            self.said.emit("")
            self.page.take_keys()

    # -- looking through ---------------------------------------------------------------------

    def hush(self) -> None:
        """Look for nothing while something else is waited for."""
        self._look_later.stop()
        self._stop_looking()

    def look_again(self) -> None:
        """Look through the repertoire anew, a little later: other replies are likely now."""
        if self.bench is not None:
            self._give_way()

    def _give_way(self) -> None:
        """A step is about to be taken, and must not wait for what would be out of date."""
        self._stop_looking()
        self._look_later.start()

    def _stop_looking(self) -> None:
        if self._looking is not None:
            self._looking.cancel()
            self._looking = None

    def _look_through(self) -> None:
        bench, course = self.bench, self.course
        if bench is None or course is None or bench.busy:
            return
        self._stop_looking()
        answers, book, repertoire = tuple(course.answers), self.findings.book, bench.repertoire
        self._looking = self._runner.start(
            lambda control: find(repertoire, answers, book, control.cancelled, course.measured),
            done=self._found,
            failed=self._say,
        )

    def _found(self, findings: Findings) -> None:
        self._looking = None
        self.findings = findings
        self.author.show_findings(findings)
        self._show_entries(findings.entries)
        number = len(findings.entries)
        self.page.right.setText(f"To put right ({number:,})")
        self.counted.emit(number)

    # -- saving ------------------------------------------------------------------------------

    def save(self, then: Callable[[], None] | None = None) -> None:
        """Write the file; `then` is called once that is done."""
        self.page.keep_notes()
        bench, loaded = self.bench, self.loaded
        if bench is None or loaded is None:
            return
        if loaded.path is None or _is_shipped(loaded.path):
            self.save_as(then)
            return
        if loaded.skipped and not bench.saved_once:
            choice = boxes.ask_about_unread(self._window, loaded.path.name, len(loaded.skipped))
            if choice is not boxes.Unsaved.SAVE:
                if choice is boxes.Unsaved.DISCARD:
                    self.save_as(then)
                return
        self._write(bench, None, then)

    def save_as(self, then: Callable[[], None] | None = None) -> None:
        """Ask for a file and write to it."""
        self.page.keep_notes()
        bench, loaded = self.bench, self.loaded
        if bench is None or loaded is None:
            return
        suggested = loaded.path
        if suggested is not None and _is_shipped(suggested):
            suggested = Path.home() / suggested.name
        try:
            path = boxes.ask_where_to_save(self._window, suggested)
        except NameTakenError as error:
            tell(self._window, "Save as", str(error), QMessageBox.Icon.Warning)
            return
        if path is not None:
            self._write(bench, path, then)

    def _write(self, bench: Workbench, path: Path | None, then: Callable[[], None] | None) -> None:
        before = bench.editor.loaded.path

        def done() -> None:
            now = bench.editor.loaded.path
            assert now is not None
            self._say(f"Saved: {now.name}.")
            self.state_changed.emit()
            if now != before:
                self.saved.emit(now)
            if then is not None:
                then()

        def changed(sentence: str) -> None:
            choice = boxes.ask_about_change(self._window, sentence)
            if choice is boxes.Elsewhere.SAVE_AS:
                self.save_as(then)
            elif choice is boxes.Elsewhere.READ_ANEW:
                file = bench.editor.loaded.path
                self.clear()
                self.reopen.emit(file)

        moved = None if path is None or path == before else self._journal_of(path)
        bench.save(done=done, changed_elsewhere=changed, path=path, journal=moved)

    def settle(self, then: Callable[[], None]) -> None:
        """Ask about what is not saved, and call `then` unless the player stays.

        Afterwards the repertoire is let go of.
        """
        self.page.keep_notes()
        self._runner.alone(lambda: QTimer.singleShot(0, self, lambda: self._settle(then)))

    def _settle(self, then: Callable[[], None]) -> None:
        loaded = self.loaded
        if not self.unsaved or loaded is None:
            self.clear()
            then()
            return
        name = "The repertoire" if loaded.path is None else loaded.path.name
        choice = boxes.ask_about_unsaved(self._window, name)
        if choice is boxes.Unsaved.SAVE:
            self.save(lambda: self._settle(then))
        elif choice is boxes.Unsaved.DISCARD:
            self.clear()
            then()


def _is_shipped(path: Path) -> bool:
    """Whether a file came with the program, and is not the player's to change."""
    return path.resolve().parent == repertoire_path(_DEMO).resolve().parent
