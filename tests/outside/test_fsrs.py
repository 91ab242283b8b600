"""The memory model against its published formulas and two independent implementations.

Source: FSRS-6, as published by the Free Spaced Repetition Scheduler project: the formulas and
default parameters of its "The Algorithm" page (written here from memory, and held to both
libraries below); `fsrs` (Python) and `fsrs-rs-python` (a binding of the Rust implementation).
"""

from __future__ import annotations

import math
import random
from datetime import UTC, datetime, timedelta

import fsrs
import fsrs_rs_python
import numpy as np
import pytest
from fsrs import Rating

from trainer.memory.model import PARAMETERS, MemoryState, Model

START = datetime(2026, 1, 1, tzinfo=UTC)
FIRST_DAY = START.toordinal()


def random_history(rng: random.Random, length: int) -> list[tuple[int, Rating]]:
    """Reviews as (whole days since the one before, rating); the first on day 0."""
    history = [(0, rng.choice(list(Rating)))]
    for _ in range(length):
        history.append((rng.choice([0, 1, 1, 2, 5, 13, 40, 200]), rng.choice(list(Rating))))
    return history


def ours(history: list[tuple[int, Rating]], model: Model) -> list[MemoryState]:
    states: list[MemoryState] = []
    state, day = None, FIRST_DAY
    for days, rating in history:
        day += days
        state = model.review(state, rating, day)
        states.append(state)
    return states


def published(history: list[tuple[int, Rating]], w: tuple[float, ...]) -> list[MemoryState]:
    """The formulas, written out."""
    decay = -w[20]
    factor = 0.9 ** (1 / decay) - 1

    def d0(grade: int) -> float:
        return w[4] - math.exp(w[5] * (grade - 1)) + 1

    states: list[MemoryState] = []
    s, d, day = 0.0, 0.0, FIRST_DAY
    for number, (days, rating) in enumerate(history):
        g = int(rating)
        day += days
        if number == 0:
            s, d = w[g - 1], min(max(d0(g), 1), 10)
        else:
            r = (1 + factor * days / s) ** decay
            if days == 0:
                increase = math.exp(w[17] * (g - 3 + w[18])) * s ** -w[19]
                s *= max(increase, 1.0) if g > 1 else increase
            elif g == 1:
                forgotten = w[11] * d ** -w[12] * ((s + 1) ** w[13] - 1)
                forgotten *= math.exp(w[14] * (1 - r))
                s = min(forgotten, s / math.exp(w[17] * w[18]))
            else:
                hard = w[15] if g == 2 else 1
                easy = w[16] if g == 4 else 1
                growth = math.exp(w[8]) * (11 - d) * s ** -w[9] * (math.exp(w[10] * (1 - r)) - 1)
                s *= 1 + growth * hard * easy
            s = max(s, 0.001)
            moved = d - w[6] * (g - 3) * (10 - d) / 9
            d = min(max(w[7] * d0(4) + (1 - w[7]) * moved, 1), 10)
        states.append(MemoryState(s, d, day, number + 1))
    return states


def test_default_parameters_are_the_published_ones() -> None:
    """As printed by the project for FSRS-6."""
    assert PARAMETERS == (
        0.212, 1.2931, 2.3065, 8.2956, 6.4133, 0.8334, 3.0194, 0.001, 1.8722, 0.1666, 0.796,
        1.4835, 0.0614, 0.2629, 1.6483, 0.6014, 1.8729, 0.5425, 0.0912, 0.0658, 0.1542,
    )  # fmt: skip
    assert pytest.approx(PARAMETERS, rel=1e-6) == fsrs_rs_python.DEFAULT_PARAMETERS


@pytest.mark.parametrize("seed", range(20))
def test_states_equal_the_published_formulas(seed: int) -> None:
    history = random_history(random.Random(seed), 30)
    for found, expected in zip(
        ours(history, Model()), published(history, PARAMETERS), strict=True
    ):
        assert found.stability == pytest.approx(expected.stability, rel=1e-9)
        assert found.difficulty == pytest.approx(expected.difficulty, rel=1e-9)
        assert (found.day, found.reviews) == (expected.day, expected.reviews)


@pytest.mark.parametrize("seed", range(20))
def test_states_equal_the_python_library(seed: int) -> None:
    history = random_history(random.Random(seed), 30)
    scheduler = fsrs.Scheduler(learning_steps=(), relearning_steps=(), enable_fuzzing=False)
    card, moment = fsrs.Card(card_id=1), START
    for (days, rating), state in zip(history, ours(history, Model()), strict=True):
        moment += timedelta(days=days)
        card, _ = scheduler.review_card(card, rating, moment)
        assert state.stability == card.stability
        assert state.difficulty == card.difficulty


@pytest.mark.parametrize("seed", range(20))
def test_states_equal_the_rust_library(seed: int) -> None:
    """Single precision there, so equal to a few parts in 10,000."""
    history = random_history(random.Random(seed), 12)
    reviews = [fsrs_rs_python.FSRSReview(int(rating), days) for days, rating in history]
    library = fsrs_rs_python.FSRS(list(PARAMETERS))
    expected = library.historical_memory_states(fsrs_rs_python.FSRSItem(reviews))
    for found, other in zip(ours(history, Model()), expected, strict=True):
        assert found.stability == pytest.approx(other.stability, rel=2e-4)
        assert found.difficulty == pytest.approx(other.difficulty, rel=2e-4)


def test_recall_of_50_000_memories_equals_the_library() -> None:
    rng = np.random.default_rng(4)
    stability = rng.uniform(0.01, 400, 50_000)
    days = rng.integers(0, 1000, 50_000)
    recall = Model().recall(days.astype(np.float64), stability)
    scheduler = fsrs.Scheduler(enable_fuzzing=False)
    for index in range(0, 50_000, 50):
        card = fsrs.Card(
            card_id=1,
            state=fsrs.State.Review,
            stability=float(stability[index]),
            difficulty=5.0,
            last_review=START,
        )
        moment = START + timedelta(days=int(days[index]))
        assert abs(scheduler.get_card_retrievability(card, moment) - recall[index]) < 1e-9


def test_published_curve() -> None:
    """R(S, S) = 0.9 and R(0, S) = 1, whatever S; the interval to 0.9 is S."""
    stability = np.array([0.01, 1.0, 30.0, 1000.0])
    model = Model()
    assert model.recall(stability, stability) == pytest.approx(np.full(4, 0.9))
    assert model.recall(np.zeros(4), stability) == pytest.approx(np.ones(4))
    assert model.interval(stability, 0.9) == pytest.approx(stability)
    later = model.interval(stability, 0.8)
    assert model.recall(later, stability) == pytest.approx(np.full(4, 0.8))


@pytest.mark.parametrize("retention", [0.8, 0.9, 0.95])
def test_interval_equals_the_rust_library(retention: float) -> None:
    library = fsrs_rs_python.FSRS(list(PARAMETERS))
    expected = library.next_interval(25.0, retention, 3)
    assert Model().interval(np.array([25.0]), retention) == pytest.approx([expected], rel=1e-4)
