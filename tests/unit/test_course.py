"""A course: one repertoire, what is remembered of it, and where its answers are kept."""

from __future__ import annotations

import json
import random
import sqlite3
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import chess
import numpy as np
import pytest

from trainer.errors import ProgressError, RepertoireFileError
from trainer.memory.course import Course, read_course_file
from trainer.memory.days import StudyDays
from trainer.memory.drill import VerdictKind
from trainer.memory.session import DrillSession
from trainer.repertoire.reader import ReadingCancelledError
from trainer.storage.answers import AnswerKind, Grade
from trainer.storage.progress import ProgressStore
from trainer.storage.settings import Settings

DEMO = Path(__file__).resolve().parents[2] / "repertoires" / "kings-indian-attack.pgn"
START = datetime(2026, 3, 1, 18, 0, tzinfo=UTC)
SMALL = """[Event "The quiet system"]
[RepertoireSide "White"]

1. d3 d5 2. Nf3 (2. g3 Nf6) 2... Nf6 3. g3 *
"""


class Clock:
    """A clock that stands still until it is moved."""

    def __init__(self) -> None:
        self.now = START

    def __call__(self) -> datetime:
        return self.now


OpenCourse = Callable[..., Course]


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def small(tmp_path: Path) -> Path:
    path = tmp_path / "quiet_system-2.pgn"
    path.write_text(SMALL)
    return path


@pytest.fixture
def progress(tmp_path: Path) -> Path:
    return tmp_path / "progress.sqlite"


@pytest.fixture
def store(progress: Path, clock: Clock) -> Iterator[ProgressStore]:
    with ProgressStore.open(progress, clock=clock) as store:
        yield store


def open_course(
    path: Path, store: ProgressStore | None, clock: Clock, settings: Settings | None = None
) -> Course:
    return Course(
        read_course_file(path, store),
        store,
        settings or Settings(strangers=False),
        clock=clock,
        days=StudyDays(),
        rng=random.Random(1),
    )


def play(session: DrillSession, *sans: str) -> VerdictKind:
    """Answer the open questions in turn; what came of the last answer."""
    for san in sans:
        assert session.prompt is not None
        verdict = session.answer(session.prompt.board.parse_san(san), 2.0)
    return verdict.kind


# -- the file ------------------------------------------------------------------------------------


def test_the_title_is_made_of_the_name_of_the_file(
    small: Path, store: ProgressStore, clock: Clock
) -> None:
    assert open_course(small, store, clock).title == "Quiet System 2"


@pytest.mark.parametrize("name", ["-.pgn", "__.pgn"])
def test_a_name_without_letters_is_its_own_title(
    tmp_path: Path, store: ProgressStore, clock: Clock, name: str
) -> None:
    path = tmp_path / name
    path.write_text(SMALL)
    assert open_course(path, store, clock).title == name


def test_a_file_that_says_its_side_is_not_asked_about(small: Path, store: ProgressStore) -> None:
    assert not read_course_file(small, store).side_guessed
    assert read_course_file(small, store, side=chess.BLACK).repertoire.side == chess.BLACK


@pytest.mark.parametrize("side", chess.COLORS)
def test_the_side_chosen_once_is_remembered(
    tmp_path: Path, store: ProgressStore, side: chess.Color
) -> None:
    path = tmp_path / "mine.pgn"
    path.write_text("1. e4 c5 2. Nf3 d6 3. d4 *")
    loaded = read_course_file(path, store)
    assert loaded.side_guessed
    assert loaded.repertoire.side == chess.WHITE
    store.identify(path, side, [])
    again = read_course_file(path, store)
    assert not again.side_guessed
    assert again.repertoire.side == side
    assert len(again.repertoire.decisions()) == (3 if side == chess.WHITE else 2)


def test_progress_and_cancelling_reach_the_reader(small: Path, tmp_path: Path) -> None:
    shares: list[float] = []
    read_course_file(small, None, progress=shares.append)
    assert shares[-1] == 1.0
    large = tmp_path / "large.pgn"
    large.write_text(SMALL * 100)
    with pytest.raises(ReadingCancelledError):
        read_course_file(large, None, cancelled=lambda: True)
    with pytest.raises(RepertoireFileError, match="There is no file"):
        read_course_file(tmp_path / "missing.pgn", None)


# -- drilling ------------------------------------------------------------------------------------


def test_a_day_of_drilling(
    small: Path, store: ProgressStore, clock: Clock, progress: Path
) -> None:
    course = open_course(small, store, clock)
    before = course.today(10)
    assert before.first_time
    assert (before.decisions, before.learnt, before.questions) == (3, 0, 3)
    session = course.begin(10)
    assert play(session, "d3", "Nf3", "g3") is VerdictKind.RIGHT
    assert session.prompt is None
    course.finish(session.summary())
    after = course.today(10)
    assert (after.learnt, after.questions) == (3, 0)
    assert not after.first_time
    assert after.depth.now > before.depth.now
    with sqlite3.connect(progress) as connection:
        minutes, ended, summary = connection.execute(
            "SELECT minutes, ended, summary FROM sessions"
        ).fetchone()
    connection.close()
    assert minutes == 10
    assert ended is not None
    assert json.loads(summary) == {
        "asked": 3,
        "right": 3,
        "missed": 0,
        "depth_before": pytest.approx(before.depth.without, abs=1e-3),
        "depth_after": pytest.approx(after.depth.without, abs=1e-3),
        "seconds": 6.0,
    }


def test_chosen_positions_are_asked_and_only_they(
    small: Path, store: ProgressStore, clock: Clock
) -> None:
    course = open_course(small, store, clock, Settings(strangers=True, stranger_rate=0.5))
    first, _second, third = course.repertoire.decisions()
    session = course.begin_with([third, first])
    assert session.prompt is not None
    assert session.prompt.node is third
    assert session.prompt.is_new
    assert [step.san for step in session.prompt.lead_in] == ["Nf3", "Nf6"]
    play(session, "g3")
    assert session.prompt.node is first
    assert session.prompt.lead_in == ()
    play(session, "d3")
    assert session.prompt is None
    kinds = [answer.kind for answer in store.answers(course.repertoire_id)]
    assert kinds == [AnswerKind.DRILL, AnswerKind.DRILL]
    assert course.today(10).learnt == 2


def test_chosen_again_on_the_same_day_is_a_repeat(
    small: Path, store: ProgressStore, clock: Clock
) -> None:
    course = open_course(small, store, clock)
    first = course.repertoire.decisions()[0]
    play(course.begin_with([first]), "d3")
    state = course.states.get(first.key, "d2d3")
    session = course.begin_with([first])
    assert session.prompt is not None
    assert session.prompt.why.startswith("You chose it: recall is 100 %")
    play(session, "d3")
    assert [answer.kind for answer in store.answers(course.repertoire_id)] == [
        AnswerKind.DRILL,
        AnswerKind.REPEAT,
    ]
    assert course.states.get(first.key, "d2d3") == state


def test_a_lead_in_does_not_give_a_chosen_position_away(
    small: Path, store: ProgressStore, clock: Clock
) -> None:
    course = open_course(small, store, clock)
    _, second, third = course.repertoire.decisions()
    session = course.begin_with([third, second])
    assert session.prompt is not None
    assert all(step.edge.parent is not second for step in session.prompt.lead_in if step.edge)


def test_what_is_no_decision_cannot_be_chosen(
    small: Path, store: ProgressStore, clock: Clock
) -> None:
    course = open_course(small, store, clock)
    reply = course.repertoire.roots[0].edges[0].child
    assert course.begin_with([reply]).prompt is None


def test_memory_is_the_same_when_the_course_is_opened_again(
    small: Path, store: ProgressStore, clock: Clock
) -> None:
    course = open_course(small, store, clock)
    session = course.begin(10)
    play(session, "e4", "d3", "Nf3", "g3", "d3")
    clock.now += timedelta(days=3)
    fresh = open_course(small, store, clock)
    tables = [one.states.table(one.arrays) for one in (course, fresh)]
    for values in ("stability", "difficulty", "day"):
        kept, read = (getattr(table, values) for table in tables)
        assert np.array_equal(kept, read, equal_nan=values != "day")
    assert fresh.today(10).worth_asking == course.today(10).worth_asking > 0
    assert [one.edge.san for one in fresh.today(10).missed] == ["d3"]


def test_a_slip_leaves_no_trace(small: Path, store: ProgressStore, clock: Clock) -> None:
    course = open_course(small, store, clock)
    session = course.begin(10)
    assert play(session, "e4") is VerdictKind.MISSED
    assert session.undo_slip()
    assert play(session, "d3") is VerdictKind.RIGHT
    kept = store.answers(course.repertoire_id)
    assert [(answer.kind, answer.grade) for answer in kept] == [(AnswerKind.DRILL, Grade.CLEAN)]


def test_both_sides_of_one_file_are_remembered_apart(
    small: Path, store: ProgressStore, clock: Clock
) -> None:
    white = open_course(small, store, clock)
    play(white.begin(10), "d3")
    loaded = read_course_file(small, store, side=chess.BLACK)
    black = Course(loaded, store, Settings(), clock=clock, days=StudyDays(), rng=random.Random(1))
    assert black.today(10).first_time
    assert black.repertoire_id != white.repertoire_id


def test_a_moved_file_keeps_what_is_remembered(
    small: Path, store: ProgressStore, clock: Clock, tmp_path: Path
) -> None:
    play(open_course(small, store, clock).begin(10), "d3", "Nf3", "g3")
    moved = small.rename(tmp_path / "renamed.pgn")
    assert not open_course(moved, store, clock).today(10).first_time


def test_other_settings_plan_otherwise(small: Path, store: ProgressStore, clock: Clock) -> None:
    course = open_course(small, store, clock)
    play(course.begin(10), "d3", "Nf3", "g3")
    clock.now += timedelta(days=2)
    course.settings = Settings(desired_retention=0.7)
    assert course.today(10).worth_asking == 0
    course.settings = Settings(desired_retention=0.99)
    assert course.today(10).worth_asking == 3


def test_strangers_come_in_the_second_week(
    small: Path, store: ProgressStore, clock: Clock
) -> None:
    course = open_course(small, store, clock, Settings(stranger_rate=0.5))
    play(course.begin(10), "d3", "Nf3", "g3")
    assert course._stranger_rate() == 0.0
    clock.now = START + timedelta(days=6, hours=23)
    assert course._stranger_rate() == 0.0
    clock.now = START + timedelta(days=7)
    assert course._stranger_rate() == 0.5
    course.settings = Settings(strangers=False)
    assert course._stranger_rate() == 0.0
    clock.now = START
    course.settings = Settings(strangers=True, stranger_rate=0.25)
    assert course._stranger_rate() == 0.25


# -- flags ---------------------------------------------------------------------------------------


def test_flags(small: Path, store: ProgressStore, clock: Clock) -> None:
    course = open_course(small, store, clock)
    session = course.begin(10)
    session.flag()
    play(session, "d3")
    session.flag("the pawn or the knight?")
    flagged = course.today(10).flagged
    assert [(one.edge.san, one.remark) for one in flagged] == [
        ("d3", "flagged on 1 March"),
        ("Nf3", "the pawn or the knight?"),
    ]
    assert flagged[1].order.text() == "1 d3 d5"
    course.unflag(flagged[0].node.key)
    assert [one.edge.san for one in course.today(10).flagged] == ["Nf3"]


def test_a_flag_on_what_is_no_longer_prepared_is_left_out(
    small: Path, store: ProgressStore, clock: Clock
) -> None:
    session = open_course(small, store, clock).begin(10)
    play(session, "d3")
    session.flag()
    small.write_text(SMALL.replace("1. d3 d5 2. Nf3 (2. g3 Nf6) 2... Nf6 3. g3", "1. d3 e5 2. g3"))
    assert open_course(small, store, clock).today(10).flagged == ()


# -- without a file to write ---------------------------------------------------------------------


@pytest.fixture(params=["none", "read only"])
def unkept(
    request: pytest.FixtureRequest, small: Path, progress: Path, clock: Clock
) -> Iterator[Course]:
    """A course whose answers no file keeps; `d3` was answered before, where there is a file."""
    if request.param == "none":
        yield open_course(small, None, clock)
        return
    with ProgressStore.open(progress, clock=clock) as store:
        play(open_course(small, store, clock).begin(10), "d3")
        with ProgressStore.open(progress, read_only=True, clock=clock) as reader:
            yield open_course(small, reader, clock)
        assert len(store.answers(1)) == 1


def test_answers_that_nobody_keeps_count_while_the_course_is_open(unkept: Course) -> None:
    assert not unkept.keeps_answers
    before = unkept.today(10)
    session = unkept.begin(10)
    while session.prompt is not None:
        play(session, session.prompt.board.san(session.prompt.node.edges[0].move))
    unkept.finish(session.summary())
    after = unkept.today(10)
    assert before.questions > 0
    assert after.questions == 0
    assert after.learnt == 3


def test_a_slip_that_nobody_kept_can_be_taken_back(unkept: Course) -> None:
    session = unkept.begin(10)
    assert session.prompt is not None
    before = len(unkept._log)
    play(session, "a3")
    assert session.undo_slip()
    assert len(unkept._log) == before
    assert unkept.today(10).missed == ()


def test_a_flag_that_nobody_keeps_is_refused(unkept: Course) -> None:
    session = unkept.begin(10)
    with pytest.raises(ProgressError, match="a flag would be lost"):
        session.flag()


def test_what_another_window_learnt_is_known_here(
    small: Path, store: ProgressStore, progress: Path, clock: Clock
) -> None:
    play(open_course(small, store, clock).begin(10), "d3", "Nf3")
    with ProgressStore.open(progress, read_only=True, clock=clock) as reader:
        assert open_course(small, reader, clock).today(10).learnt == 2


def test_a_log_that_fails_leaves_the_question_open(
    small: Path, store: ProgressStore, clock: Clock
) -> None:
    course = open_course(small, store, clock)
    session = course.begin(10)
    prompt = session.prompt
    store.close()
    with pytest.raises(ProgressError):
        play(session, "d3")
    assert session.prompt is prompt
    assert course.states.table(course.arrays).seen.sum() == 0


# -- the player's own memory ---------------------------------------------------------------------


def test_parameters_in_use_are_kept_and_count_all_answers_anew(
    small: Path, store: ProgressStore, clock: Clock
) -> None:
    course = open_course(small, store, clock)
    play(course.begin(10), "d3")
    first = course.repertoire.decisions()[0]
    before = course.states.get(first.key, "d2d3")
    own = [number * 1.2 for number in course.states.model.parameters]
    course.use_parameters(own)
    after = course.states.get(first.key, "d2d3")
    assert before is not None
    assert after is not None
    assert after.stability == pytest.approx(before.stability * 1.2)
    again = open_course(small, store, clock)
    assert again.states.get(first.key, "d2d3") == after
    with pytest.raises(ValueError, match="parameter"):
        course.use_parameters([-1.0] * 21)
    assert course.states.get(first.key, "d2d3") == after


def test_plans_go_by_what_answers_take_the_player(
    tmp_path: Path, store: ProgressStore, clock: Clock
) -> None:
    path = tmp_path / "demo.pgn"
    path.write_bytes(DEMO.read_bytes())
    course = open_course(path, store, clock)
    before = course.today(10)

    def drill(minutes: int, seconds: float) -> None:
        session = course.begin(minutes)
        while session.prompt is not None:
            clock.now += timedelta(seconds=seconds)
            move = session.prompt.node.edges[0].move
            assert session.answer(move, seconds).kind is VerdictKind.RIGHT
            clock.now += timedelta(seconds=1)

    drill(10, 11.0)
    clock.now += timedelta(days=1)
    slow = course.today(10)
    # 11 s and 1 s more, less what a plan has for the program's moves, and the usual 20 times.
    asked = before.questions - 1
    assert course.timing.right == pytest.approx((20 * 4 + asked * 11.6) / (20 + asked))
    assert slow.questions < before.questions
    assert slow.planned_minutes == pytest.approx(10, abs=0.4)
    assert slow.load[0].minutes > 0
    for _ in range(8):
        drill(10, 1.0)
        clock.now += timedelta(days=1)
    assert course.today(10).questions > slow.questions


def test_an_exercise_asks_only_what_was_chosen(
    small: Path, store: ProgressStore, clock: Clock
) -> None:
    course = open_course(small, store, clock)
    chosen = course.repertoire.decisions()[1:]
    session = course.begin_exercise(chosen, 5, moves_before=2)
    asked = []
    while session.prompt is not None:
        asked.append(session.prompt.node)
        assert len(session.prompt.lead_in) == 2
        play(session, session.prompt.node.edges[0].san)
    assert set(asked) == set(chosen)


def test_the_tournament_day_is_counted_down(
    small: Path, store: ProgressStore, clock: Clock
) -> None:
    course = open_course(small, store, clock)
    assert course.days_to_tournament is None
    course.settings = Settings(strangers=False, tournament_day="2026-03-03")
    assert course.days_to_tournament == 2
    assert course.today(10).questions == 3
    course.settings = Settings(strangers=False, tournament_day="2026-03-01")
    assert course.days_to_tournament is None


# -- what the player wants to be asked today -----------------------------------------------------


def first_asked(course: Course) -> str:
    """The position of the first question of a drill that would begin now."""
    prompt = course.begin(10).prompt
    assert prompt is not None
    return prompt.board.epd()


def test_a_decision_that_is_wanted_today_comes_first_until_it_was_asked(
    small: Path, store: ProgressStore, clock: Clock
) -> None:
    course = open_course(small, store, clock)
    node = course.repertoire.decisions()[-1]
    usual = course.today(10)
    assert first_asked(course) != node.board().epd()
    course.ask_today(node)
    # Nothing is asked twice.
    assert course.today(10).questions == usual.questions
    session = course.begin(10)
    assert session.prompt is not None
    assert session.prompt.board.epd() == node.board().epd()
    play(session, node.edges[0].san)
    assert first_asked(course) != node.board().epd()


def test_wanted_today_is_not_tomorrow_and_outlasts_edits(
    small: Path, store: ProgressStore, clock: Clock
) -> None:
    course = open_course(small, store, clock)
    wanted = course.repertoire.decisions()[-1]
    course.ask_today(wanted)
    renewed = open_course(small, store, clock)
    renewed.go_on_from(course)
    assert first_asked(renewed) == wanted.board().epd()
    clock.now += timedelta(days=1)
    assert first_asked(renewed) != wanted.board().epd()
