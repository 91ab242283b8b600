"""One day's sitting of all simulated players: time, answers, and what is asked again."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from trainer.memory.plan import Timing
from trainer.memory.simulation.learners import Memories
from trainer.memory.value import Indices
from trainer.repertoire.arrays import Bools, Floats


@dataclass(eq=False)
class Sitting:
    """A day's drill of k players, each with `budget` seconds.

    `right` (d, k) tells what each would answer today. A wrong answer takes its time and comes
    back once at the end, so its repeat's time is set aside at once; a player goes on as long as
    what is spent and set aside is less than the budget. `belief` is what the program knows, and
    follows the answers. `answers` and `replays` (k) count all answers, and those that nothing
    was gained by: at a position answered before today, or passed only as the way to another.
    """

    day: int
    budget: float
    right: Bools
    belief: Memories
    timing: Timing = field(default_factory=Timing)

    def __post_init__(self) -> None:
        self.asked: Bools = np.zeros_like(self.right)
        players = self.right.shape[1]
        self.spent: Floats = np.zeros(players)
        self.answers = np.zeros(players, np.int64)
        self.replays = np.zeros(players, np.int64)

    @property
    def going_on(self) -> Bools:
        """Which players have time left (k)."""
        return self.spent < self.budget

    def ask(self, rows: Indices, valid: Bools, replies: float = 0.0) -> Bools:
        """Ask each player his column of decisions `rows` (b, k), from the top, while time lasts.

        Only `valid` places count; they must not have been asked today. So many `replies` on
        average are played by the program to get to each; where none is, the question begins cold,
        as does what comes back. Returns which were asked (b, k).
        """
        right = np.take_along_axis(self.right, rows, axis=0)
        timing = self.timing
        cost = np.where(right, timing.right, timing.missed)
        cost = cost + replies * timing.move + (1 - replies) * timing.jump
        cost = np.where(valid, cost, 0.0)
        before = self.spent + np.cumsum(cost, axis=0) - cost
        taken: Bools = valid & (before < self.budget)
        self.spent += np.where(taken, cost, 0.0).sum(axis=0)
        self.answers += np.where(taken, np.where(right, 1, 2), 0).sum(axis=0)
        places, columns = np.nonzero(taken)
        self.note(rows[places, columns], columns)
        return taken

    def note(self, rows: Indices, columns: Indices) -> None:
        """The first answers of today at these places, in the program's memory as well."""
        self.asked[rows, columns] = True
        self.belief.review(rows, columns, self.right[rows, columns], self.day)


class Player:
    """One player's walk through lines, in plain numbers: for policies that drill by lines."""

    def __init__(self, sitting: Sitting, column: int, *, repeats_set_aside: bool = True) -> None:
        """A wrong answer's repeat is counted at once, or left to `repeat`."""
        self._set_aside = repeats_set_aside
        self._sitting = sitting
        self._column = column
        self._timing = sitting.timing
        self._right = sitting.right[:, column].tolist()
        self.asked: dict[int, bool] = {}
        self.spent = 0.0
        self.answers = 0
        self.replays = 0

    @property
    def has_time(self) -> bool:
        """Whether another question may be asked."""
        return self.spent < self._sitting.budget

    def move(self, count: int = 1) -> None:
        """The program plays so many moves."""
        self.spent += count * self._timing.move

    def jump(self) -> None:
        """The next question begins cold."""
        self.spent += self._timing.jump

    def ask(self, row: int, *, on_the_way: bool = False) -> bool:
        """Ask a decision; whether it was right. What was asked before today is right now."""
        self.answers += 1
        if row in self.asked:
            self.replays += 1
            self.spent += self._timing.right
            return True
        right: bool = self._right[row]
        self.asked[row] = right
        self.replays += on_the_way
        self.spent += self._timing.right if right else self._timing.wrong
        if not right and self._set_aside:
            self.jump()
            self.repeat()
        return right

    def repeat(self) -> None:
        """A missed move comes back, and is right."""
        self.answers += 1
        self.spent += self._timing.right

    def close(self) -> None:
        """Put the answers into the sitting."""
        rows = np.fromiter(self.asked, np.intp, len(self.asked))
        self._sitting.note(rows, np.full(len(rows), self._column))
        self._sitting.spent[self._column] = self.spent
        self._sitting.answers[self._column] = self.answers
        self._sitting.replays[self._column] = self.replays
