"""Days, grades, and memory states derived from the log."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from fsrs import Rating
from hypothesis import given
from hypothesis import strategies as st

from tests.memory_graphs import node_after, repertoire_of
from trainer.memory.days import StudyDays
from trainer.memory.grading import RATINGS, SLOW_FLOOR, Pace, effective
from trainer.memory.model import UNSEEN_RECALL, MemoryStates
from trainer.repertoire.arrays import RepertoireArrays
from trainer.storage.answers import Answer, AnswerKind, Grade

NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)


def answer(
    days: float = 0.0,
    grade: Grade = Grade.CLEAN,
    *,
    kind: AnswerKind = AnswerKind.DRILL,
    key: int = 1,
    move: str = "e2e4",
    seconds: float = 3.0,
    id: int = 0,  # noqa: A002
) -> Answer:
    return Answer(
        repertoire_id=1,
        key=key,
        move=move,
        played=move,
        grade=grade,
        kind=kind,
        at=NOON + timedelta(days=days),
        seconds=seconds,
        id=id,
    )


# -- days ------------------------------------------------------------------------------------


def test_a_minute_early_the_next_morning_is_another_day() -> None:
    days = StudyDays()
    first = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
    assert days.number(first + timedelta(hours=23, minutes=55)) == days.number(first) + 1


def test_late_evening_belongs_to_the_day_before() -> None:
    days = StudyDays()
    evening = datetime(2026, 3, 2, 23, 30, tzinfo=UTC)
    assert days.number(evening + timedelta(hours=2)) == days.number(evening)
    assert days.number(evening + timedelta(hours=5)) == days.number(evening) + 1


def test_the_day_changes_at_four_on_the_wall_clock_in_summer_and_winter() -> None:
    zone = ZoneInfo("Europe/Berlin")
    days = StudyDays(zone)
    for month, day in ((1, 15), (3, 29), (7, 15), (10, 25)):
        before = datetime(2026, month, day, 3, 59, tzinfo=zone)
        assert days.number(before + timedelta(minutes=1)) == days.number(before) + 1
        assert days.date(days.number(before + timedelta(minutes=1))).day == day


# -- grades ----------------------------------------------------------------------------------


def test_ratings_of_grades_and_easy_is_never_given() -> None:
    assert {
        Grade.CLEAN: Rating.Good,
        Grade.SLOW: Rating.Hard,
        Grade.HINTED: Rating.Again,
        Grade.MISSED: Rating.Again,
    } == RATINGS
    assert set(RATINGS) == set(Grade)
    assert Rating.Easy not in RATINGS.values()


def test_slow_is_over_twice_the_players_own_median_but_not_under_six_seconds() -> None:
    assert Pace().slow_after == SLOW_FLOOR == 6.0
    quick = Pace(answer(seconds=1.0) for _ in range(10))
    assert quick.slow_after == 6.0
    thoughtful = Pace(answer(seconds=5.0) for _ in range(10))
    assert thoughtful.slow_after == 10.0
    assert thoughtful.grade(10.0) is Grade.CLEAN
    assert thoughtful.grade(10.1) is Grade.SLOW
    assert thoughtful.grade(1.0, hints=1) is Grade.HINTED
    few = Pace(answer(seconds=30.0) for _ in range(4))
    assert few.slow_after == 6.0


def test_typical_time_counts_the_last_fifty_right_answers_only() -> None:
    log = [answer(seconds=60.0) for _ in range(30)]
    log += [answer(seconds=4.0) for _ in range(50)]
    log += [answer(seconds=99.0, grade=Grade.MISSED) for _ in range(60)]
    log += [answer(seconds=99.0, grade=Grade.HINTED) for _ in range(60)]
    log += [answer(seconds=99.0, kind=AnswerKind.REPEAT) for _ in range(60)]
    assert Pace(log).slow_after == Pace.lately(log).slow_after == 8.0


# -- states ----------------------------------------------------------------------------------


def test_first_answers_give_the_published_initial_stabilities() -> None:
    """w0 to w3 of the published default parameters: Again, Hard, Good, Easy."""
    for grade, stability in (
        (Grade.CLEAN, 2.3065),
        (Grade.SLOW, 1.2931),
        (Grade.HINTED, 0.212),
        (Grade.MISSED, 0.212),
    ):
        state = MemoryStates().apply(answer(0, grade))
        assert state is not None
        assert state.stability == pytest.approx(stability)


@given(
    st.lists(
        st.tuples(
            st.floats(0, 30), st.sampled_from(list(Grade)), st.sampled_from(["d2d4", "e2e4"])
        ),
        max_size=20,
    )
)
def test_replaying_the_log_equals_counting_answer_by_answer(
    steps: list[tuple[float, Grade, str]],
) -> None:
    log, when = [], 0.0
    live = MemoryStates()
    for wait, grade, move in steps:
        when += wait
        log.append(answer(when, grade, move=move))
        live.apply(log[-1])
    replayed = MemoryStates.from_answers(log)
    assert {place: replayed.get(*place) for place in replayed} == {
        place: live.get(*place) for place in live
    }


def test_only_reviews_change_a_state() -> None:
    states = MemoryStates.from_answers([answer(0)])
    before = states.get(1, "e2e4")
    for kind in AnswerKind:
        if kind in (AnswerKind.DRILL, AnswerKind.GAME, AnswerKind.RETRACTION):
            continue
        assert states.apply(answer(1, Grade.MISSED, kind=kind)) is None
    assert states.get(1, "e2e4") == before
    states.apply(answer(1, kind=AnswerKind.GAME))
    assert states.get(1, "e2e4") != before


def test_a_repeat_in_the_session_does_not_make_up_for_a_miss() -> None:
    missed = answer(0, Grade.MISSED)
    repeat = replace(answer(0.001), kind=AnswerKind.REPEAT)
    alone = MemoryStates.from_answers([missed])
    repeated = MemoryStates.from_answers([missed, repeat])
    assert repeated.get(1, "e2e4") == alone.get(1, "e2e4")


def test_a_retracted_answer_never_happened() -> None:
    slip = answer(5, Grade.MISSED, id=7)
    taken_back = Answer(
        repertoire_id=1,
        key=1,
        move="e2e4",
        kind=AnswerKind.RETRACTION,
        at=slip.at,
        retracts=7,
        id=8,
    )
    right = answer(5, id=9)
    log = [answer(0, id=6), slip, taken_back, right]
    assert effective(log) == [log[0], right]
    expected = MemoryStates.from_answers([log[0], right])
    assert MemoryStates.from_answers(log).get(1, "e2e4") == expected.get(1, "e2e4")


def test_a_clock_set_back_breaks_nothing() -> None:
    states = MemoryStates.from_answers([answer(10), answer(3)])
    state = states.get(1, "e2e4")
    assert state is not None
    assert state.day == states.today(NOON + timedelta(days=10))


def test_table_holds_the_states_of_main_moves_only() -> None:
    repertoire = repertoire_of(["e4 e5 Nf3", "e4 e5 Nc3", "e4 c5 Nf3"])
    arrays = RepertoireArrays.compile(repertoire)
    start, open_game = node_after(repertoire, ""), node_after(repertoire, "e4 e5")
    states = MemoryStates.from_answers(
        [
            answer(0, key=start.key, move="e2e4"),
            answer(0, key=open_game.key, move="b1c3"),  # an alternative
            answer(0, key=99, move="a2a3"),  # a position that the file lost
        ]
    )
    table = states.table(arrays)
    assert table.seen.tolist() == [node is start for node in arrays.nodes]
    today = states.today(NOON)
    assert table.recall(today)[arrays.number(start)] == 1.0
    later = table.recall(today + 3)
    assert 0.8 < later[arrays.number(start)] < 0.9
    assert later[arrays.number(open_game)] == UNSEEN_RECALL
    assert table.recall(today, unseen=0.0)[arrays.number(open_game)] == 0.0
    assert not np.isnan(later).any()
