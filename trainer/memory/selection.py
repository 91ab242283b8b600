"""Which questions a session asks: what is worth most, so linked that at most half begin cold.

First the highest scores are taken as long as there is time. Each question then belongs to the
opponent's position before it. Two questions behind one position are neighbours, and so are a
decision and those behind its main move: from the one the program gets to the other by a single
reply, after going on or after taking moves back. So the questions behind one position need at
most one cold start together, and none where the decision before is asked as well. Where more
than half would begin cold, those alone that score least give way to the best neighbours. Where
jumping costs time, a question of c seconds that begins cold counts c / (c + jump) of its score.
"""

from __future__ import annotations

import heapq
from collections import Counter
from collections.abc import Iterable, Iterator
from typing import Final

import numpy as np

from trainer.memory.plan import Timing
from trainer.memory.survey import Survey, best_of, wanted_of
from trainer.memory.ways import Ways
from trainer.repertoire.graph import Edge

#: After so many questions w is computed anew; a long session is done in as many parts.
_BATCH: Final = 2
_PARTS: Final = 10
#: What stands for no position behind a decision is this less its number.
_NOWHERE: Final = -(1 << 32)


class Selection:
    """The questions chosen so far, by the number of their decision, with how each is entered."""

    def __init__(self, survey: Survey, ways: Ways, timing: Timing) -> None:
        self.survey = survey
        self.ways = ways
        self.timing = timing
        #: Score and entering move of each chosen decision, in the order of choosing.
        self.score: dict[int, float] = {}
        self.entry: dict[int, Edge | None] = {}
        #: How many questions would begin cold.
        self.cold = 0
        self._asking = 0.0
        #: How many chosen decisions stand behind each opponent's position, and lead to it.
        self._behind: Counter[int] = Counter()
        self._leading: Counter[int] = Counter()
        self._opened: dict[int, list[int]] = {}

    def __len__(self) -> int:
        return len(self.score)

    # -- the best ----------------------------------------------------------------------------

    def fill(self, seconds: float) -> None:
        """Take what is worth most until `seconds` are used, or nothing is left."""
        batch = max(_BATCH, int(seconds / self.timing.right / _PARTS))
        while self.seconds < seconds:
            asked = 0
            for number in self._best(seconds - self.seconds):
                self.take(number)
                asked += 1
                if asked == batch or self.seconds >= seconds:
                    break
            if not asked:
                return

    def _best(self, seconds: float) -> Iterator[int]:
        """What is worth asking by its score as it is now, the best first."""
        survey = self.survey
        if self.score and survey.worth is not None:
            survey.score = survey.worth.score()
        worth = survey.fading | survey.new
        worth[list(self.score)] = False
        numbers = np.flatnonzero(worth)
        numbers = numbers[best_of(survey.score[numbers], wanted_of(seconds, self.timing))]
        score = survey.score[numbers]
        may = (score > 0) & (self.ways.open[numbers] | ~survey.new[numbers])
        heap = list(zip((-score[may]).tolist(), numbers[may].tolist(), strict=True))
        heapq.heapify(heap)
        while heap:
            least, number = heapq.heappop(heap)
            if number in self.score:
                continue
            weighed = self._weighed(number)
            if heap and weighed < -least and weighed < -heap[0][0]:
                heapq.heappush(heap, (-weighed, number))
                continue
            yield number
            # What was taken may have opened others, and those beside it begin cold no more.
            better = [opened for opened in self._opened.get(number, ()) if survey.new[opened]]
            if self.timing.jump and number in self.score:
                better += [one for one in self._neighbours(number) if worth[one]]
            for other in better:
                if other not in self.score and (self.ways.open[other] or not survey.new[other]):
                    heapq.heappush(heap, (-float(survey.score[other]), other))

    def _weighed(self, number: int) -> float:
        """The score of a decision, less where it would begin cold and that costs time."""
        score, jump = float(self.survey.score[number]), self.timing.jump
        if not jump or self._with(number) <= 0:
            return score
        seconds = self.timing.question(float(self.survey.recall[number]))
        return score * seconds / (seconds + jump)

    # -- neighbours --------------------------------------------------------------------------

    def link(self, seconds: float) -> None:
        """Bring cold starts down to half: the weakest alone give way to the best neighbours."""
        linked: list[tuple[float, int]] = []
        for number in self.score:
            self._push_neighbours(linked, number)
        heapq.heapify(linked)
        alone = [(score, number) for number, score in self.score.items()]
        heapq.heapify(alone)
        while 2 * self.cold > len(self.score):
            weakest = self._weakest_alone(alone)
            if weakest is not None:
                self.drop(weakest)
                if self.seconds >= seconds:
                    continue
            added = self._best_linked(linked)
            if added is None:
                if weakest is not None:
                    self.take(weakest)
                return
            self.take(added)
            self._push_neighbours(linked, added)

    def top_up(self, seconds: float) -> None:
        """Use the time that is left for the best that leaves at least half in context."""
        if self.seconds >= seconds:
            return
        for number in self._best(seconds - self.seconds):
            if 2 * (self.cold + self._with(number)) <= len(self.score) + 1:
                self.take(number)
                if self.seconds >= seconds:
                    return

    def _weakest_alone(self, heap: list[tuple[float, int]]) -> int | None:
        while heap:
            _, number = heapq.heappop(heap)
            if number in self.score and self._without(number) < 0 and self._may_go(number):
                return number
        return None

    def _may_go(self, number: int) -> bool:
        """Whether nothing was chosen that had to wait for this decision."""
        new = self.survey.new
        return not any(
            new[opened] and opened in self.score for opened in self._opened.get(number, ())
        )

    def _best_linked(self, heap: list[tuple[float, int]]) -> int | None:
        while heap:
            _, number = heapq.heappop(heap)
            if number not in self.score and self._with(number) <= 0:
                return number
        return None

    def _push_neighbours(self, heap: list[tuple[float, int]], number: int) -> None:
        survey = self.survey
        for other in self._neighbours(number):
            if (
                other not in self.score
                and survey.passable[other]
                and survey.score[other] > 0
                and (self.ways.open[other] or not survey.new[other])
            ):
                heapq.heappush(heap, (-float(survey.score[other]), other))

    def _neighbours(self, number: int) -> Iterable[int]:
        """The decisions to which one reply leads from this one, and those that lead to it."""
        ways = self.ways
        after = self.after(number)
        if after >= 0:
            yield from ways.replies(after)
        entry = self.entry[number]
        if entry is not None:
            before = ways.arrays.number(entry.parent)
            yield from ways.replies(before)
            yield from ways.leading_to(before)

    # -- taking and dropping -----------------------------------------------------------------

    def take(self, number: int) -> None:
        """Choose a decision; what may now be introduced behind it is open."""
        survey = self.survey
        self.cold += self._with(number)
        self.score[number] = float(survey.score[number])
        self.entry[number] = self.ways.entry(number)
        self._count(number, 1)
        if survey.worth is not None:
            survey.worth.ask(number, float(survey.recall[number]))
        if survey.new[number]:
            self._opened[number] = self.ways.open_behind(number, self.ways.open, survey.seen)

    def drop(self, number: int) -> None:
        """Take a decision back that nothing chosen had to wait for."""
        self.cold += self._without(number)
        self._count(number, -1)
        del self.score[number], self.entry[number]
        for opened in self._opened.pop(number, ()):
            self.ways.open[opened] = False

    def before(self, number: int) -> int:
        """The opponent's position before a decision; a number below 0 where there is none."""
        entry = self.entry[number] if number in self.entry else self.ways.entry(number)
        return -1 - number if entry is None else self.ways.arrays.number(entry.parent)

    def after(self, number: int) -> int:
        """The opponent's position behind a main move; below 0 where that closes a cycle."""
        arrays = self.ways.arrays
        child = arrays.number(self.ways.main(number).child)
        return child if arrays.level[child] > arrays.level[number] else _NOWHERE - number

    def _with(self, number: int) -> int:
        """How many more questions begin cold with this decision as well."""
        before, after = self.before(number), self.after(number)
        alone = not self._behind[before] and not self._leading[before]
        leads = bool(self._behind[after]) and not self._leading[after]
        return alone - leads

    def _without(self, number: int) -> int:
        """How many more questions begin cold without this chosen decision."""
        before, after = self.before(number), self.after(number)
        alone = self._behind[before] == 1 and not self._leading[before]
        leads = bool(self._behind[after]) and self._leading[after] == 1
        return leads - alone

    def _count(self, number: int, sign: int) -> None:
        self._behind[self.before(number)] += sign
        self._leading[self.after(number)] += sign
        self._asking += sign * self.timing.question(float(self.survey.recall[number]))

    @property
    def seconds(self) -> float:
        """What asking all of them is expected to take, with the replies of half or more."""
        cold = self.cold if self.timing.jump_costs_more else max(self.cold, len(self.score) // 2)
        going_on = len(self.score) - cold
        return self._asking + going_on * self.timing.move + cold * self.timing.jump
