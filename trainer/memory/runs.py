"""Runs: which questions are asked one after the other, and by which moves.

Crossings are asked by each of their orders in turn, least recently used first; a new decision
comes only after the decisions before it on some order.
"""

from __future__ import annotations

import heapq
from collections.abc import Mapping
from datetime import UTC, datetime
from itertools import pairwise
from typing import Final, TypeAlias

import numpy as np

from trainer.memory.plan import Question, Reason, Run, Timing, Why
from trainer.memory.survey import Integers, Survey, best_of, costs_of, wanted_of
from trainer.repertoire.arrays import Bools, Floats, RepertoireArrays
from trainer.repertoire.graph import Edge

#: When a position was last asked by each entering move: key → (key before, UCI) → time.
LastEntries: TypeAlias = Mapping[int, Mapping[tuple[int, str], datetime]]

_NEVER: Final = datetime.min.replace(tzinfo=UTC)
#: Between two questions of a run the program plays at most so many decisions by itself.
_LONGEST_GAP: Final = 2
#: Where half of the questions began cold, runs go on to neighbours of so much of the score at
#: which the time runs out (0.4 to 1 came to the same depth in simulations).
_CROWDED: Final = 0.6


class RunBuilder:
    """Makes one run after the other, best score first."""

    def __init__(
        self,
        arrays: RepertoireArrays,
        survey: Survey,
        *,
        timing: Timing,
        last_entries: LastEntries,
        day: int,
    ) -> None:
        self.arrays = arrays
        self.survey = survey
        self.timing = timing
        self.last_entries = last_entries
        self.day = day
        self.open = survey.open.copy()
        #: Asked in this plan, or played by the program on the way.
        self.used: set[int] = set()
        #: How many questions began cold, and how many there are.
        self.cold = 0
        self.asked = 0
        #: The score at which the time is likely to run out; 0 where everything fits in.
        self.cutoff = 0.0
        self.heap: list[tuple[float, int]] = []
        self.pairs: list[tuple[float, int]] = []

    def choose(self, seconds: float) -> None:
        """Weigh all positions anew, for the `seconds` that are left."""
        survey = self.survey
        if self.used and survey.worth is not None:
            survey.score = survey.worth.score()
        worth = survey.fading | survey.new
        worth[list(self.used)] = False
        numbers = np.flatnonzero(worth)
        single, paired = self._rates(worth)
        self.heap, self.cutoff = self._heap(numbers, single[numbers], seconds)
        self.pairs, _ = self._heap(numbers, paired[numbers], seconds)

    def _heap(
        self, numbers: Integers, rate: Floats, seconds: float
    ) -> tuple[list[tuple[float, int]], float]:
        """The best of `numbers` that may be asked, and the rate at which the time runs out."""
        survey, timing = self.survey, self.timing
        best = best_of(rate, wanted_of(seconds, timing))
        cost = costs_of(survey.recall[numbers[best]], timing) + timing.move / 2
        last = int(np.searchsorted(np.cumsum(cost), seconds))
        may = rate[best] > 0
        may &= self.open[numbers[best]] | ~survey.new[numbers[best]]
        chosen = best[may]
        heap = list(zip((-rate[chosen]).tolist(), numbers[chosen].tolist(), strict=True))
        heapq.heapify(heap)
        return heap, float(rate[best[last]]) if last < len(best) else 0.0

    def _rates(self, worth: Bools) -> tuple[Floats, Floats]:
        """What a second brings with each position asked alone, and in the best pair (n each)."""
        survey, timing = self.survey, self.timing
        cost = costs_of(survey.recall, timing)
        value = np.where(worth, survey.score * cost, 0.0)
        paired = np.zeros(len(value))
        if survey.worth is not None:
            before, after = survey.worth.links
            both = worth[before] & worth[after]
            before, after = before[both], after[both]
            pair = (value[before] + value[after]) / (cost[before] + cost[after] + timing.move)
            np.maximum.at(paired, before, pair)
            np.maximum.at(paired, after, pair)
        return value / cost, paired

    # -- runs --------------------------------------------------------------------------------

    def next_run(self, seconds: float) -> Run | None:
        """The best run that is left, cut where `seconds` are over; None when nothing is left."""
        while self.heap or self.pairs:
            heap = self.pairs if self._crowded and self.pairs else self.heap or self.pairs
            _, target = heapq.heappop(heap)
            if target in self.used:
                continue
            chain = self._chain(target)
            run = self._run(chain, target, seconds)
            # What the program plays is not asked any more in this session.
            self.used.update(
                self.arrays.number(edge.parent)
                for question in run.questions
                for edge in question.approach
            )
            for question in run.questions:
                self._take(self.arrays.number(question.node))
            self.cold += 1
            self.asked += len(run.questions)
            return run
        return None

    def _chain(self, target: int) -> list[int]:
        """The decisions worth asking one after the other on a line through `target`."""
        chain = [target]
        taken = {target}
        crowded = self._crowded
        least = self.cutoff * (_CROWDED if crowded else 1.0)
        while (before := self._neighbour_before(chain[0], taken, least)) is not None:
            chain.insert(0, before)
            taken.add(before)
        while (after := self._neighbour_after(chain[-1], taken, least)) is not None:
            chain.append(after)
            taken.add(after)
        return self._introducible(self._lengthened(chain, taken))

    @property
    def _crowded(self) -> bool:
        """Whether more than half would begin cold with one more question alone."""
        return self._wanted_length > 1

    @property
    def _wanted_length(self) -> int:
        """How long the next run must be so that at most half of all questions begin cold.

        Time may cut the last run to its first question, which is then one more.
        """
        return 2 * (self.cold + 1) - self.asked

    def _lengthened(self, chain: list[int], taken: set[int]) -> list[int]:
        """`chain` with the best neighbours that may be asked at all, as long as it must be."""
        for least, gap in ((0.0, 0), (0.0, _LONGEST_GAP), (-1.0, 0)):
            while len(chain) < self._wanted_length:
                before = self._neighbour_before(chain[0], taken, least)
                after = self._neighbour_after(chain[-1], taken, least, gap)
                if before is None and after is None:
                    break
                if after is None or (
                    before is not None and self._rank(before) >= self._rank(after)
                ):
                    assert before is not None
                    chain = [before, *chain]
                    taken.add(before)
                else:
                    chain = [*chain, after]
                    taken.add(after)
        return chain

    def _introducible(self, chain: list[int]) -> list[int]:
        """`chain` up to the first new decision that is not led to by known ones.

        Known are those that an order of known decisions reaches, and those behind them here. A
        position may be well known and yet stand behind a move that the player has changed.
        """
        led_to = False
        for place, number in enumerate(chain):
            led_to = led_to or bool(self.open[number])
            if self.survey.new[number] and not led_to:
                return chain[:place]
        return chain

    def _run(self, chain: list[int], target: int, seconds: float) -> Run:
        """A run over `chain`, cut so that at most its last question ends after `seconds`."""
        questions = self._questions(chain)
        if sum(question.seconds for question in questions[:-1]) >= seconds:
            # What was added before the target must not push the target out.
            chain = self._introducible(chain[chain.index(target) :])
            questions = self._questions(chain)
        spent = 0.0
        kept: list[Question] = []
        for question in questions:
            if kept and spent >= seconds:
                break
            kept.append(question)
            spent += question.seconds
        start = kept[0].approach[0].parent if kept[0].approach else kept[0].node
        return Run(start, tuple(kept))

    def _questions(self, chain: list[int]) -> list[Question]:
        questions = [self.question(chain[0], ())]
        for before, number in pairwise(chain):
            questions.append(self.question(number, self._between(before, number)))
        return questions

    def question(self, number: int, approach: tuple[Edge, ...]) -> Question:
        """The question at a decision, reached by `approach`."""
        recall = float(self.survey.recall[number])
        reason = Reason.FADING if self.survey.fading[number] else Reason.ON_THE_WAY
        reason = Reason.NEW if self.survey.new[number] else reason
        if self.survey.spare is not None and self.survey.spare[number]:
            reason = Reason.SPARE
        return Question(
            node=self.arrays.nodes[number],
            edge=self._main(number),
            approach=approach,
            entry=approach[-1] if approach else self._entry(number),
            why=Why(
                reason,
                recall,
                float(self.survey.reach[number]),
                float(self.survey.behind[number]),
            ),
            seconds=self.timing.question(recall) + len(approach) * self.timing.move,
        )

    # -- neighbours --------------------------------------------------------------------------

    def _goes_on(self, number: int, taken: set[int], cutoff: float, moves: int = 1) -> bool:
        """Whether a decision is worth asking where it costs so many moves of the program.

        Below a cutoff of 0 what is passed on the way is asked as well.
        """
        relaxed = cutoff < 0
        survey = self.survey
        if number in self.used or number in taken:
            return False
        worth = survey.passable[number] if relaxed else survey.fading[number] | survey.new[number]
        if not worth:
            return False
        cost = self.timing.question(float(survey.recall[number]))
        entering = moves * self.timing.move
        return bool(survey.score[number] * cost / (cost + entering) >= cutoff)

    def _neighbour_before(self, number: int, taken: set[int], cutoff: float) -> int | None:
        entry = self._entry(number)
        if entry is None:
            return None
        found = [
            parent
            for edge in self._entries(self.arrays.number(entry.parent))
            if (parent := self.arrays.number(edge.parent)) is not None
            and self._is_main(edge, parent)
            and (self.open[parent] or not self.survey.new[parent])
            and self._goes_on(parent, taken, cutoff)
        ]
        return max(found, key=self._rank, default=None)

    def _neighbour_after(
        self, number: int, taken: set[int], cutoff: float, longest: int = 0
    ) -> int | None:
        """The best decision to go on to; nearer ones come first, as each costs two moves less."""
        front = [number]
        for gap in range(longest + 1):
            after = [follower for place in front for follower in self._followers(place)]
            found = [one for one in after if self._goes_on(one, taken, cutoff, 1 + 2 * gap)]
            if found:
                return max(found, key=self._rank)
            # Beyond a decision that will be asked itself, or is new, the program cannot go on.
            front = [
                one
                for one in after
                if self.survey.seen[one] and one not in taken and not self._gives_away(one)
            ]
        return None

    def _followers(self, number: int) -> list[int]:
        """The decisions behind the main move of one, by the order whose turn it is."""
        level = self.arrays.level
        followers = []
        for reply in self._main(number).child.edges:
            after = self.arrays.number(reply.child)
            if (
                self.arrays.decision[after]
                and level[after] > level[number]
                and self._entry(after) is reply
            ):
                followers.append(after)
        return followers

    def _rank(self, number: int) -> tuple[float, int]:
        return float(self.survey.score[number]), -number

    def _between(self, before: int, number: int) -> tuple[Edge, ...]:
        """The moves from behind the main move of one decision to another."""
        if number not in self._followers(before):
            for via in self._followers(before):
                if number in self._followers(via) or any(
                    number in self._followers(further) for further in self._followers(via)
                ):
                    main = self._main(via)
                    return (
                        self._reply_between(before, via),
                        main,
                        *self._between(via, number),
                    )
        return (self._reply_between(before, number),)

    def _reply_between(self, before: int, number: int) -> Edge:
        main = self._main(before)
        entry = self._entry(number)
        if entry is not None and entry.parent is main.child:
            return entry
        return next(edge for edge in main.child.edges if self.arrays.number(edge.child) == number)

    # -- move orders -------------------------------------------------------------------------

    def _entries(self, number: int) -> list[Edge]:
        """The moves that enter a node, without those that close a cycle."""
        level = self.arrays.level
        return [
            edge
            for edge in self.arrays.nodes[number].entries
            if level[self.arrays.number(edge.parent)] < level[number]
        ]

    def _entry(self, number: int) -> Edge | None:
        """The opponent's move by which a decision is entered this time.

        Among orders whose decisions were asked before, the one not used for the longest time.
        """
        node = self.arrays.nodes[number]
        used = self.last_entries.get(node.key, {})
        return min(
            self._entries(number),
            key=lambda edge: (
                not self.open[self.arrays.number(edge.parent)],
                used.get((edge.parent.key, edge.move.uci()), _NEVER) if used else _NEVER,
            ),
            default=None,
        )

    def _way_in(self, number: int) -> Edge | None:
        """The player's move that leads to an opponent's position this time.

        Several decisions may lead there. Which of them is shown changes from day to day.
        """
        entries = self._entries(number)
        known = [edge for edge in entries if self.open[self.arrays.number(edge.parent)]]
        entries = known or entries
        mains = [e for e in entries if self._is_main(e, self.arrays.number(e.parent))]
        entries = mains or entries
        return entries[self.day % len(entries)] if entries else None

    def _main(self, number: int) -> Edge:
        return self.arrays.edges[int(self.arrays.main_edge[number])]

    def _is_main(self, edge: Edge, parent: int) -> bool:
        main = self.arrays.main_edge[parent]
        return bool(main >= 0) and self.arrays.edges[main] is edge

    def lead_in(self, number: int) -> tuple[Edge, ...]:
        """The moves that show how a chosen position comes about.

        The player's last one, or his last two where orders cross on the way.
        """
        moves: list[Edge] = []
        crossed = False
        for _ in range(2):
            crossed = crossed or len(self.arrays.nodes[number].entries) > 1
            entry = self._entry(number)
            if entry is None:
                break
            moves.insert(0, entry)
            position = self.arrays.number(entry.parent)
            crossed = crossed or len(self.arrays.nodes[position].entries) > 1
            before = self._way_in(position)
            if before is None:
                break
            number = self.arrays.number(before.parent)
            if self._gives_away(number):
                break
            moves.insert(0, before)
            if not crossed:
                break
        return tuple(moves)

    def moves_before(self, number: int, count: int) -> tuple[Edge, ...]:
        """The last `count` half-moves before a position, by the order whose turn it is."""
        moves: list[Edge] = []
        while len(moves) < count:
            entry = self._way_in(number) if len(moves) % 2 else self._entry(number)
            if entry is None:
                break
            moves.insert(0, entry)
            number = self.arrays.number(entry.parent)
        return tuple(moves)

    def _gives_away(self, number: int) -> bool:
        """Whether showing the move of this decision would spoil a question still to come."""
        worth = self.survey.fading[number] or self.survey.new[number]
        return bool(worth and number not in self.used and self.survey.score[number] >= self.cutoff)

    # -- what a question opens ---------------------------------------------------------------

    def _take(self, number: int) -> None:
        """Mark a decision as asked, and put what may now be introduced behind it on the heap."""
        self.used.add(number)
        if self.survey.worth is not None:
            self.survey.worth.ask(number, float(self.survey.recall[number]))
        if not self.survey.new[number]:
            return
        behind = [self._main(number).child]
        while behind:
            opened = self.arrays.number(behind.pop())
            if self.open[opened]:
                continue
            self.open[opened] = True
            if self.survey.new[opened] and opened not in self.used:
                for heap in (self.heap, self.pairs):
                    heapq.heappush(heap, (-float(self.survey.score[opened]), opened))
            elif not self.arrays.decision[opened] or self.survey.seen[opened]:
                behind.extend(edge.child for edge in self.arrays.nodes[opened].edges)
