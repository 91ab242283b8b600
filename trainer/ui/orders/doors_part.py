"""The doors into one position: which one, and the page that holds all of them."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject, Signal

from trainer.ui.orders.door_chooser import DoorChooser
from trainer.ui.orders.findings import Basics, position_of_fen
from trainer.ui.orders.page import DetailPage
from trainer.ui.orders.seeker import Seeker
from trainer.ui.orders.words import OrderWords

if TYPE_CHECKING:
    from trainer.repertoire.doors import Door, Doors
    from trainer.repertoire.graph import Node


class DoorsPart(QObject):
    """Keeps the position where the system begins, which the player may choose."""

    #: There are other doors: a `Doors`, or None.
    found = Signal(object)

    def __init__(self, seeker: Seeker, page: DetailPage, parent: QObject) -> None:
        super().__init__(parent)
        self._seeker = seeker
        self._page = page
        self._basics: Basics | None = None
        self._words: OrderWords | None = None
        self.doors: Doors | None = None
        #: The position last looked at in another list.
        self.last_node: Node | None = None
        #: Whether the page is ours.
        self.active = False
        self.chooser = DoorChooser()
        self.chooser.fen_given.connect(self._of_fen)
        self.chooser.last_wanted.connect(self._of_last)
        self.chooser.suggestion_wanted.connect(self._as_suggested)

    # -- what is known -----------------------------------------------------------------------

    def clear(self) -> None:
        """Forget the repertoire."""
        self._basics = self._words = self.doors = self.last_node = None

    def begin(self, basics: Basics, words: OrderWords) -> None:
        """Take the suggested doors, or in a changed repertoire those into the same position."""
        before, self._basics = self.doors, basics
        self._words = words
        nodes = basics.graph.repertoire.nodes
        if self.last_node is not None and nodes.get(self.last_node.key) is not self.last_node:
            self.last_node = None
        again = None if before is None else nodes.get(before.node.key)
        suggested = None if basics.doors is None else basics.doors.node
        if again is None or again is suggested or basics.graph.depth(again) is None:
            self._take(basics.doors)
        else:
            self._into(again)

    def reword(self, words: OrderWords) -> None:
        """Speak in another notation."""
        self._words = words
        words.doors = () if self.doors is None else self.doors.doors
        if self.active:
            self._ask()

    def _take(self, doors: Doors | None) -> None:
        self.doors = doors
        if self._words is not None:
            self._words.doors = () if doors is None else doors.doors
        self.found.emit(doors)

    # -- the page ----------------------------------------------------------------------------

    def show_door(self, entry: Door) -> None:
        """One door on the board."""
        doors, page = self.doors, self._page
        if doors is None:
            return
        number = next((n for n, door in enumerate(doors.doors) if door is entry), 0)
        if page.shows is doors:
            page.lines.go(number, len(entry.order.edges))
        else:
            self._ask(number)

    def _ask(self, number: int = 0) -> None:
        from trainer.ui.orders.detail import doors_detail

        doors, words = self.doors, self._words
        if doors is not None and words is not None:
            self._seeker.ask(
                lambda: doors_detail(words, doors), partial(self._show, doors, number)
            )

    def _show(self, doors: Doors, number: int, detail: Any) -> None:
        if not self.active or self.doors is not doors or self._basics is None:
            return
        suggested = self._basics.doors is not None and self._basics.doors.node is doors.node
        self.chooser.offer(last=self.last_node is not None, suggestion=not suggested)
        self._page.show_detail(detail, [self.chooser], of=doors)
        self._page.lines.go(number, len(doors.doors[number].order.edges))

    # -- another position --------------------------------------------------------------------

    def _of_fen(self, fen: str) -> None:
        if self._basics is None:
            return
        found = position_of_fen(self._basics, fen)
        if isinstance(found, str):
            self.chooser.say(found)
        else:
            self._into(found)

    def _of_last(self) -> None:
        if self.last_node is not None:
            self._into(self.last_node)

    def _as_suggested(self) -> None:
        if self._basics is not None and self._basics.doors is not None:
            self.chooser.say("")
            self._take(self._basics.doors)

    def _into(self, node: Node) -> None:
        from trainer.repertoire.doors import entry_doors

        basics = self._basics
        if basics is None:
            return
        self.chooser.say("")
        self._seeker.ask(lambda: entry_doors(basics.graph, node, basics.book), self._take)
