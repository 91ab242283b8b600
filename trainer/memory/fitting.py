"""Fitting the memory model to the player's own answers.

The fit itself is done by `fsrs-rs-python`, an optional extra that is imported only here. Whether
it is any good is measured by ourselves: the model is fitted to the earlier answers and predicts
the later ones (a time-series split), and it is kept only where its log-loss there is lower than
that of the parameters in use. Log-loss is the mean of −ln of the probability that was given to
what came.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from fsrs import Rating

from trainer.errors import StemlineError
from trainer.memory.days import StudyDays
from trainer.memory.game_slips import in_order_of_time
from trainer.memory.grading import RATINGS, REVIEWS, effective
from trainer.memory.model import MemoryState, Model
from trainer.storage.answers import Answer

#: With fewer answers after a day or more than this, a fit would follow chance.
FEWEST_REVIEWS: Final = 200
#: The share of those answers, the earliest ones, that the model is fitted to.
TRAINED_ON: Final = 0.8
_LEAST_CHANCE: Final = 1e-4


class FittingError(StemlineError):
    """The memory model cannot be fitted to the player's answers."""


@dataclass(frozen=True)
class Review:
    """An answer in the sense of the model: the day, and the rating."""

    day: int
    rating: Rating

    @property
    def right(self) -> bool:
        """Whether the move was recalled."""
        return self.rating is not Rating.Again


@dataclass(frozen=True)
class Prediction:
    """One answer after a day or more: the recall that was predicted, and what came."""

    day: int
    recall: float
    right: bool


@dataclass(frozen=True)
class Fit:
    """A fit on trial: log-loss on the `held_out` later answers with the old and new parameters.

    `parameters` are the new ones, fitted to `trained` earlier answers.
    """

    parameters: tuple[float, ...]
    loss_before: float
    loss_after: float
    trained: int
    held_out: int

    @property
    def better(self) -> bool:
        """Whether the new parameters predict the later answers better."""
        return self.loss_after < self.loss_before


def histories(answers: Iterable[Answer], days: StudyDays) -> list[list[Review]]:
    """The reviews of each (position, prepared move), in order of time."""
    found: dict[tuple[int, str], list[Review]] = {}
    for answer in in_order_of_time(list(effective(answers))):
        if answer.kind in REVIEWS and answer.grade is not None:
            review = Review(days.number(answer.at), RATINGS[answer.grade])
            found.setdefault((answer.key, answer.move), []).append(review)
    return list(found.values())


def predictions(
    reviews: Iterable[Sequence[Review]], parameters: Sequence[float]
) -> list[Prediction]:
    """What the model would have predicted before each answer that came a day or more later.

    Raises `ValueError` when a parameter is out of the library's bounds.
    """
    model = Model(parameters)
    found = []
    for history in reviews:
        state: MemoryState | None = None
        for review in history:
            if state is not None and review.day > state.day:
                recall = model.recall(np.array(review.day - state.day), np.array(state.stability))
                found.append(Prediction(review.day, float(recall), review.right))
            state = model.review(state, review.rating, review.day)
    return found


def log_loss(predicted: Sequence[Prediction]) -> float:
    """The mean of −ln of the probability given to what came; NaN where nothing was predicted."""
    if not predicted:
        return float("nan")
    recall = np.array([one.recall for one in predicted])
    right = np.array([one.right for one in predicted])
    chance = np.clip(np.where(right, recall, 1 - recall), _LEAST_CHANCE, 1.0)
    return float(-np.log(chance).mean())


def fit(answers: Iterable[Answer], days: StudyDays, parameters: Sequence[float]) -> Fit:
    """Fit the model to the earlier answers and try it on the later ones.

    Raises `FittingError` where the optional extra is missing or there are too few answers.
    """
    reviews = histories(answers, days)
    known = predictions(reviews, parameters)
    if len(known) < FEWEST_REVIEWS:
        raise FittingError(
            f"There are {len(known):,} answers to moves that were asked before on another day; "
            f"drill on until there are {FEWEST_REVIEWS:,}, and fit the memory model then."
        )
    ordered = sorted(one.day for one in known)
    last_trained = ordered[int(TRAINED_ON * len(ordered)) - 1]
    later = [one for one in known if one.day > last_trained]
    if not later:
        raise FittingError(
            "All answers that could be predicted were given on one day; fit the memory model "
            "after a few more days."
        )
    found = _fitted([[one for one in each if one.day <= last_trained] for each in reviews])
    tried = [one for one in predictions(reviews, found) if one.day > last_trained]
    return Fit(found, log_loss(later), log_loss(tried), len(known) - len(later), len(later))


def _fitted(reviews: list[list[Review]]) -> tuple[float, ...]:
    try:
        import fsrs_rs_python as library
    except ImportError as error:
        raise FittingError(
            "The package fsrs-rs-python is not installed; install it with "
            "“pip install stemline[fit]” to fit the memory model to your answers."
        ) from error
    items = []
    for history in reviews:
        steps = []
        before: Review | None = None
        for review in history:
            days = 0 if before is None else max(0, review.day - before.day)
            steps.append(library.FSRSReview(int(review.rating), days))
            if before is not None and days > 0:
                items.append(library.FSRSItem(list(steps)))
            before = review
    fitter = library.FSRS(list(library.DEFAULT_PARAMETERS))
    found = tuple(float(number) for number in fitter.compute_parameters(items))
    try:
        Model(found)
    except ValueError as error:
        raise FittingError(
            "Your answers lead to parameters that the memory model does not allow; drill on for "
            "some days, and try again."
        ) from error
    return found
