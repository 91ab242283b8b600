"""The planner: what is asked today, and by which move order.

- Each decision has a score: w, what its recall is worth in the next game (`value`), times its
  review index, what a second spent on it now is worth against later (`review_index`). New
  decisions are scored alike, with something off as they lose nothing by waiting. There are no
  quotas and no due dates: the minutes are the limit.
- Worth asking is a position whose move was never asked, or whose recall fell below a bound:
  `desired_retention`, and higher where more than the average hangs on the move. Not worth asking
  is what was answered today already.
- Where all that is worth asking fits into the minutes, what is nearest to it comes after it, as
  long as recall is not certain; unless the player set a lower bound.
- The highest scores are taken a few at a time, and w is then computed anew: what stands behind a
  move is worth more once that move is known.
- A new one comes only after the decisions before it on some move order.
- At most half of the questions begin cold (`selection`). One goes on from another where a single
  reply leads there: behind the move just given, or in a position of the line that was passed,
  once moves are taken back to it. Where the best are not linked enough, those alone that score
  least give way to the best neighbours.
- They are asked in short runs (`runs`). A run begins at once on its first position, with the last
  move marked and the order in words; each further question costs the reply that is played.
- A crossing is asked by each of its move orders in turn, least recently used first.

Only the positions that can come into the plan are touched one by one; the rest is arithmetic on
whole arrays.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from typing import Final

from trainer.memory.index_store import shipped_index
from trainer.memory.model import MemoryStates, MemoryTable
from trainer.memory.plan import Plan, Reason, Run, Timing
from trainer.memory.review_index import ReviewIndex
from trainer.memory.runs import RunBuilder
from trainer.memory.selection import Selection
from trainer.memory.survey import Worth, minutes_of, planning_graph, survey_of
from trainer.memory.value import DecisionGraph
from trainer.memory.ways import LastEntries, Ways
from trainer.repertoire.arrays import Floats, RepertoireArrays
from trainer.repertoire.graph import Node

__all__ = ["DESIRED_RETENTION", "LastEntries", "plan_positions", "plan_session", "planning_graph"]

#: Recall below which a position of average worth is worth asking, unless the player sets it
#: otherwise. Where more hangs on a move its own bound is higher. Eight simulated players with 5
#: minutes a day on the demo repertoire had, after 180 days, 0.957 of full depth at 0.97 and 0.965
#: at 0.99, and no more without any bound.
DESIRED_RETENTION: Final = 0.99


def plan_session(
    arrays: RepertoireArrays,
    states: MemoryStates,
    reach: Floats,
    *,
    minutes: float,
    now: datetime,
    desired_retention: float = DESIRED_RETENTION,
    last_entries: LastEntries | None = None,
    timing: Timing | None = None,
    table: MemoryTable | None = None,
    index: ReviewIndex | None = None,
    graph: DecisionGraph | None = None,
    days_left: int | None = None,
) -> Plan:
    """Today's questions for a session of `minutes`.

    `reach` (n) is the reach of every position, `now` knows its time zone, and
    0 < `desired_retention` < 1. `table` is that of `states`, where the caller has it already,
    `index` the review index of their parameters (without it that of the published ones), `graph`
    the `planning_graph`. `days_left` is how far ahead a tournament lies, for which depth in hand
    on that day is what counts.
    The last question may end after the minutes are over. The same input gives the same plan.
    """
    timing = timing or Timing()
    table = table or states.table(arrays)
    day = states.today(now)
    worth = Worth(
        arrays, graph or planning_graph(arrays), index or shipped_index(), table, day, days_left
    )
    survey = survey_of(arrays, table, reach, day, desired_retention, worth)
    # The last question may end after the minutes: so that they are kept on the whole, it comes
    # in only where half of its time is left.
    seconds = max(0.0, minutes * 60 - timing.right / 2)
    ways = Ways(arrays, survey.open.copy(), last_entries or {}, day)
    chosen = Selection(survey, ways, timing)
    fading = survey.fading
    chosen.fill(seconds)
    if chosen.seconds < seconds and desired_retention >= DESIRED_RETENTION:
        # All that is worth asking is asked, and the minutes are the player's: what is nearest
        # to it comes next.
        survey.spare = survey.passable & ~survey.new & ~fading
        survey.fading = fading | survey.spare
        chosen.fill(seconds)
    chosen.link(seconds)
    chosen.top_up(seconds)
    runs = RunBuilder(survey, ways, timing).runs(chosen, seconds)
    return Plan(
        runs=tuple(runs),
        minutes=minutes,
        fading=int(fading.sum()),
        new=int(survey.new.sum()),
        fading_minutes=minutes_of(survey.recall[fading], timing),
        new_minutes=minutes_of(survey.recall[survey.new], timing),
        bounds=survey.bound,
        timing=timing,
    )


def plan_positions(
    arrays: RepertoireArrays,
    states: MemoryStates,
    reach: Floats,
    nodes: Sequence[Node],
    *,
    now: datetime,
    last_entries: LastEntries | None = None,
    timing: Timing | None = None,
    moves_before: int | None = None,
) -> Plan:
    """A plan that asks just these decisions, in their order, each in a run of its own.

    They are asked whatever their recall, also where they were answered today. A lead-in shows the
    move of none of them, unless `moves_before` asks for so many half-moves before each. Nodes
    that are no decision are left out.
    """
    timing = timing or Timing()
    table = states.table(arrays)
    day = states.today(now)
    survey = survey_of(arrays, table, reach, day, 1.0, None)
    ways = Ways(arrays, survey.open, last_entries or {}, day)
    builder = RunBuilder(survey, ways, timing)
    chosen = {node for node in nodes if arrays.decision[arrays.number(node)]}
    runs = []
    for node in nodes:
        if node not in chosen:
            continue
        number = arrays.number(node)
        if moves_before is not None:
            approach = ways.moves_before(number, moves_before)
        else:
            approach = ways.lead_in(number)
            while any(edge.parent in chosen for edge in approach):
                approach = approach[1:]
        question = builder.question(number, approach, ways.entry(number))
        if not question.is_new:
            why = replace(question.why, reason=Reason.CHOSEN)
            question = replace(question, why=why, again_today=bool(table.day[number] == day))
        start = approach[0].parent if approach else node
        runs.append(Run(start, (question,)))
    seconds = sum(run.seconds for run in runs)
    return Plan(tuple(runs), seconds / 60, 0, 0, 0.0, 0.0, timing=timing)
