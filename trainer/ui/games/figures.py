"""What many games tell: places where they leave, depth by month, what never occurs, slips."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import TYPE_CHECKING, Any, Final

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QBoxLayout, QCheckBox, QPushButton, QVBoxLayout, QWidget

from trainer.games.sentences import move_text
from trainer.games.statistics import LeavingPlace, NeverMet, lately
from trainer.notation.display import shown_san
from trainer.notation.numbers import count as counted
from trainer.ui.games.depth_chart import DepthChart
from trainer.ui.games.entries import ForgottenDecision, Gathered, place_heading
from trainer.ui.games.sections import Section
from trainer.ui.labels import text_label
from trainer.ui.look import Look
from trainer.ui.orders.entry_list import EntryList
from trainer.ui.orders.rows import Row

if TYPE_CHECKING:
    from trainer.memory.course import Course
    from trainer.repertoire.graph import Node

#: Below this width (at 100 %) what counts and its button stand below each other.
_BESIDE: Final = 500
_NOTES: Final = {
    Section.PLACES: "Positions at which your games left the repertoire first. Enter shows the "
    "games.",
    Section.DEPTH: "How far your games stayed in the repertoire, in moves from the beginning; a "
    "larger ring stands for more games.",
    Section.NEVER: "{unmet} of this repertoire never occurred in your games. These replies are "
    "prepared for and were never played, though the position before them was reached.",
    Section.FORGOTTEN: "Decisions that you had learnt and did not play at the board.",
}
_NOTHING: Final = {
    Section.PLACES: "No game of yours left this repertoire.",
    Section.DEPTH: "There is no game of yours with a known month.",
    Section.NEVER: "There is no reply that your games passed by.",
    Section.FORGOTTEN: "You have forgotten nothing that you had learnt.",
}
_NO_GAMES: Final = "There are no games of yours with the colour of this repertoire."
_COUNTED: Final = "{} for memory, each once, as missed on the day of the game."


class FiguresPanel(QWidget):
    """One list or chart at a time, with a note above it."""

    #: The walks of the games to show in the list.
    games_wanted = Signal(object)
    #: A game to show in full, and the half-move to show: `GameEntry`, int.
    game_wanted = Signal(object, int)
    #: A position of the repertoire: a `Node`.
    position_chosen = Signal(object)
    drill_wanted = Signal(list)
    #: Whether forgotten decisions count for memory from now on.
    count_wanted = Signal(bool)
    #: What counts for memory is to be taken back: at one position, a `Node`, or at all, None.
    take_back_wanted = Signal(object)

    def __init__(self, look: Look, *, editable: bool, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._look = look
        self._editable = editable
        self._gathered: Gathered | None = None
        #: The keys of the positions at which forgotten decisions count now.
        self._counting: frozenset[int] = frozenset()
        self._section = Section.PLACES
        self._chosen: dict[Section, int] = {}
        self.note = text_label("", "note")
        self.list = EntryList(look)
        self.chart = DepthChart(look)
        self.drill = QPushButton("&Drill these now")
        self.count = QCheckBox("&Count them for memory")
        self.take_one = QPushButton("Take &this one back")
        self.take_back = QPushButton("Take all &back")
        self._counted = text_label("", "muted")
        self._build()
        self.list.entered.connect(self._enter)
        self.drill.clicked.connect(lambda _checked=False: self._drill())
        self.count.toggled.connect(self.count_wanted)
        self.take_one.clicked.connect(lambda _checked=False: self._take_one_back())
        self.take_back.clicked.connect(lambda _checked=False: self.take_back_wanted.emit(None))
        self.list.chosen.connect(lambda _entry: self._allow())
        self.set_look(look)

    def _build(self) -> None:
        self._kept = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self._kept.addWidget(self._counted, 1)
        self._kept.addWidget(self.take_one, 0, Qt.AlignmentFlag.AlignLeft)
        self._kept.addWidget(self.take_back, 0, Qt.AlignmentFlag.AlignLeft)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.note)
        column.addWidget(self.drill, 0, Qt.AlignmentFlag.AlignLeft)
        column.addWidget(self.list, 1)
        column.addWidget(self.chart, 1)
        column.addWidget(self.count)
        column.addLayout(self._kept)
        column.addStretch(0)

    def set_look(self, look: Look) -> None:
        """Draw in another look."""
        self._look = look
        self.list.set_look(look)
        self.chart.set_look(look)
        if self._gathered is not None:
            self.show_section(self._section)

    def clear(self) -> None:
        """Show nothing."""
        self._gathered = None
        self._chosen.clear()
        self.list.entries.set_entries([], None)
        self.chart.set_months([])

    def show_gathered(self, gathered: Gathered, course: Course, *, count: bool) -> None:
        """Show what was found; `count` is whether slips count for memory."""
        self._gathered = gathered
        self._counting = frozenset(answer.key for answer in course.counted_slips())
        number = len(course.counted_slips())
        what = f"{counted(number, 'decision')} {'counts' if number == 1 else 'count'} now"
        told = _COUNTED.format(what) if number else ""
        if gathered.undated_slips:
            told += f" {counted(gathered.undated_slips, 'game')} without a full date left out."
        if not course.keeps_answers:
            told = "Nothing is kept in this window, so nothing is counted either."
        self._counted.setText(told.strip())
        if not course.keeps_answers:
            self._counting = frozenset()
        self.count.blockSignals(True)
        self.count.setChecked(count)
        self.count.blockSignals(False)
        self.show_section(self._section)

    def show_section(self, section: Section) -> None:
        """Show another list, or the chart."""
        self._section = section
        gathered = self._gathered
        if gathered is None:
            self.note.setText(_NO_GAMES)
            for part in self._parts():
                part.hide()
            return
        entries, make = self._entries(gathered)
        own = any(entry.own_colour for entry in gathered.entries)
        some = bool(gathered.months if section is Section.DEPTH else entries)
        note = _NOTES[section] if some else _NOTHING[section]
        note = note.format(unmet=counted(gathered.unmet, "position"))
        means = lately(gathered.months)
        if section is Section.DEPTH and means is not None:
            note += (
                f" On average {means[0] / 2:.1f}, in the last twelve months {means[1] / 2:.1f}."
            )
        self.note.setText(note if own else _NO_GAMES)
        self.list.setVisible(some and section is not Section.DEPTH)
        self.chart.setVisible(some and section is Section.DEPTH)
        forgotten = section is Section.FORGOTTEN
        self.drill.setVisible(some and forgotten)
        self.count.setVisible(forgotten)
        self._counted.setVisible(forgotten and bool(self._counted.text()))
        self.take_one.setVisible(forgotten and bool(self._counting))
        self.take_back.setVisible(forgotten and bool(self._counting))
        self.chart.set_months(gathered.months)
        self.list.setAccessibleName(self.note.text())
        self.list.entries.set_entries(entries, make)
        if entries:
            self.list.choose_row(min(self._chosen.get(section, 0), len(entries) - 1))
        self._allow()

    def _parts(self) -> tuple[QWidget, ...]:
        kept = self._counted, self.take_one, self.take_back
        return self.list, self.chart, self.drill, self.count, *kept

    def _chosen_node(self) -> Node | None:
        """The position of the forgotten decision that is chosen."""
        index = self.list.currentIndex()
        if self._section is not Section.FORGOTTEN or not index.isValid():
            return None
        return self.list.entries.entry(index.row()).node

    def _allow(self) -> None:
        node = self._chosen_node()
        self.take_one.setEnabled(node is not None and node.key in self._counting)

    def _take_one_back(self) -> None:
        node = self._chosen_node()
        if node is not None:
            self._chosen[self._section] = self.list.currentIndex().row()
            self.take_back_wanted.emit(node)

    def _entries(self, gathered: Gathered) -> tuple[Sequence[Any], Callable[[Any], Row] | None]:
        if self._section is Section.PLACES:
            return gathered.places, partial(_place_row, self._look)
        if self._section is Section.NEVER:
            return gathered.missed, partial(_missed_row, self._look)
        if self._section is Section.FORGOTTEN:
            return gathered.forgotten, partial(_forgotten_row, self._look)
        return (), None

    def take_focus(self) -> None:
        """Give the keys to the list."""
        for part in (self.list, self.count):
            if part.isVisible():
                part.setFocus()
                return

    def minimumSizeHint(self) -> QSize:
        # A panel that is not shown has not been arranged for its room yet.
        return QSize(60, 60)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        narrow = self.width() < _BESIDE * self._look.scale
        self._kept.setDirection(
            QBoxLayout.Direction.TopToBottom if narrow else QBoxLayout.Direction.LeftToRight
        )

    def _enter(self) -> None:
        row = self.list.currentIndex().row()
        self._chosen[self._section] = row
        entry = self.list.entries.entry(row)
        if isinstance(entry, LeavingPlace):
            self.games_wanted.emit(entry.walks)
        elif isinstance(entry, NeverMet):
            self.position_chosen.emit(entry.edge.child)
        else:
            game, ply = entry.times[0]
            self.game_wanted.emit(game, ply)

    def _drill(self) -> None:
        if self._gathered is not None:
            nodes: list[Node] = [one.node for one in self._gathered.forgotten]
            self.drill_wanted.emit(nodes)


def _place_row(look: Look, place: LeavingPlace) -> Row:
    who = {True: "after the prepared line ended"}.get(place.at_line_end, f"{place.who} left")
    facts = [counted(place.games, "game"), who]
    if place.score is not None:
        side = "White" if place.walks[0].player_side else "Black"
        facts.append(f"{'you' if place.named else side} scored {place.score:.0%}")
    if place.rating is not None:
        facts.append(f"opponents rated {place.rating:.0f}")
    game, ply = place.example, place.ply
    before = "before the first move"
    if ply > 1:
        before = f"after {move_text(game, ply - 1, look.notation)}"
    known = [shown_san(edge.san, look.notation) for edge in place.node.edges[:4]]
    more = "" if len(place.node.edges) <= 4 else " …"
    prepared = f"{before}; prepared: {', '.join(known)}{more}" if known else before
    heading = place_heading(place, look.notation)
    return Row(place.node.board(), place.node.key, heading, prepared, ", ".join(facts))


def _missed_row(look: Look, missed: NeverMet) -> Row:
    edge, game, ply = missed.edge, missed.example, missed.ply
    heading = move_text(game, ply, look.notation, san=edge.san)
    before = move_text(game, ply - 1, look.notation) if ply > 1 else "the beginning"
    reached = f"after {before}, which {counted(missed.passed, 'game')} reached"
    behind = f"{counted(missed.positions, 'prepared position')} behind it"
    return Row(edge.child.board(), edge.child.key, heading, reached, behind)


def _forgotten_row(look: Look, one: ForgottenDecision) -> Row:
    entry, ply = one.times[0]
    game = entry.game
    main = move_text(game, ply, look.notation, san=one.node.edges[0].san)
    played = dict.fromkeys(shown_san(e.game.moves()[p - 1], look.notation) for e, p in one.times)
    times = "once" if len(one.times) == 1 else f"{len(one.times)} times"
    last = game.date.replace(".", "-") or "without a date"
    opponent = game.name(not entry.walk.player_side) or "an unnamed opponent"
    return Row(
        one.node.board(),
        one.node.key,
        f"{main} was prepared",
        f"you played {', '.join(played)}, {times}",
        f"last {last} against {opponent}",
    )
