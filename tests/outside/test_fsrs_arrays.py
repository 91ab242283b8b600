"""FSRS-6 over whole arrays, equal to the library `fsrs` memory by memory.

Source: `fsrs`, the Python implementation of the Free Spaced Repetition Scheduler project.
"""

from __future__ import annotations

import random

import numpy as np
import pytest
from fsrs import Rating

from trainer.memory import fsrs_arrays as arrays
from trainer.memory.model import PARAMETERS, MemoryState, Model
from trainer.memory.simulation.learners import Memories

W = np.array(PARAMETERS)


@pytest.mark.parametrize("seed", range(5))
def test_histories_equal_the_library(seed: int) -> None:
    rng = random.Random(seed)
    players = 20
    memories = Memories(W[:, None], (1, players), 0.0)
    model = Model()
    states: list[MemoryState | None] = [None] * players
    day = 700_000
    for _ in range(25):
        day += rng.choice([1, 1, 2, 5, 13, 40, 200])
        asked = [player for player in range(players) if rng.random() < 0.7]
        right = np.array([rng.random() < 0.8 for _ in asked])
        memories.review(np.zeros(len(asked), np.intp), np.array(asked, np.intp), right, day)
        for player, known in zip(asked, right, strict=True):
            rating = Rating.Good if known else Rating.Again
            states[player] = model.review(states[player], rating, day)
    for player, state in enumerate(states):
        assert state is not None
        assert memories.stability[0, player] == pytest.approx(state.stability, rel=1e-9)
        assert memories.difficulty[0, player] == pytest.approx(state.difficulty, rel=1e-9)
        assert memories.day[0, player] == state.day


def test_recall_and_its_integral() -> None:
    stability = np.array([0.3, 2.0, 30.0, 400.0])
    assert arrays.recall_of(W, stability, stability) == pytest.approx(np.full(4, 0.9))
    days = np.linspace(0.0, 60.0, 60_001)
    for one in stability:
        curve = arrays.recall_of(W, days, np.array(one))
        area = float(((curve[1:] + curve[:-1]) / 2 * np.diff(days)).sum())
        found = arrays.recalled_days(W, np.array(60.0), np.array(one))
        assert found == pytest.approx(area, rel=1e-5)


def test_players_with_parameters_of_their_own() -> None:
    own = W[:, None] * np.array([[0.8, 1.2]])
    memories = Memories(own, (1, 2), np.array([[0.0, 2.0]]))
    for day in (1, 4, 20):
        memories.review(np.zeros(2, np.intp), np.arange(2), np.array([True, True]), day)
    for player in range(2):
        alone = Memories(own[:, [player]], (1, 1), 2.0 * player)
        for day in (1, 4, 20):
            alone.review(np.zeros(1, np.intp), np.zeros(1, np.intp), np.array([True]), day)
        assert memories.stability[0, player] == pytest.approx(alone.stability[0, 0])
        assert memories.difficulty[0, player] == pytest.approx(alone.difficulty[0, 0])
