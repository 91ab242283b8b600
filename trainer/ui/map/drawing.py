"""What is done off the UI thread before the map can be shown."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Final

from trainer.errors import StemlineError
from trainer.repertoire.openings import OpeningBook
from trainer.repertoire.railway.folding import unlikely
from trainer.ui.map.plan import Plan
from trainer.ui.map.scene import Scene

if TYPE_CHECKING:
    from trainer.memory.course import Course
    from trainer.notation.display import Notation

#: Of a larger repertoire the likeliest positions are shown, the others folded away.
MOST_AT_FIRST: Final = 1_200


@dataclass(frozen=True, eq=False)
class Order:
    """What is to be drawn: a course as of `now`, or again the `plan` that was made of it.

    `folded` are the keys of the folded positions, None where that is left to reach. `steps` is
    the number of steps of the ramp of recall; `book` the names of openings if they are known.
    """

    course: Course
    now: datetime
    plan: Plan | None
    folded: frozenset[int] | None
    notation: Notation
    steps: int
    book: OpeningBook | None


@dataclass(frozen=True, eq=False)
class Drawn:
    """What was drawn: `folded` are keys, `notice` is what the player should know, or nothing."""

    scene: Scene
    book: OpeningBook | None
    folded: frozenset[int]
    notice: str


def draw(order: Order) -> Drawn:
    """Look up what is shown, lay it out and make its shapes; for a worker thread."""
    plan = order.plan or Plan.of(order.course, order.now)
    if order.folded is None:
        closed = unlikely(plan.arrays, plan.reach, MOST_AT_FIRST)
    else:
        numbers = plan.arrays.number_of
        closed = frozenset(numbers[key] for key in order.folded if key in numbers)
    scene = Scene.of(plan, closed, order.notation, order.steps)
    book, notice = order.book, ""
    if book is None:
        try:
            book = OpeningBook.load()
        except StemlineError as error:  # the map works without names, and says so
            notice = str(error)
    return Drawn(scene, book, frozenset(plan.node(number).key for number in closed), notice)
