"""Decisions forgotten at the board: counted once, in their place in time, and taken back."""

from __future__ import annotations

import random
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path

import pytest

from tests.memory_graphs import node_after
from trainer.memory.course import Course, read_course_file
from trainer.memory.days import StudyDays
from trainer.memory.game_slips import GameSlip
from trainer.memory.grading import RATINGS
from trainer.storage.answers import Answer, AnswerKind, Grade
from trainer.storage.progress import ProgressStore
from trainer.storage.settings import Settings

TEXT = """[Event "Small"]
[RepertoireSide "White"]

1. d3 d5 2. Nf3 Nf6 3. g3 *
"""
NOW = datetime(2026, 3, 20, 12, tzinfo=UTC)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[ProgressStore]:
    with ProgressStore.open(tmp_path / "progress.sqlite", clock=lambda: NOW) as store:
        yield store


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "small.pgn"
    path.write_text(TEXT, encoding="utf-8")
    return path


def course_on(path: Path, store: ProgressStore | None) -> Course:
    return Course(
        read_course_file(path, store),
        store,
        Settings(),
        clock=lambda: NOW,
        days=StudyDays(),
        rng=random.Random(1),
    )


def drilled(course: Course, store: ProgressStore, day: int, grade: Grade = Grade.CLEAN) -> None:
    store.record(
        Answer(
            repertoire_id=course.repertoire_id,
            key=node_after(course.repertoire, "d3 d5").key,
            move="g1f3",
            kind=AnswerKind.DRILL,
            at=datetime(2026, 3, day, 12, tzinfo=UTC),
            grade=grade,
            played="g1f3",
            seconds=2.0,
        )
    )


def slip(course: Course, day: int, identity: int = 77) -> GameSlip:
    key = node_after(course.repertoire, "d3 d5").key
    return GameSlip(key, "g1f3", "c2c4", date(2026, 3, day), identity)


def test_a_slip_counts_as_missed_on_the_day_of_the_game(path: Path, store: ProgressStore) -> None:
    course = course_on(path, store)
    drilled(course, store, 2)
    drilled(course, store, 15)
    course = course_on(path, store)
    before = course.states.get(slip(course, 10).key, "g1f3")
    assert before is not None
    (counted,) = course.count_slips([slip(course, 10)])
    assert (counted.kind, counted.grade, counted.played) == (
        AnswerKind.GAME,
        Grade.MISSED,
        "c2c4",
    )
    assert course.states.days.number(counted.at) == date(2026, 3, 10).toordinal()
    after = course.states.get(slip(course, 10).key, "g1f3")
    # The model went through drill, game, drill, in this order, and the last day is the drill's.
    assert after is not None
    states = course.states.model
    expected = None
    for day, grade in ((2, Grade.CLEAN), (10, Grade.MISSED), (15, Grade.CLEAN)):
        expected = states.review(expected, RATINGS[grade], date(2026, 3, day).toordinal())
    assert after == expected
    assert after.stability < before.stability
    assert course_on(path, store).states.get(slip(course, 10).key, "g1f3") == after


def test_the_same_game_counts_once_and_two_games_of_a_day_twice(
    path: Path, store: ProgressStore
) -> None:
    course = course_on(path, store)
    assert len(course.count_slips([slip(course, 10), slip(course, 10)])) == 1
    assert course.count_slips([slip(course, 10)]) == []
    course = course_on(path, store)
    assert course.count_slips([slip(course, 10)]) == []
    assert len(course.count_slips([slip(course, 10, identity=78)])) == 1
    assert len(course.counted_slips()) == 2
    # A day that has not come yet is a wrong date.
    assert course.count_slips([slip(course, 21)]) == []


def test_what_was_taken_back_stays_away(path: Path, store: ProgressStore) -> None:
    course = course_on(path, store)
    drilled(course, store, 2)
    course = course_on(path, store)
    key = slip(course, 10).key
    before = course.states.get(key, "g1f3")
    counted = course.count_slips([slip(course, 10)])
    assert course.states.get(key, "g1f3") != before
    course.discount_slips(counted)
    assert course.states.get(key, "g1f3") == before
    assert course.counted_slips() == []
    assert course.count_slips([slip(course, 10)]) == []
    assert course_on(path, store).count_slips([slip(course, 10)]) == []


def test_nothing_is_counted_where_nothing_is_kept(path: Path) -> None:
    course = course_on(path, None)
    assert course.count_slips([slip(course, 10)]) == []
    assert len(course.states) == 0


@pytest.mark.parametrize("hours", range(-10, 13))
def test_the_day_of_the_game_is_the_day_of_study(hours: int, path: Path) -> None:
    days = StudyDays(timezone(timedelta(hours=hours)))
    course = course_on(path, None)
    for identity in (0, 2 * 3600 * 1000 - 1, 12345):
        at = slip(course, 10, identity).at
        assert days.number(at) == date(2026, 3, 10).toordinal()


def test_learnt_is_what_was_found_unhinted_before_the_day(
    path: Path, store: ProgressStore
) -> None:
    course = course_on(path, store)
    drilled(course, store, 1, Grade.HINTED)
    drilled(course, store, 2, Grade.MISSED)
    drilled(course, store, 5, Grade.SLOW)
    course = course_on(path, store)
    learnt, key = course.learnt(), slip(course, 10).key
    assert not learnt(key, "g1f3", date(2026, 3, 5))
    assert learnt(key, "g1f3", date(2026, 3, 6))
    assert learnt(key, "g1f3", None)
    assert not learnt(key, "c2c4", None)


def test_today_names_what_was_missed_at_the_board(path: Path, store: ProgressStore) -> None:
    course = course_on(path, store)
    course.count_slips([slip(course, 18)])
    (missed,) = course.today(10).missed
    assert missed.remark == "missed once, last on 18 March, at the board"
    drilled(course, store, 19, Grade.MISSED)
    (missed,) = course_on(path, store).today(10).missed
    assert missed.remark == "missed 2 times, last on 19 March, at the board too"
