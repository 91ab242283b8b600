"""The place called Map: the plan, the search above it, the chosen position beside it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeySequence, QResizeEvent, QShortcut
from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from trainer.ui.labels import text_label
from trainer.ui.look import FIRST_LOOK, Look
from trainer.ui.map.bar import MapBar
from trainer.ui.map.canvas import MapCanvas
from trainer.ui.map.drawing import MOST_AT_FIRST, Drawn, Order, draw
from trainer.ui.map.finder import MapFinder
from trainer.ui.map.legend import Legend
from trainer.ui.map.saver import MapSaver
from trainer.ui.map.side import SidePanel
from trainer.ui.map.walk import Walker
from trainer.ui.map.words import position_words

if TYPE_CHECKING:
    from trainer.memory.course import Course
    from trainer.repertoire.graph import Node
    from trainer.repertoire.openings import OpeningBook
    from trainer.ui.map.scene import Scene
    from trainer.ui.tasks import TaskControl

#: Starts work off this thread: `start(work, done=…, failed=…)`, as `TaskRunner.start` does.
Start = Callable[..., "TaskControl"]
Clock = Callable[[], datetime]

_MOST_OF_HEIGHT = 0.15


def _now() -> datetime:
    return datetime.now(UTC)


class MapPlace(QWidget):
    """Draws the repertoire of a course as a railway plan and lets the player walk on it."""

    position_chosen = Signal(object)
    """The `Node` that was opened with Enter or a double click."""
    edit_wanted = Signal(object)
    """The chosen `Node`, to be edited."""

    def __init__(self, start: Start, clock: Clock = _now, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._start, self._clock = start, clock
        self._course: Course | None = None
        self._look = FIRST_LOOK
        self._scene: Scene | None = None
        self._book: OpeningBook | None = None
        self._walker: Walker | None = None
        #: Keys, which outlast an edit of the repertoire; None: what is unlikely, once drawn.
        self._folded: frozenset[int] | None = None
        self._goal: int | None = None
        #: The key of a position to choose once it is drawn.
        self._wanted: int | None = None
        self._drawing: TaskControl | None = None
        #: The repertoire was edited or drilled since it was drawn.
        self._stale = False
        self._legend_chosen = False
        self.canvas = MapCanvas(self._look)
        self.setFocusProxy(self.canvas)
        self.side = SidePanel()
        self.legend = Legend(self._look)
        self.bar = MapBar()
        self.finder = MapFinder(self.bar, self)
        self.saver = MapSaver(start, self)
        self.notice = text_label("", "muted")
        self.notice.hide()
        self.legend.hide()
        sheet = QHBoxLayout()
        sheet.setSpacing(12)
        sheet.addWidget(self.canvas, 1)
        sheet.addWidget(self.side)
        outer = QVBoxLayout(self)
        outer.addWidget(self.bar)
        outer.addWidget(self.notice)
        outer.addLayout(sheet, 1)
        outer.addWidget(self.legend)
        self._connect()
        self.canvas.show_message("No repertoire is open.")

    # -- building ----------------------------------------------------------------------------

    def _connect(self) -> None:
        self.canvas.chosen.connect(self.choose)
        self.canvas.opened.connect(self._open)
        self.canvas.asked.connect(self._asked)
        self.canvas.unfolded.connect(self._unfold)
        self.finder.changed.connect(self._describe)
        self.finder.shown.connect(self._show_found)
        self.finder.said.connect(self._say)
        self.saver.said.connect(self._say)
        self.bar.set_up.clicked.connect(self.set_up_search)
        self.bar.fold.clicked.connect(self.toggle_fold)
        self.bar.fold_all.clicked.connect(self.fold_all)
        self.bar.edit.clicked.connect(self.edit_chosen)
        self._shortcut(QKeySequence("E"), self.canvas, self.edit_chosen)
        self.bar.fit.clicked.connect(self.canvas.show_all)
        self.bar.smaller.clicked.connect(lambda: self.canvas.zoom(0.8))
        self.bar.larger.clicked.connect(lambda: self.canvas.zoom(1.25))
        self.bar.legend.toggled.connect(self.legend.setVisible)
        self.bar.legend.clicked.connect(self._choose_legend)
        self.bar.save.clicked.connect(self.choose_file)
        self._shortcut(QKeySequence.StandardKey.Find, self, self.bar.begin_search)
        self._shortcut(QKeySequence("/"), self.canvas, self.bar.begin_search)
        self._shortcut(QKeySequence("F3"), self, self.finder.show_next)
        self._shortcut(QKeySequence("Shift+F3"), self, self.finder.show_previous)
        self._shortcut(QKeySequence("Ctrl+Shift+F"), self, self.set_up_search)
        self._shortcut(QKeySequence("Esc"), self.bar.search, self.canvas.setFocus)

    def _shortcut(
        self,
        keys: QKeySequence | QKeySequence.StandardKey,
        owner: QWidget,
        slot: Callable[[], object],
    ) -> None:
        shortcut = QShortcut(keys, owner)
        shortcut.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
        shortcut.activated.connect(slot)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._arrange()

    def _choose_legend(self) -> None:
        self._legend_chosen = True

    def _arrange(self) -> None:
        if not self._legend_chosen:  # until it is asked for, it takes no more than it may
            needed = self.legend.heightForWidth(max(self.width(), 1))
            self.bar.legend.setChecked(needed < _MOST_OF_HEIGHT * self.height())
        self.bar.arrange(self.width())
        self.side.setFixedWidth(self.side.wanted_width(self.width(), self._look.scale))

    # -- what is shown -----------------------------------------------------------------------

    def show_course(self, course: Course, look: Look) -> None:
        """Draw a course in the background.

        Where it is the same repertoire as before, edited or drilled since, what is on the screen
        stays there until then, and what was chosen and folded stays so.
        """
        if self._course is None or course.path != self._course.path:
            self.clear()
            self.canvas.show_message("Drawing the map …")
        self._course = course
        self._stale = True
        self.set_look(look)
        self._draw()

    def set_look(self, look: Look) -> None:
        """Theme, notation, scale and side, at once for what is on the screen."""
        again = look.notation != self._look.notation and not self._stale
        self._look = look
        self.canvas.set_look(look)
        self.legend.set_look(look)
        self.side.set_look(None if self._course is None else self._course.settings, look)
        self._arrange()
        if self._scene is not None:
            if self._drawing is None:
                self._describe()
            if again:
                self._draw()

    def clear(self) -> None:
        """Let go of the course, before its repertoire is taken apart or another is opened."""
        if self._drawing is not None:
            self._drawing.cancel()
        self._drawing = self._course = self._scene = self._walker = None
        self._folded, self._goal, self._wanted = None, None, None
        self._stale = False
        self.finder.clear()
        self._say("")
        self.canvas.set_marks(None)
        self.canvas.show_message("No repertoire is open.")

    @property
    def chosen_node(self) -> Node | None:
        """The position that is chosen now."""
        if self._scene is None or self._walker is None or self._walker.place is None:
            return None
        return self._scene.plan.node(self._walker.place)

    def _draw(self) -> None:
        """Lay out off this thread; where it is stale, look up reach and recall as well."""
        if self._course is None:
            return
        order = Order(
            course=self._course,
            now=self._clock(),
            plan=None if self._scene is None or self._stale else self._scene.plan,
            folded=self._folded,
            notation=self._look.notation,
            steps=len(self._look.theme.recall),
            book=self._book,
        )
        if self._drawing is not None:
            self._drawing.cancel()
        self._drawing = self._start(
            lambda _control: draw(order), done=self._drawn, failed=self._not_drawn
        )

    def _drawn(self, drawn: Drawn) -> None:
        self._drawing, self._stale = None, False
        before, self._scene, self._book = self._scene, drawn.scene, drawn.book
        self._folded = drawn.folded
        if drawn.notice:
            self._say(drawn.notice)
        plan = drawn.scene.plan
        if not len(drawn.scene.shown):
            self._walker = None
            self.canvas.show_message("This repertoire has no position yet.")
            return
        hold = None
        if self._walker is None or before is None or before.plan is not plan:
            place = int(plan.arrays.roots[0]) if len(plan.arrays.roots) else 0
            old = None if self._walker is None else self._walker.place
            if old is not None and before is not None:
                known = plan.arrays.number_of.get(before.plan.node(old).key)
                if known is not None:
                    place, hold = known, (old, known)
            self._walker = Walker(plan)
            self._walker.go(place)
        elif (place := self._walker.place) is not None:
            hold = (place, place)
        self.canvas.set_scene(drawn.scene, hold)
        goal, self._goal = self._goal, None
        if self._wanted is not None:
            goal, self._wanted = plan.arrays.number_of.get(self._wanted, goal), None
        place = self._walker.place
        if goal is not None:
            self.choose(goal)
        elif place is not None and not drawn.scene.layout.visible[place]:
            self.choose(int(plan.arrays.roots[0]))
        self._describe()
        self.finder.set_scene(drawn.scene, self._book)

    def _not_drawn(self, sentence: str) -> None:
        self._drawing = None
        self.canvas.show_message(sentence)

    def _say(self, sentence: str) -> None:
        self.notice.setText(sentence)
        self.notice.setVisible(bool(sentence))

    # -- choosing and walking ----------------------------------------------------------------

    def choose(self, number: int) -> None:
        """Choose a position by its number; what is folded around it is opened first."""
        if self._scene is None or self._walker is None:
            return
        if not self._scene.layout.visible[number]:
            hiding = self._hiding(number)
            if hiding:
                self._goal, self._folded = number, self._closed() - hiding
                self._draw()
            return
        self._walker.go(number)
        self.canvas.reveal(number)
        self._describe()

    def choose_node(self, node: Node) -> None:
        """Choose a position, such as one that another place of the window points to."""
        number = None if self._scene is None else self._scene.plan.arrays.number_of.get(node.key)
        if number is not None:
            self.canvas.come_close()
            self.choose(number)

    def choose_later(self, node: Node) -> None:
        """Choose a position that was edited elsewhere: now, or once the map is drawn anew."""
        if self._stale or self._drawing is not None:
            self._wanted = node.key
        else:
            number = (
                None if self._scene is None else self._scene.plan.arrays.number_of.get(node.key)
            )
            self._wanted = node.key if number is None else None
            if number is not None:
                self.choose(number)

    def _hiding(self, number: int) -> frozenset[int]:
        """The keys of the folded positions on the likeliest way to a hidden one."""
        assert self._scene is not None
        plan, passed = self._scene.plan, set[int]()
        while number >= 0 and plan.node(number).key not in passed:
            passed.add(plan.node(number).key)
            entry = int(plan.entry[number])
            number = int(plan.arrays.parent[entry]) if entry >= 0 else -1
        return self._closed() & passed

    def _closed(self) -> frozenset[int]:
        return self._folded or frozenset()

    def _open(self, number: int) -> None:
        if self._scene is not None:
            self.position_chosen.emit(self._scene.plan.node(number))

    def _asked(self, what: str) -> None:
        scene, walker = self._scene, self._walker
        if scene is None or walker is None:
            return
        if what in ("fold", "fold all"):
            (self.toggle_fold if what == "fold" else self.fold_all)()
            return
        if what == "open":
            if walker.place is not None:
                self._open(walker.place)
            return
        if what == "start":
            self.choose(int(scene.plan.arrays.roots[0]))
            return
        steps: dict[str, Callable[[], int | None]] = {
            "ahead": lambda: walker.ahead(scene.layout),
            "back": lambda: walker.back(scene.layout),
            "above": lambda: walker.beside(-1, scene.layout),
            "below": lambda: walker.beside(1, scene.layout),
        }
        place = steps[what]()
        if place is not None:
            self.canvas.reveal(place)
            self._describe()

    def edit_chosen(self) -> None:
        """Ask for the workshop at the chosen position."""
        if self.chosen_node is not None:
            self.edit_wanted.emit(self.chosen_node)

    def toggle_fold(self) -> None:
        """Hide what only hangs on the chosen position, or show it again."""
        if self._scene is None or self._walker is None or self._walker.place is None:
            return
        place = self._walker.place
        if self._scene.plan.end[place]:
            return
        self._folded = self._closed() ^ {self._scene.plan.node(place).key}
        self._draw()

    def fold_all(self) -> None:
        """Show every position, or, where nothing is folded, only the likeliest ones."""
        if self._scene is None:
            return
        self._folded = frozenset() if self._scene.layout.folded.any() else None
        self._draw()

    def _unfold(self, number: int) -> None:
        self.choose(number)
        self.toggle_fold()

    def _describe(self) -> None:
        """Show the chosen position on the board, in words, and to who hears the window."""
        scene, course = self._scene, self._course
        place = self._walker.place if self._walker is not None else None
        if scene is None or course is None or place is None:
            return
        words = position_words(
            scene.plan,
            course.repertoire,
            place,
            hidden=int(scene.layout.hidden[place]),
            notation=self._look.notation,
            book=self._book,
        )
        entry = int(scene.plan.entry[place])
        move = scene.plan.arrays.edges[entry].move if entry >= 0 else None
        self.side.show_position(scene.plan.node(place).board(), move, words)
        self.canvas.set_marks(place, self.finder.numbers)
        self.canvas.setAccessibleDescription(words.spoken())
        self.bar.fold.setText("Unfold" if scene.layout.folded[place] else "Fold")
        self.bar.fold.setEnabled(not scene.plan.end[place])
        anything = bool(scene.layout.folded.any())
        self.bar.fold_all.setText("Unfold all" if anything else "Fold unlikely")
        self.bar.fold_all.setEnabled(anything or len(scene.shown) > MOST_AT_FIRST)

    # -- searching ---------------------------------------------------------------------------

    def set_up_search(self) -> None:
        """Let the player set up a position on a board, and go to it."""
        if self._course is None or self._scene is None:
            return
        node = self.chosen_node
        board = None if node is None else node.board()
        self.finder.set_up(self._course.settings, self._look, board)

    def _show_found(self, number: int) -> None:
        self.canvas.come_close()
        self.choose(number)

    # -- files -------------------------------------------------------------------------------

    def choose_file(self) -> None:
        """Ask where to save the whole map, and save it."""
        if self._course is None or self._scene is None:
            return
        path = self.saver.ask(self._course.path.with_suffix(".svg"))
        if path is not None:
            self.export(path)

    def export(self, path: Path) -> None:
        """Save the whole map in the background, as SVG or PDF by the ending of `path`."""
        if self._course is not None and self._scene is not None:
            self.saver.save(self._scene, self._course.title, self._look, path)
