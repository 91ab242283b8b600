"""Runs: in which order the chosen questions are asked, and by which moves.

A run begins on its first position. From one question to the next the program plays one reply,
behind the move just given, or, after taking moves back, in a position that was passed before.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from trainer.memory.plan import Question, Reason, Run, Timing, Why
from trainer.memory.selection import Selection
from trainer.memory.survey import Survey
from trainer.memory.ways import Ways
from trainer.repertoire.arrays import Bools
from trainer.repertoire.graph import Edge

#: As long as at most half begin cold, so many questions behind a decision are a run of their own,
#: and no more than so many behind one position stay together: short runs cost fewer replies, and
#: what was missed comes back between them.
_LONG: Final = 3
#: Numbers of parts of groups, below those of positions and of roots.
_PART: Final = -(1 << 40)


class RunBuilder:
    """Makes questions, and runs of them."""

    def __init__(self, survey: Survey, ways: Ways, timing: Timing) -> None:
        self.survey = survey
        self.ways = ways
        self.timing = timing

    def question(self, number: int, approach: tuple[Edge, ...], entry: Edge | None) -> Question:
        """The question at a decision, reached by `approach`, or there at once by `entry`."""
        survey, arrays = self.survey, self.ways.arrays
        recall = float(survey.recall[number])
        reason = Reason.FADING if survey.fading[number] else Reason.ON_THE_WAY
        reason = Reason.NEW if survey.new[number] else reason
        if survey.spare is not None and survey.spare[number]:
            reason = Reason.SPARE
        return Question(
            node=arrays.nodes[number],
            edge=self.ways.main(number),
            approach=approach,
            entry=approach[-1] if approach else entry,
            why=Why(reason, recall, float(survey.reach[number]), float(survey.behind[number])),
            seconds=self.timing.question(recall) + self._way(approach),
        )

    def _way(self, approach: tuple[Edge, ...]) -> float:
        """The seconds until a question stands on the board."""
        return len(approach) * self.timing.move if approach else self.timing.jump

    def runs(self, chosen: Selection, seconds: float) -> list[Run]:
        """All chosen questions in runs, what is worth most first.

        The last question is expected to begin before `seconds` are over.
        """
        opened = self.survey.open.copy()
        found: list[Run] = []
        spent = 0.0
        for numbers in self._introducible(_Links(chosen).pieces(), chosen, opened):
            questions: list[Question] = []
            for question in self._questions(numbers, chosen):
                if spent >= seconds:
                    break
                questions.append(question)
                spent += question.seconds
            if questions:
                found.append(Run(questions[0].node, tuple(questions)))
        return found

    def _questions(self, numbers: list[int], chosen: Selection) -> Iterable[Question]:
        """Questions of one run; all but the first follow a reply in a position passed before."""
        for place, number in enumerate(numbers):
            entry = chosen.entry[number]
            approach = (entry,) if place and entry is not None else ()
            yield self.question(number, approach, entry)

    def _introducible(
        self, pieces: list[list[int]], chosen: Selection, opened: Bools
    ) -> Iterable[list[int]]:
        """The runs by the best score in each, one that must wait for another after that.

        Where runs wait for each other, their questions are asked one by one.
        """
        waiting = sorted(pieces, key=lambda one: (-max(chosen.score[n] for n in one), one[0]))
        while waiting:
            ready = next((one for one in waiting if self._open_all(one, opened)), None)
            if ready is not None:
                waiting.remove(ready)
                yield ready
            elif any(len(one) > 1 for one in waiting):
                waiting = [[number] for one in waiting for number in one]
            else:
                return

    def _open_all(self, numbers: list[int], opened: Bools) -> bool:
        """Whether each new decision of a run is led to by known ones; those behind are opened."""
        changed: list[int] = []
        for number in numbers:
            if not self.survey.new[number]:
                continue
            if not opened[number]:
                opened[changed] = False
                return False
            changed += self.ways.open_behind(number, opened, self.survey.seen)
        return True


class _Links:
    """How the chosen questions hang together, as trees.

    The questions behind one opponent's position are a group. It hangs on a chosen decision whose
    main move leads there, the one of the highest score; a group that hangs on none is a root.
    """

    def __init__(self, chosen: Selection) -> None:
        self.chosen = chosen
        self.groups: dict[int, list[int]] = {}
        self.leader: dict[int, int] = {}
        for number, score in chosen.score.items():
            self.groups.setdefault(chosen.before(number), []).append(number)
            after = chosen.after(number)
            if after not in self.leader or score > chosen.score[self.leader[after]]:
                self.leader[after] = number
        #: How many questions a group holds, with all that hang on it.
        self.size: dict[int, int] = {}
        self.hangs = {
            leader: group for group, leader in self.leader.items() if group in self.groups
        }

    def pieces(self) -> list[list[int]]:
        """The questions of each run in order."""
        roots = [group for group in self.groups if group not in self.leader]
        roots += self._cut(roots)
        return [self._walk(root) for root in roots]

    def _below(self, roots: Iterable[int]) -> list[int]:
        """All groups that hang on these, each before those that hang on it."""
        found = list(roots)
        for group in found:
            found += [self.hangs[n] for n in self.groups[group] if n in self.hangs]
        return found

    def _cut(self, roots: list[int]) -> list[int]:
        """Groups that are taken off and asked in runs of their own, as long as half go on.

        None are where jumping costs more than going on.
        """
        costly = self.chosen.timing.jump_costs_more
        may = 0 if costly else len(self.chosen.score) // 2 - len(roots)
        cut: list[int] = []
        top = set(roots)
        for group in reversed(self._below(roots)):
            numbers = self._sorted(group)
            while len(numbers) > _LONG and len(cut) < may:
                part = _PART - len(cut)
                self.groups[part], numbers = numbers[:_LONG], numbers[_LONG:]
                self._weigh(part)
                cut.append(part)
            self.groups[group] = numbers
            self._weigh(group)
            if group not in top and self.size[group] >= _LONG and len(cut) < may:
                del self.hangs[self.leader[group]]
                cut.append(group)
        return cut

    def _weigh(self, group: int) -> None:
        numbers = self.groups[group]
        behind = sum(self.size[self.hangs[n]] for n in numbers if n in self.hangs)
        self.size[group] = len(numbers) + behind

    def _walk(self, root: int) -> list[int]:
        """A tree in the order of asking: what is behind a decision right after it."""
        order: list[int] = []
        waiting = self._sorted(root)
        while waiting:
            number = waiting.pop()
            order.append(number)
            if number in self.hangs:
                waiting += self._sorted(self.hangs[number])
        return order

    def _sorted(self, group: int) -> list[int]:
        """The questions of a group, last first: little behind them first, so that few moves are
        taken back, then by score."""

        def rank(number: int) -> tuple[int, float, int]:
            behind = self.size[self.hangs[number]] if number in self.hangs else 0
            return -behind, self.chosen.score[number], -number

        return sorted(self.groups[group], key=rank)
