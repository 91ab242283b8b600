"""An answer is the same after it was stored."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import chess
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.position import position_key
from trainer.storage.answers import (
    Answer,
    AnswerKind,
    Grade,
    from_milliseconds,
    to_milliseconds,
)
from trainer.storage.progress import ProgressStore

NOW = datetime(2026, 3, 1, 18, 30, tzinfo=UTC)
KEYS = st.integers(0, 2**64 - 1)
SQUARES = st.sampled_from(chess.SQUARE_NAMES)
MOVES = st.builds(
    lambda start, end, piece: start + end + piece,
    SQUARES,
    SQUARES,
    st.sampled_from(["", "", "q", "r", "b", "n"]),
)
ZONES = st.integers(-23 * 60, 23 * 60).map(lambda minutes: timezone(timedelta(minutes=minutes)))
MOMENTS = st.datetimes(datetime(1, 1, 2), datetime(9999, 12, 30), timezones=ZONES)
KINDS = st.sampled_from([kind for kind in AnswerKind if kind is not AnswerKind.RETRACTION])


@st.composite
def some_answers(draw: st.DrawFn) -> Answer:
    kind = draw(KINDS)
    must_have_grade = kind in (AnswerKind.DRILL, AnswerKind.REPEAT)
    entered = draw(st.one_of(st.just((None, None)), st.tuples(KEYS, MOVES)))
    return Answer(
        repertoire_id=draw(st.integers(1, 2)),
        key=draw(KEYS),
        move=draw(st.one_of(st.just(""), MOVES)),
        played=draw(st.one_of(st.just(""), MOVES)),
        grade=draw(
            st.sampled_from(Grade)
            if must_have_grade
            else st.one_of(st.none(), st.sampled_from(Grade))
        ),
        kind=kind,
        at=draw(MOMENTS),
        seconds=draw(st.floats(0, allow_infinity=False)),
        session_id=draw(st.integers(0, 2**63 - 1)),
        entered_from=entered[0],
        entered_by=entered[1],
        hints=draw(st.integers(0, 2)),
    )


@settings(max_examples=60, deadline=None)
@given(st.lists(some_answers(), max_size=12))
def test_any_answers_come_back_as_they_were(answers: list[Answer]) -> None:
    with TemporaryDirectory() as name:
        path = Path(name) / "progress.sqlite"
        with ProgressStore.open(path, clock=lambda: NOW) as store:
            for number in (1, 2):
                assert store.identify(Path(name) / f"{number}.pgn", chess.WHITE, ()) == number
            ids = [store.record(answer) for answer in answers]
        with ProgressStore.open(path, clock=lambda: NOW) as store:
            found = sorted(store.answers(1) + store.answers(2), key=lambda answer: answer.id)
    assert [answer.id for answer in found] == ids == sorted(set(ids))
    for answer, back in zip(answers, found, strict=True):
        for name in Answer.__dataclass_fields__:
            if name != "id":
                assert getattr(back, name) == getattr(answer, name)


@given(MOMENTS)
def test_moments_are_kept_to_the_millisecond_in_utc(moment: datetime) -> None:
    kept = from_milliseconds(to_milliseconds(moment))
    assert timedelta(0) <= moment - kept < timedelta(milliseconds=1)
    assert kept.tzinfo is UTC


def test_milliseconds_against_the_published_epoch() -> None:
    """RFC 868 (1983): 00:00 1 Jan 1970 GMT is 2,208,988,800 s after 00:00 1 Jan 1900 GMT."""
    assert to_milliseconds(datetime(1970, 1, 1, tzinfo=UTC)) == 0
    assert to_milliseconds(datetime(1900, 1, 1, tzinfo=UTC)) == -2_208_988_800_000


USUAL: dict[str, Any] = {
    "repertoire_id": 1,
    "key": position_key(chess.Board()),
    "move": "g1f3",
    "kind": AnswerKind.DRILL,
    "grade": Grade.CLEAN,
    "at": NOW,
}


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"key": -1}, "not an unsigned 64-bit key: -1"),
        ({"key": 1 << 64}, "not an unsigned 64-bit key"),
        ({"entered_from": -5, "entered_by": "e7e5"}, "not an unsigned 64-bit key: -5"),
        ({"move": "Nf3"}, "not moves in UCI notation: 'Nf3'"),
        ({"played": "e7e8k"}, "not moves in UCI notation"),
        ({"seconds": float("nan")}, "not a time taken: nan"),
        ({"seconds": float("inf")}, "not a time taken: inf"),
        ({"seconds": -0.1}, "not a time taken: -0.1"),
        ({"hints": -1}, "not a number of hints: -1"),
        ({"entered_by": "e7e5"}, "entered_from and entered_by belong together"),
        ({"grade": None}, "an answer of kind drill needs a grade"),
        ({"retracts": 3}, "a retraction, and nothing else"),
        ({"kind": AnswerKind.RETRACTION}, "a retraction, and nothing else"),
        ({"at": NOW.replace(tzinfo=None)}, "must know its time zone"),
    ],
)
def test_answers_that_cannot_be_meant(change: dict[str, Any], message: str) -> None:
    with pytest.raises(ValueError, match=re.escape(message)):
        Answer(**{**USUAL, **change})


def test_a_time_in_another_zone_is_the_same_moment() -> None:
    there = NOW.astimezone(timezone(timedelta(hours=5, minutes=45)))
    assert Answer(**{**USUAL, "at": there}) == Answer(**USUAL)
