"""Simulated players: reproducible, within their time, and no better than perfect memory."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.memory_graphs import prepared_repertoire, random_graph, repertoire_of
from trainer.errors import UsageError
from trainer.memory.index_store import IndexStore
from trainer.memory.plan import Timing
from trainer.memory.simulation.learners import Learners
from trainer.memory.simulation.lines import LineBook, RandomLines, Sm2Lines
from trainer.memory.simulation.policies import Policy, due_alone, loss, review_index
from trainer.memory.simulation.report import (
    Trial,
    game_graph,
    report_object,
    report_text,
    run_trial,
)
from trainer.memory.simulation.run import simulate, told_days
from trainer.memory.simulation.sitting import Player, Sitting
from trainer.memory.value import DecisionGraph
from trainer.repertoire.arrays import RepertoireArrays
from trainer.repertoire.graph import Repertoire

INDEX = IndexStore(None).index_for()
NAMES = [
    "random whole lines",
    "a card a line, SM-2",
    "due at 0.9, whole lines",
    "due at 0.9, asked alone",
    "due at 0.97, by reach × (1 − recall)",
    "reach × (1 − recall)",
    "value × gain",
    "review index × value",
    "review index × value, and replies",
    "planner",
]


def graph_of(repertoire: Repertoire) -> DecisionGraph:
    return game_graph(RepertoireArrays.compile(repertoire))


def trial(repertoire: Repertoire, **more: float) -> dict[str, object]:
    setting = Trial(**{"minutes": 2, "days": 6, "learners": 3, "seed": 5, **more})  # type: ignore[arg-type]
    return report_object(run_trial(Path("some.pgn"), repertoire, INDEX, setting))


def without_times(report: dict[str, object]) -> object:
    for policy in report["policies"]:  # type: ignore[attr-defined]
        policy.pop("plan_ms")
    return report


def test_the_same_seed_gives_the_same_figures_and_another_seed_others() -> None:
    repertoire, _ = prepared_repertoire(2, 60)
    first, again = trial(repertoire), trial(repertoire)
    assert without_times(first) == without_times(again)
    other = trial(repertoire, seed=6)
    assert without_times(other) != first


def test_the_report_has_every_policy_and_the_yield_by_day() -> None:
    repertoire, _ = prepared_repertoire(3, 40)
    report = trial(repertoire, days=31)
    assert [policy["name"] for policy in report["policies"]] == NAMES  # type: ignore[attr-defined]
    assert report["decisions"] == 40
    for policy in report["policies"]:  # type: ignore[attr-defined]
        assert list(policy["yield"]) == ["30", "31"]
        assert all(0.0 < one["mean"] <= 1.0 and one["se"] >= 0 for one in policy["yield"].values())
        assert 0.0 <= policy["replay_share"] < 1.0
        assert policy["answers"] > 0
        assert policy["minutes"] <= 2.3
    told = report_text(run_trial(Path("some.pgn"), repertoire, INDEX, Trial(1, 2, 2, 1)))
    assert all(name in told for name in NAMES)


def test_days_that_are_told() -> None:
    assert told_days(1) == (1,)
    assert told_days(60) == (30, 60)
    assert told_days(400) == (30, 60, 180, 400)


def test_more_minutes_and_more_days_are_worth_more() -> None:
    graph = graph_of(random_graph(1, 400))
    learners = Learners.draw(1, len(graph), 6)

    def yields(minutes: float, days: int) -> float:
        outcome = simulate(graph, loss(graph), learners, minutes=minutes, days=days)
        return outcome.yields[days].mean

    assert yields(1, 5) < yields(4, 5) < yields(4, 30)


def test_without_any_drill_only_the_guess_is_left() -> None:
    graph = graph_of(repertoire_of(["e4 e5 Nf3"]))
    outcome = simulate(graph, loss(graph), Learners.draw(1, 2, 4), minutes=0, days=3)
    # 0.2 · (1 + 0.2) of two moves.
    assert outcome.yields[3].mean == pytest.approx(0.12)
    assert outcome.yields[3].se == 0
    assert outcome.answers == 0


def test_unprepared_replies_keep_their_probability() -> None:
    repertoire = repertoire_of(["e4 e5 Nf3", "e4 c5 c3"])
    arrays = RepertoireArrays.compile(repertoire)
    shares = np.where(arrays.decision[arrays.parent], 1.0, 0.3)
    graph = game_graph(arrays, shares)
    assert graph.depth(np.ones((3, 1)))[0] == pytest.approx(1 + 0.6)


def test_a_sitting_stops_when_what_is_spent_and_set_aside_is_over() -> None:
    graph = graph_of(random_graph(4, 60))
    learners = Learners.draw(1, len(graph), 2)
    right = np.zeros(learners.shape, np.bool_)
    right[:, 1] = True
    sitting = Sitting(1, 21.0, right, learners.belief())
    loss(graph).drill(sitting)
    # All wrong: 10 s each with the repeat, so three; all right: 4 s each, so six.
    assert sitting.asked.sum(axis=0).tolist() == [3, 6]
    assert sitting.spent.tolist() == [30.0, 24.0]
    assert sitting.answers.tolist() == [6, 6]


def test_a_player_walks_a_line_with_the_programs_moves_and_repeats() -> None:
    right = np.array([[True], [False]])
    sitting = Sitting(1, 60.0, right, Learners.draw(1, 2, 1).belief())
    player = Player(sitting, 0)
    player.move(2)
    assert player.ask(0)
    assert not player.ask(1, on_the_way=True)
    # Asked before today: right, four seconds, and nothing gained.
    assert player.ask(1)
    player.close()
    assert sitting.spent[0] == pytest.approx(2 * 0.8 + 4 + 10 + 4)
    assert sitting.answers[0] == 4
    assert sitting.replays[0] == 2
    assert sitting.belief.seen.all()


def test_what_a_player_answers_does_not_depend_on_the_policy() -> None:
    learners = Learners.draw(9, 30, 4)
    assert np.array_equal(learners.luck(7), Learners.draw(9, 30, 4).luck(7))
    assert not np.array_equal(learners.luck(7), learners.luck(8))


def policies_of(graph: DecisionGraph) -> list[Policy]:
    book = LineBook.of(graph)
    return [RandomLines(book, 1), Sm2Lines(book), due_alone(graph), loss(graph, 0.97)]


def test_nobody_is_asked_what_no_game_reaches_by_lines() -> None:
    graph = graph_of(random_graph(6, 150, cycles=0.05))
    reached = set(np.flatnonzero(graph.arrival(np.ones((len(graph), 1)))[:, 0] > 0).tolist())
    lines = LineBook.of(graph).cover()
    assert {row for line in lines for row in line} == reached
    starts = set(np.flatnonzero(graph.start > 0).tolist())
    assert all(line[0] in starts for line in lines)


def test_a_repertoire_without_a_prepared_move_is_told() -> None:
    with pytest.raises(UsageError, match="no prepared move"):
        trial(repertoire_of([]))


def test_the_programs_planning_holds_its_own_and_keeps_half_in_context() -> None:
    """With the same players: above every policy that drills lines or goes by due dates.

    The best policy asks positions alone, in no context. Where it pays for the replies that the
    program plays before half of its own questions, the two come to the same within the error.
    """
    repertoire, _ = prepared_repertoire(4, 150)
    report = trial(repertoire, days=30, learners=20)
    means = {one["name"]: one["yield"]["30"]["mean"] for one in report["policies"]}  # type: ignore[attr-defined]
    ours, best = means["planner"], means["review index × value"]
    in_context = means["review index × value, and replies"]
    # The first five of them drill lines or go by due dates.
    assert ours > max(means[name] for name in NAMES[:5])
    assert ours > best - 0.02
    assert ours > in_context - 0.01
    (planner,) = [one for one in report["policies"] if one["name"] == "planner"]  # type: ignore[attr-defined]
    assert planner["cold_share"] <= 0.5
    assert planner["minutes"] <= 2.1


def test_a_jump_takes_time_of_every_policy_and_pays_for_context() -> None:
    """Two to four seconds a jump: asking alone falls behind what goes on along the lines."""
    repertoire, _ = prepared_repertoire(4, 150)
    report = trial(repertoire, days=30, learners=20, jump=3.0)
    assert report["jump"] == 3.0
    found = {one["name"]: one for one in report["policies"]}  # type: ignore[attr-defined]
    ours, alone = found["planner"], found["review index × value"]
    assert ours["yield"]["30"]["mean"] > alone["yield"]["30"]["mean"] + 0.01
    assert ours["cold_share"] < 0.45
    assert ours["answers"] > alone["answers"]
    assert 1.85 < ours["minutes"] < 2.15
    assert 1.95 < alone["minutes"] < 2.15


def test_what_begins_cold_takes_a_jump_and_so_does_what_comes_back() -> None:
    timing = Timing(jump=2.0)
    for right, taken in ((True, 6.0), (False, 14.0)):
        sitting = Sitting(1, 1.0, np.full((3, 1), right), Learners.draw(1, 3, 1).belief(), timing)
        sitting.ask(np.zeros((1, 1), np.intp), np.ones((1, 1), np.bool_))
        assert sitting.spent[0] == pytest.approx(taken)
        player = Player(sitting, 0)
        player.jump()
        player.ask(1)
        assert player.spent == pytest.approx(taken)


def test_replies_before_the_questions_take_their_time() -> None:
    graph = graph_of(random_graph(4, 60))
    right = np.ones((len(graph), 1), np.bool_)
    asked = []
    for replies in (0.0, 0.5):
        sitting = Sitting(1, 40.0, right, Learners.draw(1, len(graph), 1).belief())
        review_index(graph, INDEX, replies).drill(sitting)
        asked.append(int(sitting.asked.sum()))
        assert sitting.spent[0] == pytest.approx(asked[-1] * (4 + replies * 0.8))
    assert asked == [10, 10]
    sitting = Sitting(1, 400.0, np.ones((200, 1), np.bool_), Learners.draw(1, 200, 1).belief())
    rows = np.arange(200)[:, None]
    assert sitting.ask(rows, np.ones((200, 1), np.bool_), 0.5).sum() == 91
