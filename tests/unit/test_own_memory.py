"""Fitting the model to a player, how well it predicts him, and exercises from his plan."""

from __future__ import annotations

import builtins
import random
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise

import numpy as np
import pytest
from fsrs import Rating

from tests.memory_graphs import node_after, random_graph, repertoire_of
from trainer.memory import exercises
from trainer.memory.calibration import BOUNDS, bins_of, calibration, missed_again, pace_of
from trainer.memory.days import StudyDays
from trainer.memory.fitting import (
    FEWEST_REVIEWS,
    FittingError,
    Prediction,
    fit,
    histories,
    log_loss,
)
from trainer.memory.index_store import shipped_index
from trainer.memory.model import PARAMETERS, MemoryState, MemoryStates, Model
from trainer.repertoire.arrays import RepertoireArrays
from trainer.repertoire.graph import Node
from trainer.repertoire.near_misses import find_near_misses
from trainer.repertoire.order_graph import OrderGraph
from trainer.repertoire.reach import reach
from trainer.storage.answers import Answer, AnswerKind, Grade

START = datetime(2026, 1, 1, 12, tzinfo=UTC)
FIRST_DAY = StudyDays().number(START)


def answer(
    key: int, day: float, *, right: bool, move: str = "e2e4", played: str = "", seconds: float = 3
) -> Answer:
    return Answer(
        repertoire_id=1,
        key=key,
        move=move,
        kind=AnswerKind.DRILL,
        at=START + timedelta(days=day),
        grade=Grade.CLEAN if right else Grade.MISSED,
        played=played or move,
        seconds=seconds,
    )


def log_of_a_player(seed: int, moves: int, forgets: float) -> list[Answer]:
    """Answers over ninety days of one who forgets so many times as fast as the model says."""
    rng = random.Random(seed)
    own = list(PARAMETERS)
    for number in range(4):
        own[number] /= forgets
    if forgets > 1:
        own[8] -= 1.2
        own[20] = 0.4
    truth = Model(own)
    answers = []
    for key in range(1, moves + 1):
        day, state = rng.randint(0, 10), None
        while day < 90:
            number = FIRST_DAY + day
            recall = 0.3
            if state is not None:
                recall = float(
                    truth.recall(np.array(number - state.day), np.array(state.stability))
                )
            right = rng.random() < recall
            answers.append(answer(key, day, right=right))
            state = truth.review(state, Rating.Good if right else Rating.Again, number)
            day += rng.choice([1, 2, 4, 8, 15])
    return sorted(answers, key=lambda one: one.at)


def test_a_game_that_is_read_later_stands_where_it_was_played() -> None:
    game = replace(answer(1, 5, right=False), kind=AnswerKind.GAME)
    log = [answer(1, 0, right=True), answer(1, 10, right=True), game]
    (history,) = histories(log, StudyDays())
    assert [review.day - FIRST_DAY for review in history] == [0, 5, 10]
    assert [review.right for review in history] == [True, False, True]


def test_a_player_who_forgets_faster_is_predicted_better_after_a_fit() -> None:
    found = fit(log_of_a_player(1, 120, 4.0), StudyDays(), PARAMETERS)
    assert found.better
    assert found.loss_after < found.loss_before
    assert found.trained > 3 * found.held_out > 0
    assert len(found.parameters) == 21


def test_too_few_answers_are_told() -> None:
    few = [answer(1, day, right=True) for day in range(20)]
    with pytest.raises(FittingError, match=f"There are 19 .* until there are {FEWEST_REVIEWS}"):
        fit(few, StudyDays(), PARAMETERS)


def test_without_the_extra_the_player_is_told_how_to_get_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    real = builtins.__import__

    def without(name: str, *rest: object, **more: object) -> object:
        if name == "fsrs_rs_python":
            raise ImportError(name)
        return real(name, *rest, **more)  # type: ignore[arg-type]

    log = log_of_a_player(2, 60, 1.0)
    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(FittingError, match="pip install"):
        fit(log, StudyDays(), PARAMETERS)


def test_log_loss_by_hand() -> None:
    said = [Prediction(1, 0.8, right=True), Prediction(1, 0.8, right=False)]
    assert log_loss(said) == pytest.approx(-(0.5 * (-0.2231435513) + 0.5 * (-1.6094379124)))


def test_bins_hold_every_prediction_once() -> None:
    rng = random.Random(3)
    said = [Prediction(1, rng.random(), rng.random() < 0.5) for _ in range(500)]
    said += [Prediction(1, bound, right=True) for bound in BOUNDS]
    bins = bins_of(said)
    assert sum(one.count for one in bins) == len(said)
    for one in bins:
        assert one.low <= one.predicted <= one.high
        assert 0 <= one.actual <= 1
    assert all(before.high <= after.low for before, after in pairwise(bins))


def test_a_model_that_is_true_is_calibrated() -> None:
    repertoire = repertoire_of(["e4"])
    found = calibration(repertoire, log_of_a_player(4, 400, 1.0), StudyDays(), PARAMETERS)
    assert found.predicted > 2000
    for one in found.bins:
        if one.count > 200:
            assert one.actual == pytest.approx(one.predicted, abs=0.06)


def test_pace_tells_first_and_lately() -> None:
    answers = [answer(1, day, right=True, seconds=9 if day < 60 else 3) for day in range(120)]
    found = pace_of(answers)
    assert (found.first, found.lately) == (9, 3)
    assert pace_of(answers[:3]).lately is None


def test_what_is_missed_again_and_again_is_explained_by_a_look_alike() -> None:
    # The same position but for a black pawn one step further; the moves differ.
    repertoire = repertoire_of(["e4 a6 Nf3 e6 d4", "e4 a5 d4 e6 Nc3"])
    repertoire_b = repertoire_of(["e4 a6 d4", "e4 a5 Nc3"])
    del repertoire
    first, second = node_after(repertoire_b, "e4 a6"), node_after(repertoire_b, "e4 a5")
    pairs = find_near_misses(OrderGraph(repertoire_b))
    assert {pairs[0].first, pairs[0].second} == {first, second}
    log = [answer(first.key, day, right=False, move="d2d4", played="b1c3") for day in range(3)] + [
        answer(first.key, 5, right=True, move="d2d4")
    ]
    (listed,) = missed_again(repertoire_b, log, pairs)
    assert listed.node is first
    assert listed.remark == "missed 3 of 4 times; 3 times by Nc3, which a look-alike has"
    assert missed_again(repertoire_b, log[:1], pairs) == ()


def test_exercises_choose_their_decisions() -> None:
    repertoire = repertoire_of(["e4 e5 Nf3 Nc6 Bb5", "e4 c5 c3", "e4 e6 d4"])
    reply = node_after(repertoire, "e4").edges[0]
    sans = [node.edges[0].san for node in exercises.behind_reply(repertoire, reply)]
    assert sans == ["Nf3", "Bb5"]
    crossing = repertoire_of(["d4 d5 c4 e6 Nc3", "d4 e6 c4 d5 Nc3"])
    assert [node.edges[0].san for node in exercises.crossings_only(crossing)] == ["Nc3"]
    start = repertoire.roots[0]
    missed = [answer(start.key, 1, right=False), answer(start.key, 2, right=True)]
    assert exercises.missed_only(repertoire, missed) == [start]
    assert exercises.where(repertoire, lambda node: node is start) == [start]


def test_an_exercise_takes_the_best_and_mixes_their_lines() -> None:
    repertoire = random_graph(6, 300)
    arrays = RepertoireArrays.compile(repertoire)
    states = MemoryStates()
    day = states.today(START)
    for node in repertoire.decisions():
        states.put(node.key, node.edges[0].move.uci(), MemoryState(4.0, 5.0, day - 5))

    def plan(minutes: float, mixed: bool = True) -> list[Node]:
        made = exercises.plan_exercise(
            arrays,
            states,
            reach(arrays),
            repertoire.decisions(),
            minutes=minutes,
            now=START,
            index=shipped_index(),
            rng=random.Random(1),
            mixed=mixed,
        )
        return [question.node for question in made.questions]

    few, many = plan(2), plan(8)
    assert set(few) < set(many)
    assert 10 < len(few) < 40

    def follows(one: Node, other: Node) -> bool:
        return any(e.parent is one for entry in other.entries for e in entry.parent.entries)

    together = [1 for a, b in pairwise(few) if follows(a, b) or follows(b, a)]
    assert len(together) <= 1
    assert few == plan(2)
    assert set(plan(2, mixed=False)) == set(few)


def test_the_moves_before_are_shown_for_an_exercise_without_the_board() -> None:
    repertoire = repertoire_of(["e4 e5 Nf3 Nc6 Bb5 a6 Ba4"])
    arrays = RepertoireArrays.compile(repertoire)
    target = node_after(repertoire, "e4 e5 Nf3 Nc6 Bb5 a6")
    made = exercises.plan_exercise(
        arrays,
        MemoryStates(),
        reach(arrays),
        [target],
        minutes=5,
        now=START,
        index=shipped_index(),
        rng=random.Random(1),
        moves_before=4,
    )
    assert [edge.san for edge in made.runs[0].lead_in] == ["Nf3", "Nc6", "Bb5", "a6"]
