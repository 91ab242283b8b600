"""What lies ahead: the load of the coming days, and depth in hand with and without a drill."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Final

import numpy as np
from fsrs import Rating

from trainer.memory.days import StudyDays, day_and_month
from trainer.memory.grading import REVIEWS, effective
from trainer.memory.model import UNSEEN_RECALL, MemoryState, MemoryStates, MemoryTable
from trainer.memory.plan import Plan, Timing
from trainer.memory.planner import DESIRED_RETENTION
from trainer.memory.survey import costs_of
from trainer.memory.today import DayLoad, Depth, NotedDecision, Today
from trainer.repertoire.arrays import Floats, RepertoireArrays
from trainer.repertoire.graph import Node, Repertoire
from trainer.repertoire.orders import order_of, shown_order
from trainer.repertoire.reach import ReplyShares, depth_in_hand
from trainer.storage.answers import Answer, AnswerKind, Grade

#: For how many days the load is shown, and how far back "lately" goes.
LOAD_DAYS: Final = 14
LATELY: Final = timedelta(days=14)
MOST_MISSED: Final = 20


def load(
    table: MemoryTable,
    today: int,
    *,
    days: StudyDays,
    desired_retention: float | Floats = DESIRED_RETENTION,
    timing: Timing | None = None,
    horizon: int = LOAD_DAYS,
) -> tuple[DayLoad, ...]:
    """On each of the coming days, today first: what falls below the desired retention on it.

    That is one number, or one for each position (n).

    Today's count holds all that is below already. Nothing is counted twice: what each review
    will bring later is not guessed at, and new positions come when there is time for them.
    """
    timing = timing or Timing()
    seen = table.seen
    stability, last = table.stability[seen], table.day[seen]
    # Recall is below the retention on the first whole day after the interval to it.
    bound = np.broadcast_to(np.asarray(desired_retention), seen.shape)[seen]
    wait = np.floor(table.model.interval(stability, bound)) + 1
    due = np.maximum(last + wait, today)
    recall = table.model.recall(due - last, stability)
    cost = costs_of(recall, timing) + timing.getting_there
    offset = (due - today).astype(np.int64)
    near = offset < horizon
    counts = np.bincount(offset[near], minlength=horizon)
    seconds = np.bincount(offset[near], cost[near], minlength=horizon)
    return tuple(
        DayLoad(days.date(today + number), int(counts[number]), float(seconds[number]) / 60)
        for number in range(horizon)
    )


def depth_outlook(
    arrays: RepertoireArrays,
    table: MemoryTable,
    plan: Plan,
    today: int,
    reply_shares: ReplyShares | None = None,
) -> Depth:
    """Depth in hand today, tomorrow without and with the plan carried out, and at its most.

    Each question of the plan is answered right with its present recall. Tomorrow's recall is
    then the mean of what the model gives after a clean and after a missed answer, weighted by
    that chance; a new move has the guessed recall of unseen ones. What was answered today already
    counts in today's depth as it will tomorrow, or a move just missed would count as certain.
    """
    tomorrow = table.recall(today + 1)
    drilled = tomorrow.copy()
    for question in plan.questions:
        number = arrays.number(question.node)
        drilled[number] = _recall_after(table, number, question.why.recall, today)

    def depth(recall: Floats) -> float:
        return depth_in_hand(arrays, recall, reply_shares)

    return Depth(
        now=depth(table.recall(today, least_days=1.0)),
        without=depth(tomorrow),
        drilled=depth(drilled),
        full=depth(np.ones(len(arrays.nodes))),
    )


def missed_lately(
    repertoire: Repertoire,
    answers: Iterable[Answer],
    now: datetime,
    *,
    days: StudyDays | None = None,
    within: timedelta = LATELY,
    most: int = MOST_MISSED,
) -> tuple[NotedDecision, ...]:
    """The decisions missed within the last days, latest first, with how many times each.

    `days` is the player's calendar (without it UTC), by which the last day is named.
    What is no longer in the repertoire, or has another main move by now, is left out.
    """
    days = days or StudyDays()
    times: dict[tuple[int, str], int] = {}
    last: dict[tuple[int, str], datetime] = {}
    in_games: dict[tuple[int, str], int] = {}
    for answer in effective(answers):
        if answer.grade is Grade.MISSED and answer.kind in REVIEWS and now - answer.at <= within:
            place = (answer.key, answer.move)
            times[place] = times.get(place, 0) + 1
            last[place] = max(answer.at, last.get(place, answer.at))
            if answer.kind is AnswerKind.GAME:
                in_games[place] = in_games.get(place, 0) + 1
    found = []
    for place in sorted(last, key=lambda place: last[place], reverse=True):
        node = repertoire.nodes.get(place[0])
        if node is None or not _is_main(repertoire, node, place[1]):
            continue
        day = days.date(days.number(last[place]))
        remark = f"missed {_times(times[place])}, last on {day_and_month(day)}"
        if place in in_games:
            remark += ", at the board" + ("" if in_games[place] == times[place] else " too")
        found.append(noted(repertoire, node, remark))
        if len(found) == most:
            break
    return tuple(found)


def figures(
    repertoire: Repertoire,
    arrays: RepertoireArrays,
    states: MemoryStates,
    plan: Plan,
    answers: Iterable[Answer],
    *,
    now: datetime,
    desired_retention: float = DESIRED_RETENTION,
    table: MemoryTable | None = None,
    reply_shares: ReplyShares | None = None,
    flagged: tuple[NotedDecision, ...] = (),
) -> Today:
    """All that the place called Today shows, for the session planned as `plan`."""
    table = table or states.table(arrays)
    today = states.today(now)
    return Today(
        decisions=int(arrays.decision.sum()),
        learnt=int(table.seen.sum()),
        worth_asking=plan.worth_asking,
        minutes_needed=plan.minutes_needed,
        questions=len(plan.questions),
        new_questions=plan.new_questions,
        planned_minutes=plan.expected_seconds / 60,
        depth=depth_outlook(arrays, table, plan, today, reply_shares),
        load=load(
            table,
            today,
            days=states.days,
            desired_retention=desired_retention if plan.bounds is None else plan.bounds,
            timing=plan.timing,
        ),
        missed=missed_lately(repertoire, answers, now, days=states.days),
        flagged=flagged,
        spare_questions=plan.spare_questions,
    )


def _recall_after(table: MemoryTable, number: int, recall: float, today: int) -> float:
    """Tomorrow's expected recall of a move that is asked today."""
    state = None
    if not np.isnan(table.stability[number]):
        state = MemoryState(
            float(table.stability[number]),
            float(table.difficulty[number]),
            int(table.day[number]),
        )
    else:
        recall = UNSEEN_RECALL
    right, wrong = (
        table.model.review(state, rating, today).stability
        for rating in (Rating.Good, Rating.Again)
    )
    after = table.model.recall(np.ones(2), np.array([right, wrong]))
    return float(recall * after[0] + (1 - recall) * after[1])


def noted(repertoire: Repertoire, node: Node, remark: str) -> NotedDecision:
    """A decision to be listed, with one of its move orders."""
    order = order_of(repertoire, node) or ()
    origin = order[0].parent if order else node
    shown = shown_order(repertoire, origin, [edge.san for edge in order])
    return NotedDecision(node, node.edges[0], shown, remark)


def _times(number: int) -> str:
    return "once" if number == 1 else f"{number} times"


def _is_main(repertoire: Repertoire, node: Node, move: str) -> bool:
    return repertoire.is_decision(node) and node.edges[0].move.uci() == move
