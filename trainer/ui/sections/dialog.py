"""The dialog of the sections: a list, and what can be done with those that are chosen."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QKeyEvent, QKeySequence, QResizeEvent, QShortcut
from PySide6.QtWidgets import (
    QApplication,
    QBoxLayout,
    QDialog,
    QFrame,
    QLineEdit,
    QMessageBox,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from trainer.repertoire.workshop.edits import (
    AddSection,
    DeleteSections,
    MoveSection,
    SetIntro,
    SetTitle,
)
from trainer.repertoire.workshop.results import Edited, Removed, Result
from trainer.repertoire.workshop.text import clean_text, split_paragraphs
from trainer.ui.button_grid import ButtonGrid
from trainer.ui.labels import text_label
from trainer.ui.message import Role, ask, message_box
from trainer.ui.sections.merging import Merger
from trainer.ui.sections.section_list import SectionList
from trainer.ui.sections.splitting import Splitter
from trainer.ui.sections.words import (
    deletion_question,
    deletion_sentence,
    section_rows,
    written_title,
)
from trainer.ui.workshop.note_edit import NoteEdit
from trainer.ui.workshop.report import told
from trainer.ui.workshop.workbench import Step, StepKind

if TYPE_CHECKING:
    from trainer.storage.settings import Settings
    from trainer.ui.look import Look
    from trainer.ui.tasks import TaskRunner
    from trainer.ui.workshop.workbench import Workbench

_NEW = "New section"


class SectionsDialog(QDialog):
    """Every change is a step of the workbench, so all of it can be undone."""

    def __init__(
        self,
        bench: Workbench,
        runner: TaskRunner,
        settings: Settings,
        look: Look,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle("Sections")
        self._bench, self._settings, self._look = bench, settings, look
        #: Whose title and introduction stand in the fields.
        self._shown: int | None = None
        #: The introduction that grows while it is typed, as one step.
        self._writing: SetIntro | None = None
        self.list = SectionList()
        self.title = QLineEdit()
        self.intro = NoteEdit("Introduction", "What this section is about")
        self.said = text_label("")
        self.up = _button("&Up", "Move the section up (Alt+Up)")
        self.down = _button("&Down", "Move the section down (Alt+Down)")
        self.new = _button("&New", "Begin a section at the start of the game")
        self.new_here = _button("New &position …", "Begin a section at a position set up by hand")
        self.delete = _button("De&lete …", "Delete the chosen sections (Delete)")
        self.split = _button("To a new &file …", "Write the chosen sections to a file")
        self.merge = _button("&Merge …", "Take in another repertoire file")
        self.undo = _button("Und&o", "Take back the last step (Ctrl+Z)")
        self.redo = _button("&Redo", "Make it again (Ctrl+Shift+Z)")
        self.close_button = _button("&Close", "Close (Escape)")
        self.merger = Merger(self, bench, runner, look.notation)
        self.splitter = Splitter(self, bench, runner)
        self._lay_out()
        self._connect()
        self._show_list(0)
        self.list.setFocus()

    # -- building ----------------------------------------------------------------------------

    def _lay_out(self) -> None:
        self.title.setAccessibleName("Title of the section")
        self.title.setPlaceholderText("Title of the section")
        words = QWidget()
        column = QVBoxLayout(words)
        column.setContentsMargins(0, 0, 6, 0)
        column.addWidget(text_label("Title", "muted"))
        column.addWidget(self.title)
        column.addWidget(text_label("Introduction", "muted"))
        column.addWidget(self.intro)
        column.addWidget(
            ButtonGrid(
                [
                    *(self.up, self.down, self.new, self.new_here, self.delete),
                    *(self.split, self.merge, self.undo, self.redo, self.close_button),
                ]
            )
        )
        column.addStretch(1)
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QFrame.Shape.NoFrame)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        scroll.setWidget(words)
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._words_width = words.minimumSizeHint().width() + 24
        scroll.setMinimumWidth(self._words_width)
        self._sides = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self._sides.addWidget(self.list, 3)
        self._sides.addWidget(scroll, 2)
        outer = QVBoxLayout(self)
        outer.setSizeConstraint(QVBoxLayout.SizeConstraint.SetNoConstraint)
        outer.addLayout(self._sides, 1)
        outer.addWidget(self.said)
        screen = QApplication.primaryScreen().availableSize()
        wanted = QSize(round(860 * self._look.scale), round(520 * self._look.scale))
        self.resize(wanted.boundedTo(screen))

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        across, down = QBoxLayout.Direction.LeftToRight, QBoxLayout.Direction.TopToBottom
        beside = self.width() >= 2 * self._words_width
        self._sides.setDirection(across if beside else down)
        self._sides.setStretch(0, 3 if beside else 2)
        self._sides.setStretch(1, 2 if beside else 3)

    def minimumSizeHint(self) -> QSize:
        # As narrow as with the words below the list, whichever way they stand now.
        return QSize(self._words_width + 40, super().minimumSizeHint().height())

    def _connect(self) -> None:
        self.list.currentItemChanged.connect(lambda _now, _before: self._show_words())
        self.list.itemSelectionChanged.connect(self._enable)
        self.title.editingFinished.connect(self._rename)
        self.intro.written.connect(self._write_intro)
        self.intro.finished.connect(self.list.setFocus)
        for button, slot in (
            (self.up, partial(self._move, -1)),
            (self.down, partial(self._move, 1)),
            (self.new, self._begin_at_start),
            (self.new_here, self._begin_at_position),
            (self.delete, self._ask_to_delete),
            (self.split, self._split),
            (self.merge, self._merge),
            (self.undo, self._undo),
            (self.redo, self._redo),
            (self.close_button, self.reject),
        ):
            button.clicked.connect(lambda _checked=False, slot=slot: slot())
        for keys, slot in (
            ("Alt+Up", partial(self._move, -1)),
            ("Alt+Down", partial(self._move, 1)),
            ("Ctrl+Z", self._undo),
            ("Ctrl+Shift+Z", self._redo),
        ):
            QShortcut(QKeySequence(keys), self).activated.connect(slot)
        # Queued, so that no box is opened from inside the key's own event.
        self.list.delete_pressed.connect(self._ask_to_delete, Qt.ConnectionType.QueuedConnection)
        self._bench.stepped.connect(self._stepped)
        self._bench.changed.connect(self._enable)
        self._bench.said.connect(self._say)
        self._bench.occupied.connect(self._occupied)
        self.merger.said.connect(self._say)
        self.merger.done_with.connect(self._bench.do)
        self.splitter.said.connect(self._say)

    # -- what is shown -----------------------------------------------------------------------

    def _show_list(self, row: int) -> None:
        """Fill the list anew; `row` is the one to stand on."""
        if self._bench.busy:
            return
        self.list.show_rows(section_rows(self._bench.repertoire), row)
        self._show_words()

    def _show_words(self) -> None:
        if self._shown is not None and self._shown != self.list.current:
            self._keep()
            self._writing = None
        number = self._shown = self.list.current
        sections = self._bench.repertoire.sections
        if number is None or number >= len(sections):
            self._shown = None
            self.title.clear()
            self.intro.show_text("")
        else:
            self.title.setText(written_title(sections[number]))
            if not self.intro.hasFocus() or self._writing is None:
                self.intro.show_text("\n\n".join(sections[number].intro))
        self._enable()

    def _enable(self) -> None:
        number, count = self.list.current, self.list.topLevelItemCount()
        one, some = number is not None, bool(self.list.chosen)
        for widget in (self.title, self.intro):
            widget.setEnabled(one)
        self.up.setEnabled(one and number > 0)
        self.down.setEnabled(one and number < count - 1)
        self.delete.setEnabled(some)
        self.split.setEnabled(some)
        undoable, redoable = self._bench.editor.undoable, self._bench.editor.redoable
        self.undo.setEnabled(undoable is not None)
        self.redo.setEnabled(redoable is not None)
        self.undo.setToolTip(f"Undo {undoable.title} (Ctrl+Z)" if undoable else "Nothing to undo")
        self.redo.setToolTip(f"Redo {redoable.title}" if redoable else "Nothing to redo")

    def _say(self, sentence: str) -> None:
        self.said.setText(sentence)

    # -- steps -------------------------------------------------------------------------------

    def _stepped(self, step: Step) -> None:
        if step.kind is not StepKind.DONE or step.edit is not self._writing:
            self._writing = None
        row, result = self.list.current or 0, step.result
        sections = self._bench.repertoire.sections
        if isinstance(result, Edited) and result.section in sections:
            row = sections.index(result.section)
        self._shown = None
        self._show_list(row)
        if step.kind is not StepKind.DONE or isinstance(step.edit, DeleteSections):
            self._say(told(step, self._look.notation))
        elif not isinstance(step.edit, SetIntro | SetTitle | MoveSection):
            self._say(told(step, self._look.notation) or f"Done: {step.edit.title}.")

    def _occupied(self, busy: bool) -> None:
        self.setEnabled(not busy)
        if not busy:
            self.list.setFocus()

    def _rename(self) -> None:
        number, sections = self._shown, self._bench.repertoire.sections
        if number is None or number >= len(sections):
            return
        text = clean_text(self.title.text())
        if text != written_title(sections[number]):
            self._bench.do(SetTitle(number, text))

    def _write_intro(self, text: str) -> None:
        number, sections = self._shown, self._bench.repertoire.sections
        if number is None or number >= len(sections):
            return
        paragraphs = split_paragraphs(text)
        if paragraphs != sections[number].intro:
            before, edit = self._writing, SetIntro(number, paragraphs)
            self._writing = edit
            self._bench.do(edit, instead=before)

    def _keep(self) -> None:
        """Take in what is being typed."""
        self._rename()
        self.intro.keep()

    def _move(self, step: int) -> None:
        self._keep()
        number = self.list.current
        if number is not None and 0 <= number + step < self.list.topLevelItemCount():
            self._bench.do(MoveSection(number, number + step))

    def _begin_at_start(self) -> None:
        self._keep()
        self._bench.do(AddSection(_NEW))
        self._edit_title()

    def _begin_at_position(self) -> None:
        from trainer.ui.setup.dialog import ask_for_position

        self._keep()
        board = ask_for_position(
            self, self._settings, self._look, title="Where the section begins", button="&Begin"
        )
        if board is not None:
            self._bench.do(AddSection(_NEW, board.fen(en_passant="legal")))
            self._edit_title()

    def _edit_title(self) -> None:
        self.title.setFocus()
        self.title.selectAll()

    def _ask_to_delete(self) -> None:
        self._keep()
        if self.list.chosen:
            edit = DeleteSections(self.list.chosen)
            self._bench.preview(edit, lambda result: self._delete(edit, result))

    def _delete(self, edit: DeleteSections, removed: Result) -> None:
        assert isinstance(removed, Removed)
        sections = self._bench.repertoire.sections
        titles = [sections[number].title for number in edit.sections]
        box = message_box(
            self,
            "Delete sections",
            deletion_question(titles),
            more=f"{deletion_sentence(removed)} It can be undone.",
            icon=QMessageBox.Icon.Question,
        )
        answers = {True: ("&Delete", Role.AcceptRole), False: ("&Keep", Role.RejectRole)}
        if ask(box, answers, default=True, escape=False):
            self._bench.do(edit)

    def _split(self) -> None:
        self._keep()
        if self.list.chosen:
            self.splitter.ask(self.list.chosen)

    def _merge(self) -> None:
        self._keep()
        self.merger.ask()

    def _undo(self) -> None:
        self._keep()
        self._bench.undo()

    def _redo(self) -> None:
        self._keep()
        self._bench.redo()

    # -- leaving -----------------------------------------------------------------------------

    def keyPressEvent(self, event: QKeyEvent) -> None:
        # In a field, Enter only takes over what is typed there.
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            if isinstance(self.focusWidget(), QPushButton):
                self.focusWidget().click()
        else:
            super().keyPressEvent(event)

    def done(self, result: int) -> None:
        self._keep()
        self.merger.stop()
        self.splitter.stop()
        for signal, slot in (
            (self._bench.stepped, self._stepped),
            (self._bench.changed, self._enable),
            (self._bench.said, self._say),
            (self._bench.occupied, self._occupied),
        ):
            signal.disconnect(slot)
        super().done(result)


def _button(text: str, tip: str) -> QPushButton:
    button = QPushButton(text)
    button.setToolTip(tip)
    button.setAutoDefault(False)
    return button
