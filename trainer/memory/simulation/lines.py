"""Policies that drill whole lines from the first move, for comparison."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from trainer.memory.simulation.sitting import Player, Sitting
from trainer.memory.simulation.sm2 import Sm2Card
from trainer.memory.value import DecisionGraph

#: A line without a miss, and one with: the qualities of SM-2 that stand for them.
ALL_RIGHT: Final = 5
SOME_WRONG: Final = 2


@dataclass(frozen=True, eq=False)
class LineBook:
    """The decisions of a repertoire as lines.

    `after` and `chances` are the links of each decision, `before` one decision that leads to it
    (None where a game may begin with it), `starts` and `start_chances` where games begin, and
    `by_reach` all decisions that games get to, the most reached first.
    """

    after: list[list[int]]
    chances: list[list[float]]
    before: list[int | None]
    starts: list[int]
    start_chances: list[float]
    by_reach: list[int]

    @classmethod
    def of(cls, graph: DecisionGraph) -> LineBook:
        """The lines of `graph`; the decision before is the one read first."""
        count = len(graph)
        after: list[list[int]] = [[] for _ in range(count)]
        chances: list[list[float]] = [[] for _ in range(count)]
        before: list[int | None] = [None] * count
        reach = graph.arrival(np.ones((count, 1)))[:, 0]
        links = zip(
            graph.before.tolist(), graph.after.tolist(), graph.probability.tolist(), strict=True
        )
        for parent, child, probability in links:
            after[parent].append(child)
            chances[parent].append(probability)
            if before[child] is None and graph.start[child] == 0 and reach[parent] > 0:
                before[child] = parent
        starts = np.flatnonzero(graph.start > 0)
        return cls(
            after=after,
            chances=chances,
            before=before,
            starts=starts.tolist(),
            start_chances=graph.start[starts].tolist(),
            by_reach=[row for row in np.argsort(-reach, kind="stable").tolist() if reach[row] > 0],
        )

    def to(self, row: int) -> list[int]:
        """The decisions of a line from its start to `row`, that one last."""
        line = [row]
        while (earlier := self.before[line[-1]]) is not None:
            line.append(earlier)
        return line[::-1]

    def on_from(self, row: int, rng: random.Random) -> list[int]:
        """The decisions behind `row` to the end of a line, replies by chance."""
        line: list[int] = []
        while True:
            row_after = _reply(self.after[row], self.chances[row], rng)
            if row_after is None:
                return line
            line.append(row_after)
            row = row_after

    def random_line(self, rng: random.Random) -> list[int]:
        """A line as it comes up in games."""
        (start,) = rng.choices(self.starts, self.start_chances)
        return [start, *self.on_from(start, rng)]

    def cover(self) -> list[list[int]]:
        """Lines from the first move that hold every decision, the most reached first."""
        covered: set[int] = set()
        lines = []
        for row in self.by_reach:
            if row in covered:
                continue
            line = self.to(row)
            while self.after[line[-1]]:
                fresh = [child for child in self.after[line[-1]] if child not in covered]
                line.append((fresh or self.after[line[-1]])[0])
            covered.update(line)
            lines.append(line)
        return lines


def _reply(choices: list[int], chances: list[float], rng: random.Random) -> int | None:
    """A prepared reply; replies for which nothing is prepared do not come up in a drill."""
    return rng.choices(choices, chances)[0] if choices else None


def play(player: Player, line: Sequence[int], wanted: Callable[[int], bool]) -> bool | None:
    """Drill a line move by move; whether all was right, None where time ended before its end."""
    right = True
    for row in line:
        if not player.has_time:
            return None
        player.move()
        right = player.ask(row, on_the_way=not wanted(row)) and right
    return right


@dataclass(eq=False)
class RandomLines:
    """Whole lines by chance, as they come up in games."""

    book: LineBook
    seed: int
    name: str = "random whole lines"

    def drill(self, sitting: Sitting) -> None:
        """Ask all players of the sitting, until their time is over."""
        for column in range(sitting.right.shape[1]):
            rng = random.Random(f"{self.seed} {sitting.day} {column}")
            player = Player(sitting, column)
            while player.has_time:
                play(player, self.book.random_line(rng), lambda _row: True)
            player.close()


@dataclass(eq=False)
class DueLines:
    """Position cards due at 0.9; each due one is reached by playing a whole line through it."""

    book: LineBook
    seed: int
    name: str = "due at 0.9, whole lines"

    def drill(self, sitting: Sitting) -> None:
        """Ask all players of the sitting, until their time is over."""
        belief = sitting.belief
        due_on = np.where(belief.seen, belief.day + belief.stability, np.inf)
        seen = belief.seen.copy()
        for column in range(sitting.right.shape[1]):
            rng = random.Random(f"{self.seed} {sitting.day} {column}")
            order = np.argsort(due_on[:, column], kind="stable")
            due = [int(row) for row in order if due_on[row, column] <= sitting.day]
            new = [row for row in self.book.by_reach if not seen[row, column]]
            wanted = {*due, *new}
            player = Player(sitting, column)
            for row in (*due, *new):
                if not player.has_time:
                    break
                if row not in player.asked:
                    line = [*self.book.to(row), *self.book.on_from(row, rng)]
                    play(player, line, wanted.__contains__)
            player.close()


@dataclass(eq=False)
class Sm2Lines:
    """One card a line, scheduled by SM-2, replayed from the first move."""

    book: LineBook
    name: str = "a card a line, SM-2"
    cards: dict[tuple[int, int], tuple[Sm2Card, int]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.lines = self.book.cover()

    def drill(self, sitting: Sitting) -> None:
        """Ask all players of the sitting, until their time is over."""
        for column in range(sitting.right.shape[1]):
            due = [
                (day, number)
                for number in range(len(self.lines))
                if (known := self.cards.get((column, number))) is not None
                and (day := known[1]) <= sitting.day
            ]
            new = [n for n in range(len(self.lines)) if (column, n) not in self.cards]
            player = Player(sitting, column)
            for number in (*(number for _, number in sorted(due)), *new):
                if not player.has_time:
                    break
                right = play(player, self.lines[number], lambda _row: True)
                if right is not None:
                    old, _ = self.cards.get((column, number), (Sm2Card(), 0))
                    card = old.after(ALL_RIGHT if right else SOME_WRONG)
                    self.cards[column, number] = (card, sitting.day + card.interval)
            player.close()
