"""Exercises: a drill of one kind of decisions, the best of them first, in a mixed order."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable, Sequence
from datetime import datetime
from typing import Final

import numpy as np

from trainer.memory.model import MemoryStates
from trainer.memory.plan import Plan, Timing
from trainer.memory.planner import LastEntries, plan_positions, planning_graph
from trainer.memory.review_index import ReviewIndex
from trainer.memory.survey import Worth
from trainer.memory.value import DecisionGraph
from trainer.repertoire.arrays import Floats, RepertoireArrays
from trainer.repertoire.graph import Edge, Node, Repertoire, Section
from trainer.repertoire.near_misses import NearMiss
from trainer.storage.answers import Answer, AnswerKind, Grade

#: Questions from one line stand at least this far apart in a mixed order, where there are others.
_APART: Final = 3


def of_section(repertoire: Repertoire, section: Section) -> list[Node]:
    """The decisions whose main move stands in a section."""
    stands = set(section.stands)
    return [node for node in repertoire.decisions() if node.edges[0] in stands]


def behind_reply(repertoire: Repertoire, reply: Edge) -> list[Node]:
    """The decisions that come up once the opponent has played a reply, in order of reading."""
    found, pending = {reply.child}, [reply.child]
    while pending:
        for edge in pending.pop().edges:
            if edge.child not in found:
                found.add(edge.child)
                pending.append(edge.child)
    return [node for node in repertoire.decisions() if node in found]


def crossings_only(repertoire: Repertoire) -> list[Node]:
    """The decisions that two or more moves lead to, or whose position before is such a one."""
    return [
        node
        for node in repertoire.decisions()
        if len(node.entries) > 1 or any(len(edge.parent.entries) > 1 for edge in node.entries)
    ]


def near_misses_only(pairs: Iterable[NearMiss]) -> list[Node]:
    """The decisions of all pairs that look almost the same and have different moves."""
    found: dict[Node, None] = {}
    for pair in pairs:
        if not pair.same_move:
            found[pair.first] = found[pair.second] = None
    return list(found)


def missed_only(repertoire: Repertoire, answers: Iterable[Answer]) -> list[Node]:
    """The decisions whose main move was missed in a drill or a game, latest last."""
    missed = {
        (answer.key, answer.move): None
        for answer in answers
        if answer.grade is Grade.MISSED and answer.kind is not AnswerKind.RETRACTION
    }
    return [
        node
        for key, move in missed
        if (node := repertoire.nodes.get(key)) is not None
        and repertoire.is_decision(node)
        and node.edges[0].move.uci() == move
    ]


def where(repertoire: Repertoire, holds: Callable[[Node], bool]) -> list[Node]:
    """The decisions of which something holds, such as a pawn structure on the board."""
    return [node for node in repertoire.decisions() if holds(node)]


def plan_exercise(
    arrays: RepertoireArrays,
    states: MemoryStates,
    reach: Floats,
    nodes: Sequence[Node],
    *,
    minutes: float,
    now: datetime,
    index: ReviewIndex,
    rng: random.Random,
    mixed: bool = True,
    moves_before: int | None = None,
    graph: DecisionGraph | None = None,
    last_entries: LastEntries | None = None,
    timing: Timing | None = None,
) -> Plan:
    """An exercise on these decisions: those worth most now, as many as the minutes hold.

    With `mixed` their order gives no line away: neighbours on a line do not follow each other
    where others can stand between them. `moves_before` is how many half-moves are shown before
    each (as many as there are); without it the lead-in is that of chosen positions.
    """
    timing = timing or Timing()
    table = states.table(arrays)
    day = states.today(now)
    worth = Worth(arrays, graph or planning_graph(arrays), index, table, day).score()
    recall = table.recall(day)
    numbers = [arrays.number(node) for node in nodes]
    order = np.argsort([-worth[number] for number in numbers], kind="stable").tolist()
    left = minutes * 60
    chosen = []
    for place in order:
        if left <= 0:
            break
        chosen.append(nodes[place])
        moves = 2 if moves_before is None else moves_before
        left -= timing.question(float(recall[numbers[place]])) + moves * timing.move
    if mixed:
        rng.shuffle(chosen)
        chosen = _apart(chosen)
    return plan_positions(
        arrays,
        states,
        reach,
        chosen,
        now=now,
        last_entries=last_entries,
        moves_before=moves_before,
        timing=timing,
    )


def _apart(nodes: list[Node]) -> list[Node]:
    """The same decisions, with neighbours on a line put apart where that can be done."""
    left = list(nodes)
    found: list[Node] = []
    while left:
        lately = found[-_APART:]
        place = next(
            (
                number
                for number, node in enumerate(left)
                if not any(_neighbours(node, other) for other in lately)
            ),
            0,
        )
        found.append(left.pop(place))
    return found


def _neighbours(one: Node, other: Node) -> bool:
    return _follows(one, other) or _follows(other, one)


def _follows(after: Node, before: Node) -> bool:
    return any(edge.parent is before for entry in after.entries for edge in entry.parent.entries)
