"""What the window and the terminal say, in good English for every number."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import chess
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from tests.memory_graphs import node_after, repertoire_of
from trainer.memory.drill import Missed, Summary
from trainer.memory.sentences import (
    WELCOME,
    asked_sentence,
    count,
    gain_sentence,
    load_sentence,
    outlook_sentence,
    plan_sentence,
    strangers_sentence,
    worth_sentence,
)
from trainer.memory.today import DayLoad, Depth, Today

NOTHING = Summary(
    asked=0,
    right=0,
    slow=0,
    hinted=0,
    missed=(),
    repeats=0,
    skipped=0,
    strangers_noticed=0,
    strangers_unnoticed=0,
    false_alarms=0,
    depth_before=2.0,
    depth_after=2.0,
    seconds=0.0,
)
EMPTY = Today(
    decisions=0,
    learnt=0,
    worth_asking=0,
    minutes_needed=0.0,
    questions=0,
    new_questions=0,
    planned_minutes=0.0,
    depth=Depth(0.0, 0.0, 0.0, 0.0),
    load=(),
    missed=(),
    flagged=(),
)


def one_missed() -> Missed:
    repertoire = repertoire_of(["d3 d5 Nf3"])
    node = node_after(repertoire, "d3 d5")
    played = chess.Move.from_uci("a2a3")
    return Missed(node, node.edges[0], played, repertoire.roots[0], ("d3", "d5"))


def test_the_welcome_is_two_sentences() -> None:
    assert WELCOME.count(". ") == 1
    assert WELCOME.endswith(".")


@pytest.mark.parametrize(
    ("number", "text"),
    [(0, "0 positions"), (1, "1 position"), (2, "2 positions"), (12345, "12,345 positions")],
)
def test_counting(number: int, text: str) -> None:
    assert count(number, "position") == text


@pytest.mark.parametrize(
    ("changes", "text"),
    [
        ({}, "This repertoire has no prepared move yet."),
        ({"decisions": 5}, "Nothing is worth asking now: all that matters is remembered."),
        (
            {"decisions": 5, "worth_asking": 1, "minutes_needed": 0.01},
            "1 position is worth asking now, about 1 minute in all.",
        ),
        (
            {"decisions": 5000, "worth_asking": 1234, "minutes_needed": 60.2},
            "1,234 positions are worth asking now, about 61 minutes in all.",
        ),
    ],
)
def test_worth_asking(changes: dict[str, float], text: str) -> None:
    assert worth_sentence(replace(EMPTY, **changes)) == text  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("questions", "new", "text"),
    [
        (0, 0, ""),
        (1, 0, "The next drill asks 1 position."),
        (7, 2, "The next drill asks 7 positions, 2 of them new."),
    ],
)
def test_the_plan(questions: int, new: int, text: str) -> None:
    assert plan_sentence(replace(EMPTY, questions=questions, new_questions=new)) == text


def test_the_outlook() -> None:
    assert outlook_sentence(Depth(now=3.24, without=3.0, drilled=3.86, full=8.4)) == (
        "In your next game you can expect 3.2 prepared moves in a row from memory. Tomorrow it "
        "is 3.9 with today's drill, 3.0 without it; the whole repertoire gives 8.4."
    )


def test_the_load() -> None:
    day = date(2026, 3, 1)
    free = DayLoad(day, 0, 0.0)
    assert load_sentence([free] * 14) == "Nothing that you have learnt falls due in these days."
    assert load_sentence([free, DayLoad(day, 1, 0.08)]) == (
        "What you have learnt takes about 1 minute in all."
    )
    assert load_sentence([DayLoad(day, 20, 1.5), DayLoad(day, 9, 0.7)]) == (
        "What you have learnt takes about 3 minutes in all."
    )


@pytest.mark.parametrize(
    ("changes", "text"),
    [
        ({}, "Nothing was asked this time."),
        ({"repeats": 2, "seconds": 3.0}, "2 answers to what was answered today already."),
        (
            {"asked": 1, "right": 1, "seconds": 2.4},
            "1 position asked, 1 right at once; 2 s of thinking.",
        ),
        (
            {"asked": 9, "right": 6, "slow": 2, "hinted": 2, "skipped": 3, "seconds": 90.0},
            "9 positions asked, 6 right at once, 2 of them slowly, 2 with a hint, 3 skipped; "
            "2 min of thinking.",
        ),
        (
            {"asked": 2, "right": 1, "missed": (one_missed(),), "seconds": 59.9},
            "2 positions asked, 1 right at once, 1 missed; 60 s of thinking.",
        ),
    ],
)
def test_what_was_asked(changes: dict[str, object], text: str) -> None:
    assert asked_sentence(replace(NOTHING, **changes)) == text  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("before", "after", "text"),
    [
        (2.0, 2.04, "Depth in hand for a game tomorrow: 2.0 moves."),
        (
            2.0,
            3.26,
            "Depth in hand for a game tomorrow: 3.3 moves, up from 2.0 without this drill.",
        ),
        (
            2.5,
            2.2,
            "Depth in hand for a game tomorrow: 2.2 moves, down from 2.5 without this drill.",
        ),
    ],
)
def test_what_was_gained(before: float, after: float, text: str) -> None:
    summary = replace(NOTHING, depth_before=before, depth_after=after)
    assert gain_sentence(summary) == text


@pytest.mark.parametrize(
    ("noticed", "unnoticed", "alarms", "text"),
    [
        (0, 0, 0, ""),
        (1, 0, 0, "1 of 1 stranger noticed."),
        (1, 2, 1, "1 of 3 strangers noticed, 1 false alarm."),
        (0, 0, 2, "2 false alarms."),
    ],
)
def test_strangers(noticed: int, unnoticed: int, alarms: int, text: str) -> None:
    summary = replace(
        NOTHING, strangers_noticed=noticed, strangers_unnoticed=unnoticed, false_alarms=alarms
    )
    assert strangers_sentence(summary) == text


@given(st.floats(0, 40), st.floats(0, 40))
@example(2.06, 2.14)
@example(2.04, 2.06)
def test_up_and_down_are_never_said_of_equal_figures(before: float, after: float) -> None:
    said = gain_sentence(replace(NOTHING, depth_before=before, depth_after=after))
    if " from " in said:
        now, then = f"{after:.1f}", f"{before:.1f}"
        assert now != then
        assert ("up" in said) == (after > before)


@pytest.mark.parametrize(
    ("spare", "said"),
    [
        (0, "The next drill asks 60 positions."),
        (1, "The next drill asks 60 positions; 1 of them is asked because there is time."),
        (48, "The next drill asks 60 positions; 48 of them are asked because there is time."),
    ],
)
def test_what_only_uses_the_time_is_told(spare: int, said: str) -> None:
    today = replace(EMPTY, questions=60, new_questions=0, spare_questions=spare)
    assert plan_sentence(today) == said
