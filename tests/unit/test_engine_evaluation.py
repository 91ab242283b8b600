"""Scores, their classes and words, and lines."""

from __future__ import annotations

import chess
import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.engine.evaluation import Limit, Score, Standing, finished, line_sans

SCORES = st.one_of(
    st.builds(Score, cp=st.integers(-20_000, 20_000)),
    st.builds(Score, mate=st.integers(1, 60).flatmap(lambda n: st.sampled_from((n, -n)))),
)


@given(SCORES)
def test_turning_a_score_turns_everything(score: Score) -> None:
    turned = score.turned()
    assert turned.turned() == score
    assert turned.value == -score.value
    assert turned.standing == -score.standing
    assert score.words(chess.WHITE) == turned.words(chess.BLACK)


def test_a_quick_mate_is_worth_more_than_a_slow_one_and_than_any_advantage() -> None:
    order = [
        Score(mate=0),
        Score(mate=-1),
        Score(mate=-9),
        Score(-900),
        Score(0),
        Score(20_000),
        Score(mate=9),
        Score(mate=1),
    ]
    assert [score.value for score in order] == sorted(score.value for score in order)


@pytest.mark.parametrize(
    ("score", "standing", "words"),
    [
        (Score(0), Standing.EVEN, "The position is even"),
        (Score(-39), Standing.EVEN, "The position is even"),
        (Score(40), Standing.SLIGHTLY_BETTER, "White has a slight advantage"),
        (Score(-100), Standing.WORSE, "Black has a moderate advantage"),
        (Score(250), Standing.WON, "White has a decisive advantage"),
        (Score(mate=-2), Standing.LOST, "Black mates in 2"),
        (Score(mate=0), Standing.LOST, "Black has mated"),
    ],
)
def test_words(score: Score, standing: Standing, words: str) -> None:
    assert score.standing is standing
    assert score.words(chess.WHITE) == words


def test_figures() -> None:
    assert [Score(35).figure(), Score(-120).figure(), Score(0).figure()] == [
        "+0.35",
        "−1.20",
        "+0.00",
    ]
    assert Score(mate=3).figure() == "mate in 3"
    assert Score(mate=-2).figure() == "mated in 2"


def test_a_finished_game() -> None:
    assert finished(chess.Board()) is None
    stalemate = finished(chess.Board("7k/5Q2/6K1/8/8/8/8/8 b - - 0 1"))
    assert stalemate is not None
    assert stalemate.best.move is None
    assert stalemate.score == Score(0)


def test_lines_in_san_leave_the_board_alone() -> None:
    board = chess.Board()
    moves = tuple(chess.Move.from_uci(text) for text in ("e2e4", "e7e5", "g1f3"))
    assert line_sans(board, moves) == ("e4", "e5", "Nf3")
    assert board == chess.Board()


def test_a_limit_must_limit() -> None:
    with pytest.raises(ValueError, match="nodes or seconds"):
        Limit()
