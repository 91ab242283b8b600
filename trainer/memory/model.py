"""What the player remembers: FSRS-6 memory states, derived from the log of answers.

The model is the one published by the Free Spaced Repetition Scheduler project, through its
library `fsrs`: a memory has a stability S (days until recall falls to 0.9) and a difficulty
(1 to 10), and recall after t days is R(t, S) = (1 + F·t/S)^(−w20) with F = 0.9^(−1/w20) − 1.

One state belongs to each (position, prepared move), so a position is learnt once, whatever move
order reaches it; and a decision whose main move was changed starts anew, while the old move
keeps its history.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

import numpy as np
from fsrs import Card, Rating, Scheduler, State
from fsrs.scheduler import DEFAULT_PARAMETERS

from trainer.memory.days import StudyDays
from trainer.memory.grading import RATINGS, REVIEWS, effective
from trainer.repertoire.arrays import Bools, Floats, RepertoireArrays
from trainer.storage.answers import Answer

#: Recall of a move that was never asked. The model itself says 0; but a prepared move is often
#: the natural one, and a player finds about one in five by himself (a guess until his own first
#: answers tell better). Used for depth in hand and for planning, never for a memory state.
UNSEEN_RECALL: Final = 0.2

#: The library's default parameters, w0 to w20.
PARAMETERS: Final = tuple(DEFAULT_PARAMETERS)


@dataclass(frozen=True, slots=True)
class MemoryState:
    """The memory of one prepared move: stability in days, difficulty 1 to 10, last review.

    `day` is the day of the last review (`StudyDays.number`), `reviews` how many there were.
    """

    stability: float
    difficulty: float
    day: int
    reviews: int = 1


class Model:
    """FSRS-6 with one set of parameters. A value: nothing in it changes."""

    def __init__(self, parameters: Sequence[float] = PARAMETERS) -> None:
        """Raises `ValueError` when a parameter is out of the library's bounds."""
        self.parameters = tuple(float(parameter) for parameter in parameters)
        self._days = StudyDays()
        # The program decides itself when to ask, so no fuzz; and what comes back within a
        # session is its own matter, so no steps of minutes.
        self._scheduler = Scheduler(
            self.parameters, learning_steps=(), relearning_steps=(), enable_fuzzing=False
        )

    @property
    def decay(self) -> float:
        """The exponent of the forgetting curve, −w20."""
        return -self.parameters[20]

    @property
    def factor(self) -> float:
        """F of the forgetting curve, so that R(S, S) = 0.9."""
        return float(0.9 ** (1 / self.decay) - 1)

    def recall(self, days: Floats, stability: Floats) -> Floats:
        """R(t, S) for arrays (or numbers) of days since the last review and stabilities."""
        recall: Floats = (1 + self.factor * days / stability) ** self.decay
        return recall

    def interval(self, stability: Floats, retention: float | Floats) -> Floats:
        """After how many days recall falls to `retention` (0 < retention < 1), not rounded."""
        days: Floats = stability / self.factor * (retention ** (1 / self.decay) - 1)
        return days

    def review(self, state: MemoryState | None, rating: Rating, day: int) -> MemoryState:
        """The memory after a review on `day`; `state` is None at the first one.

        A day before the last review counts as the day of that review: clocks are set back.
        """
        if state is None:
            card = Card(card_id=0)
        else:
            day = max(day, state.day)
            card = Card(
                card_id=0,
                state=State.Review,
                stability=state.stability,
                difficulty=state.difficulty,
                last_review=self._days.moment(state.day),
            )
        card, _ = self._scheduler.review_card(card, rating, self._days.moment(day))
        assert card.stability is not None
        assert card.difficulty is not None
        reviews = 1 if state is None else state.reviews + 1
        return MemoryState(card.stability, card.difficulty, day, reviews)


@dataclass(frozen=True, eq=False)
class MemoryTable:
    """The memory of each decision's main move, aligned with the arrays of a repertoire (n).

    `stability` is NaN and `day` 0 where the main move was never asked, and at positions that
    are no decision.
    """

    model: Model
    stability: Floats
    difficulty: Floats
    day: Floats

    @property
    def seen(self) -> Bools:
        """Where the main move was asked at least once (n)."""
        return ~np.isnan(self.stability)

    def recall(
        self, day: float, unseen: float = UNSEEN_RECALL, *, least_days: float = 0.0
    ) -> Floats:
        """Recall of every position on a day (n); `unseen` where nothing was asked yet.

        Reviews count as at least `least_days` old. On the day of a review the model has recall
        1, of a missed move too; with 1 that move counts as it will tomorrow.
        """
        days = np.maximum(day - self.day, least_days)
        recall = self.model.recall(days, self.stability)
        return np.where(np.isnan(recall), unseen, recall)


class MemoryStates:
    """All memory states of one repertoire, kept up to date answer by answer.

    `days` is the player's calendar. Reviews are the first answer at a position in a session and
    moves in the player's own games. A repeat in the same session changes nothing: it only shows
    that the move was still in mind minutes after the program gave it away. Nor do strangers,
    false alarms and what was skipped.
    """

    def __init__(self, model: Model | None = None, days: StudyDays | None = None) -> None:
        self.model = model or Model()
        self.days = days or StudyDays()
        self._states: dict[tuple[int, str], MemoryState] = {}

    @classmethod
    def from_answers(
        cls,
        answers: Iterable[Answer],
        parameters: Sequence[float] = PARAMETERS,
        days: StudyDays | None = None,
    ) -> MemoryStates:
        """The states after a log of answers of one repertoire, in order of time.

        Raises `ValueError` when a parameter is out of the library's bounds.
        """
        states = cls(Model(parameters), days)
        for answer in effective(answers):
            states.apply(answer)
        return states

    def apply(self, answer: Answer) -> MemoryState | None:
        """Count one answer; its new memory state, or None where it is no review."""
        if answer.kind not in REVIEWS or answer.grade is None:
            return None
        place = (answer.key, answer.move)
        state = self.model.review(
            self._states.get(place), RATINGS[answer.grade], self.days.number(answer.at)
        )
        self._states[place] = state
        return state

    def put(self, key: int, move: str, state: MemoryState | None) -> None:
        """Set a state, or forget it: to take back an answer."""
        if state is None:
            self._states.pop((key, move), None)
        else:
            self._states[key, move] = state

    def get(self, key: int, move: str) -> MemoryState | None:
        """The memory of the move (UCI) prepared at the position `key`, None if never asked."""
        return self._states.get((key, move))

    def __len__(self) -> int:
        return len(self._states)

    def __iter__(self) -> Iterator[tuple[int, str]]:
        return iter(self._states)

    def today(self, moment: datetime) -> int:
        """The day of study of `moment`."""
        return self.days.number(moment)

    def table(self, arrays: RepertoireArrays) -> MemoryTable:
        """The states of the main moves in arrays. Work grows with what was asked, not with n."""
        count = len(arrays.nodes)
        stability = np.full(count, np.nan)
        difficulty = np.full(count, np.nan)
        day = np.zeros(count)
        numbers, rows = [], []
        mains = arrays.main_edge
        for (key, move), state in self._states.items():
            number = arrays.number_of.get(key)
            if number is None:
                continue
            main = mains[number]
            if main >= 0 and arrays.edges[main].move.uci() == move:
                numbers.append(number)
                rows.append((state.stability, state.difficulty, state.day))
        if rows:
            stability[numbers], difficulty[numbers], day[numbers] = np.array(rows).T
        return MemoryTable(self.model, stability, difficulty, day)
