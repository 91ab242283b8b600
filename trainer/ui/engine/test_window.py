"""The engine's test of the repertoire: its progress, and what was found, each a way in.

The test runs on while this window is closed, and while the player looks at something else; it
makes room for every question that he asks himself.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtWidgets import (
    QDialog,
    QHBoxLayout,
    QListWidget,
    QListWidgetItem,
    QProgressBar,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from trainer.notation.display import shown_san
from trainer.notation.numbers import count
from trainer.ui.labels import text_label, wrap_items
from trainer.ui.look import Look

if TYPE_CHECKING:
    from trainer.engine.check import CheckProgress, CheckResult, Finding
    from trainer.repertoire.graph import Repertoire
    from trainer.repertoire.reach import Weigh
    from trainer.ui.engine.adviser import Adviser
    from trainer.ui.engine.worker import Request

#: Hands a copy of the repertoire that nobody edits, and how its replies weigh, to the first
#: function, or a sentence to the second.
Copy = Callable[[Callable[["Repertoire", "Weigh"], None], Callable[[str], None]], None]


class TestWindow(QDialog):
    """Starts, stops and shows the test of one repertoire."""

    __test__ = False  # no test of pytest's

    #: A finding was chosen: its position is to be looked at.
    chosen = Signal(object, object)
    settings_wanted = Signal()
    #: A position, and moves from it to take into the repertoire.
    line_taken = Signal(object, object)
    #: A position to open in the workshop, a `chess.Board`.
    edit_wanted = Signal(object)
    #: A sentence for the status line of the window.
    said = Signal(str)

    def __init__(self, adviser: Adviser, copy: Copy, look: Look, parent: QWidget | None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Test the repertoire")
        self._adviser = adviser
        self._copy = copy
        self._look = look
        self._request: Request | None = None
        self._repertoire: Repertoire | None = None
        self._weigh: Weigh = lambda _arrays: None
        self._wanted = False
        self._findings: list[Finding] = []
        self._seen: set[tuple[int, str, object]] = set()
        self.state = text_label("", "note")
        self.progress = QProgressBar()
        self.progress.setTextVisible(False)
        self.list = QListWidget()
        self.start_button = QPushButton("&Start")
        self.start_button.setProperty("primary", "true")
        self.stop_button = QPushButton("S&top")
        self.engine_button = QPushButton("&Engine …")
        self.close_button = QPushButton("&Close")
        self.look_button = QPushButton("&Look at it")
        self.take_button = QPushButton()
        self.edit_button = QPushButton("E&dit here")
        self._build()
        self._offer()
        self._show_state()

    def _build(self) -> None:
        wrap_items(self.list)
        self.list.setSpacing(3)
        self.list.setTextElideMode(Qt.TextElideMode.ElideNone)
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.setAccessibleName("What was found; Enter looks at the position")
        self.list.itemActivated.connect(lambda _item: self._choose())
        self.list.currentRowChanged.connect(lambda _row: self._offer())
        for button, act in (
            (self.start_button, self.start),
            (self.stop_button, self.stop),
            (self.engine_button, self.settings_wanted.emit),
            (self.close_button, self.reject),
            (self.look_button, self._choose),
            (self.take_button, self._take),
            (self.edit_button, self._edit),
        ):
            button.clicked.connect(lambda _checked=False, act=act: act())
        remedies = QHBoxLayout()
        for button in (self.look_button, self.take_button, self.edit_button):
            remedies.addWidget(button)
        remedies.addStretch(1)
        row = QHBoxLayout()
        for button in (self.start_button, self.stop_button, self.engine_button):
            row.addWidget(button)
        row.addStretch(1)
        row.addWidget(self.close_button)
        outer = QVBoxLayout(self)
        outer.addWidget(self.state)
        outer.addWidget(self.progress)
        outer.addWidget(self.list, 1)
        outer.addLayout(remedies)
        outer.addLayout(row)
        size = QSize(round(640 * self._look.scale), round(480 * self._look.scale))
        self.resize(size.boundedTo(self.screen().availableSize() - QSize(40, 60)))

    # -- running -----------------------------------------------------------------------------

    @property
    def running(self) -> bool:
        """Whether the test is under way, or about to begin."""
        return self._wanted

    @property
    def findings(self) -> list[Finding]:
        """What was found until now."""
        return list(self._findings)

    def start(self) -> None:
        """Begin, or go on where the test was stopped: what was evaluated is kept."""
        if self._wanted:
            return
        self._end()
        self._wanted = True
        self._findings, self._seen = [], set()
        self.list.clear()
        self.progress.setRange(0, 0)
        self._show_state("The test begins …")
        self._copy(self._begin, self._fail)

    def _begin(self, repertoire: Repertoire, weigh: Weigh) -> None:
        if not self._wanted:
            return
        self._repertoire, self._weigh = repertoire, weigh
        self._request = self._adviser.test(
            repertoire, weigh, told=self._progressed, done=self._done, failed=self._fail
        )

    def stop(self) -> None:
        """Stop; within 200 ms the engine rests."""
        if not self._wanted:
            return
        self._end()
        done, total = self.progress.value(), self.progress.maximum()
        where = f" after {done:,} of {total:,} positions" if total else ""
        self._show_state(f"Stopped{where}. What was evaluated is kept: Start goes on from there.")

    def forget(self) -> None:
        """Another repertoire was opened: what was found is of the old one."""
        self._end()
        self._findings, self._seen, self._repertoire = [], set(), None
        self.list.clear()
        self.progress.setRange(0, 1)
        self._show_state()

    def edited(self) -> None:
        """The repertoire was edited: a test that runs is of the old one, as what it found is."""
        if not self._wanted and not self._findings:
            self._end()
            return
        was_running = self._wanted
        self._end()
        self.progress.setRange(0, 1)
        self._show_state(
            "The repertoire has changed"
            + (", so the test was stopped" if was_running else " since the test")
            + "; Start goes on, and only what is new has to be evaluated."
        )

    def _end(self) -> None:
        self._wanted = False
        self._adviser.give_up(self._request)
        self._request = None
        if self.progress.maximum() == 0:
            self.progress.setRange(0, 1)

    def _progressed(self, progress: CheckProgress) -> None:
        self.progress.setRange(0, progress.total)
        # After a pause the test runs through what it knows already.
        if progress.done >= self.progress.value():
            self.progress.setValue(progress.done)
            self._show_state(
                f"{progress.done:,} of {progress.total:,} positions, what games reach most first."
            )
            self.said.emit(f"Test of the repertoire: {progress.done:,} of {progress.total:,}")
        for finding in progress.found:
            self._add(finding)

    def _add(self, finding: Finding) -> None:
        key = (finding.node.key, finding.kind.value, finding.move)
        if key in self._seen:
            return
        self._seen.add(key)
        # The list stays in the order of its weight.
        row = sum(other.weight >= finding.weight for other in self._findings)
        self._findings.insert(row, finding)
        self.list.insertItem(row, QListWidgetItem(self._text(finding)))
        if self.list.currentRow() < 0:
            self.list.setCurrentRow(0)
        self._offer()

    def _text(self, finding: Finding) -> str:
        from trainer.engine.check_report import move_number, sentence, where
        from trainer.memory.plan import frequency

        repertoire, notation = self._repertoire, self._look.notation
        assert repertoire is not None
        number = move_number(repertoire, finding.node)
        order = where(repertoire, finding.node, notation)
        return f"{sentence(finding, notation, number)}\n{order} · {frequency(finding.reach)} here"

    def _done(self, result: CheckResult) -> None:
        self._wanted = False
        # Then replies for the strangers of the next drills; nobody waits for these.
        assert self._repertoire is not None
        self._request = self._adviser.prepare(self._repertoire, self._weigh)
        self.progress.setRange(0, max(1, result.total))
        self.progress.setValue(result.done)
        for finding in result.findings:
            self._add(finding)
        found = count(len(result.findings), "finding") if result.findings else "nothing found"
        text = f"Done: {result.total:,} positions, {found}."
        self._show_state(text)
        self.said.emit(f"Test of the repertoire: {text}")

    def _fail(self, sentence: str) -> None:
        self._end()
        self._show_state(sentence)
        self.said.emit(sentence)

    # -- showing -----------------------------------------------------------------------------

    def set_look(self, look: Look) -> None:
        """Write in another notation."""
        self._look = look
        for row, finding in enumerate(self._findings):
            self.list.item(row).setText(self._text(finding))
        self._offer()

    def _show_state(self, text: str = "") -> None:
        self.state.setText(
            text
            or "The engine looks at every prepared move, at the replies and at where lines end, "
            "and names what fails. It goes on while you do something else."
        )
        self.start_button.setEnabled(not self._wanted)
        self.stop_button.setEnabled(self._wanted)

    # -- what to do about it -----------------------------------------------------------------

    def _current(self) -> Finding | None:
        row = self.list.currentRow()
        return self._findings[row] if 0 <= row < len(self._findings) else None

    def _offer(self) -> None:
        """Name what can be done about the finding that is chosen."""
        finding = self._current()
        self.look_button.setEnabled(finding is not None)
        self.edit_button.setEnabled(finding is not None)
        remedy = finding.remedy if finding is not None else ()
        self.take_button.setEnabled(bool(remedy))
        self.take_button.setText("Take &in the remedy")
        if finding is not None and remedy:
            from trainer.engine.evaluation import line_sans

            board, notation = finding.node.board(), self._look.notation
            sans = [shown_san(san, notation) for san in line_sans(board, remedy)]
            # One move stands beside the prepared one, two are a reply and the answer to it.
            answered = f"the answer {sans[1]}" if len(sans) > 1 else sans[0]
            self.take_button.setText(f"Take &in {answered}")

    def _choose(self) -> None:
        finding = self._current()
        if finding is not None:
            self.chosen.emit(finding, self._repertoire)

    def _take(self) -> None:
        """Take the remedy into the repertoire; the finding has been dealt with."""
        finding = self._current()
        if finding is None or not finding.remedy:
            return
        row = self.list.currentRow()
        self._findings.pop(row)
        self.list.takeItem(row)
        self._offer()
        self.line_taken.emit(finding.node.board(), finding.remedy)

    def _edit(self) -> None:
        finding = self._current()
        if finding is not None:
            self.edit_wanted.emit(finding.node.board())
