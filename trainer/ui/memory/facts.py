"""What the page Memory shows, found in the background: values and the functions for them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from trainer.memory import exercises
from trainer.memory.calibration import Calibration, calibration
from trainer.memory.course import Course
from trainer.memory.fitting import Fit, fit
from trainer.memory.model import PARAMETERS
from trainer.memory.outlook import MinutesAhead, Readiness, cost_of_adding, line_up, minutes_ahead
from trainer.memory.outlook import readiness as readiness_of
from trainer.memory.plan import Timing
from trainer.memory.value import DecisionGraph
from trainer.repertoire.graph import Node, Section
from trainer.repertoire.near_misses import NearMiss, find_near_misses
from trainer.repertoire.order_graph import OrderGraph
from trainer.repertoire.reach import edge_shares, root_shares


@dataclass(frozen=True, eq=False)
class MemoryFacts:
    """All that stands on the page when it is opened."""

    calibration: Calibration
    ahead: MinutesAhead
    retention: float
    near_misses: tuple[NearMiss, ...]
    fitted: bool
    timing: Timing


@dataclass(frozen=True, eq=False)
class Choice:
    """Something that an exercise can be about: its name, and its decisions."""

    name: str
    nodes: Callable[[], Sequence[Node]]


def find_facts(course: Course) -> MemoryFacts:
    """The figures of a course. Takes up to a second or two with a large repertoire."""
    pairs = tuple(
        find_near_misses(OrderGraph(course.repertoire, course.arrays, course.reply_shares))
    )
    parameters = course.states.model.parameters
    table = course.states.table(course.arrays)
    retention = course.settings.desired_retention
    timing = course.timing
    return MemoryFacts(
        calibration(course.repertoire, course.answers, course.days, parameters, pairs),
        minutes_ahead(games_of(course), table, course.today_number, retention, timing=timing),
        retention,
        pairs,
        tuple(parameters) != tuple(PARAMETERS),
        timing,
    )


def games_of(course: Course, sections: Sequence[Section] = ()) -> DecisionGraph:
    """The decisions as games meet them, in all sections or only in these."""
    shares = edge_shares(course.arrays, course.reply_shares, 0.0)
    if sections:
        shares = line_up(course.arrays, shares, sections)
    return DecisionGraph.of(course.arrays, shares, root_shares(course.arrays))


def try_fit(course: Course) -> Fit:
    """A fit to the player's answers, on trial. Raises `FittingError`."""
    return fit(course.answers, course.days, course.states.model.parameters)


def section_cost(course: Course, section: Section, retention: float) -> float:
    """Minutes a day that learning what is new in a section adds."""
    added = [
        course.arrays.number(node) for node in exercises.of_section(course.repertoire, section)
    ]
    table = course.states.table(course.arrays)
    return cost_of_adding(
        games_of(course), table, course.today_number, retention, added, timing=course.timing
    )


def find_readiness(course: Course, day: date, section: Section | None, minutes: int) -> Readiness:
    """What makes the line-up ready on a day to come; a section alone, or all of them."""
    chosen = () if section is None else (section,)
    return readiness_of(
        games_of(course, chosen),
        course.states.table(course.arrays),
        course.index,
        course.today_number,
        days=day.toordinal() - course.today_number,
        chosen=minutes,
        timing=course.timing,
    )


def choices(course: Course, near_misses: Sequence[NearMiss]) -> dict[str, list[Choice]]:
    """What exercises there are, by kind; kinds without any decision are left out."""
    repertoire = course.repertoire
    found = {
        "A section": [
            Choice(section.title, lambda one=section: exercises.of_section(repertoire, one))
            for section in repertoire.sections
        ],
        "A structure": _structures(course),
        "An opponent's reply": _replies(course),
        "Crossings": [Choice("all", lambda: exercises.crossings_only(repertoire))],
        "Near misses": [Choice("all", lambda: exercises.near_misses_only(near_misses))],
        "Missed": [Choice("all", lambda: exercises.missed_only(repertoire, course.answers))],
    }
    kept = {
        kind: [choice for choice in options if choice.nodes()] for kind, options in found.items()
    }
    return {kind: options for kind, options in kept.items() if options}


def _structures(course: Course) -> list[Choice]:
    from trainer.lesson.structure_file import load_structures

    book = load_structures()
    held: dict[str, list[Node]] = {}
    for node in course.repertoire.decisions():
        for found in book.find(node.board()):
            held.setdefault(found.name, []).append(node)
    return [Choice(name, lambda nodes=held[name]: nodes) for name in sorted(held)]


#: How many of the opponent's replies can be chosen, the most reached first.
_REPLIES = 40


def _replies(course: Course) -> list[Choice]:
    from trainer.repertoire.orders import order_of, shown_order

    repertoire, arrays = course.repertoire, course.arrays
    reach = course.reach
    edges = [edge for edge in repertoire.edges() if edge.parent.turn != repertoire.side]
    weight = np.array([reach[arrays.number(edge.child)] for edge in edges])
    best = np.argsort(-weight, kind="stable")[:_REPLIES]
    made = []
    for number in best.tolist():
        edge = edges[number]
        before = order_of(repertoire, edge.parent)
        if before is None:
            continue
        order = (*before, edge)
        shown = shown_order(repertoire, order[0].parent, [one.san for one in order])
        made.append(
            Choice(
                shown.text("letters", limit=40),
                lambda one=edge: exercises.behind_reply(repertoire, one),
            )
        )
    return made
