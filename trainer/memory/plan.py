"""What a plan of today's questions is made of."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property

from trainer.repertoire.arrays import Floats
from trainer.repertoire.graph import Edge, Node


@dataclass(frozen=True)
class Timing:
    """What things take, in seconds: a right answer, a wrong one, a move the program plays.

    A wrong answer comes back in the session, which takes a right answer's time once more. A
    `jump` is what it takes to see where one is where a question begins cold.
    """

    right: float = 4.0
    wrong: float = 6.0
    move: float = 0.8
    jump: float = 0.0

    @property
    def missed(self) -> float:
        """A wrong answer with its repeat, which begins cold."""
        return self.wrong + self.jump + self.right

    @property
    def jump_costs_more(self) -> bool:
        """Whether beginning cold takes longer than a move of the program that goes on."""
        return self.jump > self.move

    @property
    def getting_there(self) -> float:
        """The mean seconds until a question stands on the board, when half begin cold."""
        return (self.move + self.jump) / 2

    def question(self, recall: float) -> float:
        """The expected seconds of asking a move of this recall, with its repeat if missed."""
        return recall * self.right + (1 - recall) * self.missed


class Reason(StrEnum):
    """Why a position is asked now."""

    NEW = "new"
    FADING = "fading"
    #: One reply away from another question, so that both are asked in context.
    ON_THE_WAY = "on the way"
    #: There is time left after all that is worth asking.
    SPARE = "spare"
    #: The player asked for it, whatever its recall.
    CHOSEN = "chosen"


@dataclass(frozen=True)
class Why:
    """Why a position is asked now: the reason, with the figures behind it.

    `recall` and `reach` are 0 to 1; `behind` is how many prepared moves in a row hang on it in a
    game that gets there, itself included (0 where it does not matter).
    """

    reason: Reason
    recall: float
    reach: float
    behind: float = 0.0

    @property
    def sentence(self) -> str:
        """One plain sentence for the player."""
        games = frequency(self.reach)
        if self.reason is Reason.NEW:
            return f"New: comes next by reach, {games} here{self._more}."
        if self.reason is Reason.CHOSEN:
            return f"You chose it: recall is {int(self.recall * 100)} %, and {games} here."
        if self.reason is Reason.ON_THE_WAY:
            return f"Beside another question of today: recall is {int(self.recall * 100)} %."
        if self.reason is Reason.SPARE:
            return f"There is time left: recall is {int(self.recall * 100)} %, and {games} here."
        # Rounded down: "down to 100 %" would be no reason to ask.
        return f"Recall is down to {int(self.recall * 100)} %, and {games} here{self._more}."

    @property
    def _more(self) -> str:
        """What hangs on the move beyond itself, where that is a move or more."""
        more = round(self.behind - 1)
        if more < 1:
            return ""
        return f", where {more} more {'move hangs' if more == 1 else 'moves hang'} on it"


def frequency(reach: float) -> str:
    """A reach in words, to be followed by the place: "1 game in 12 gets"."""
    if reach >= 0.95:
        return "every game gets"
    if reach >= 0.6:
        return f"{round(reach * 10)} games in 10 get"
    if reach < 0.0001:
        return "less than 1 game in 10,000 gets"
    return f"1 game in {round(1 / reach):,} gets"


@dataclass(frozen=True, eq=False)
class Question:
    """One decision to ask.

    `edge` is its main move. `approach` are the moves that the program plays to get here: from the
    run's start, from behind the question before, or from a position of the run that was passed,
    once moves are taken back to it. `entry` is the last of them, or, where a run begins on the
    position, the move by which it is entered this time (None at a starting position).
    `seconds` are expected, moves included.
    `again_today` tells that it was answered today already, so that the answer is a repeat.
    """

    node: Node
    edge: Edge
    approach: tuple[Edge, ...]
    why: Why
    seconds: float
    entry: Edge | None = None
    again_today: bool = False

    @property
    def is_new(self) -> bool:
        """Whether its move was never asked before."""
        return self.why.reason is Reason.NEW


@dataclass(frozen=True, eq=False)
class Run:
    """Questions one after the other on one line and its branches, beginning at `start`."""

    start: Node
    questions: tuple[Question, ...]

    @property
    def lead_in(self) -> tuple[Edge, ...]:
        """The moves that the program plays before the first question."""
        return self.questions[0].approach

    @property
    def edges(self) -> tuple[Edge, ...]:
        """All moves of the run as they are played; after some, others were taken back."""
        return tuple(
            edge for question in self.questions for edge in (*question.approach, question.edge)
        )

    @property
    def seconds(self) -> float:
        """The expected seconds of the run."""
        return sum(question.seconds for question in self.questions)


@dataclass(frozen=True, eq=False)
class Plan:
    """Today's runs, and how much would be worth asking beyond them.

    `fading` counts the positions whose recall fell below the desired retention, `new` those never
    asked; `fading_minutes` and `new_minutes` are what asking all of them would take. `bounds` is
    the recall below which each position (n) is worth asking, where that was looked at.
    """

    runs: tuple[Run, ...]
    minutes: float
    fading: int
    new: int
    fading_minutes: float
    new_minutes: float
    bounds: Floats | None = None
    timing: Timing = Timing()

    @property
    def worth_asking(self) -> int:
        """How many positions are worth asking now: the fading and the new ones."""
        return self.fading + self.new

    @property
    def minutes_needed(self) -> float:
        """What asking all of them would take."""
        return self.fading_minutes + self.new_minutes

    @cached_property
    def questions(self) -> tuple[Question, ...]:
        """All questions, in the order in which they are asked."""
        return tuple(question for run in self.runs for question in run.questions)

    @property
    def new_questions(self) -> int:
        """How many of the questions are new."""
        return sum(question.is_new for question in self.questions)

    @property
    def spare_questions(self) -> int:
        """How many of the questions only use the time that is left."""
        return sum(question.why.reason is Reason.SPARE for question in self.questions)

    @property
    def expected_seconds(self) -> float:
        """What the plan is expected to take."""
        return sum(run.seconds for run in self.runs)
