"""Tricks found by rules, on the facts of the trade, and against what legal moves show."""

from __future__ import annotations

import random

import chess
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.lesson.replies import MATE, mates_in_one, wins_against_all
from trainer.lesson.trick_text import trick_sentence, wins_text
from trainer.lesson.tricks import (
    TrickKind,
    confirmed,
    flight_squares,
    standing_tricks,
    why_not_take,
)


def after(moves: str) -> chess.Board:
    board = chess.Board()
    for san in moves.split():
        board.push_san(san)
    return board


def test_the_queen_that_takes_b2_is_trapped_by_na4() -> None:
    # Common practice, no source: a pawn can be guarded without being guarded.
    board = after("d4 d5 Nc3 Nf6 Bf4 c5 e3 Qb6 a3")
    (trick,) = standing_tricks(board)
    assert trick.kind is TrickKind.TRAPPED
    assert trick.side == chess.WHITE
    assert trick_sentence(trick) == (
        "Black cannot take on b2: …Qxb2 is met by Na4, and the queen has no safe square."
    )
    # It also stands while White is to move: one move before a pawn went to a3 it did not.
    assert why_not_take(board, chess.Move.from_uci("b6b2")) == trick
    escape = after("d4 d5 Nc3 Nf6 Bf4 c5 e3 Qb6 h3")
    assert why_not_take(escape, chess.Move.from_uci("b6b2")) is None


def test_a_pawn_on_h6_takes_g7_from_the_king() -> None:
    # Common practice, no source: a rook check on the back rank is then mate unless something can
    # be put between.
    board = chess.Board("6k1/5p1p/7P/8/8/8/5PP1/3R2K1 w - - 0 1")
    assert flight_squares(board, chess.BLACK) == ()
    (trick,) = [one for one in standing_tricks(board) if one.side]
    assert (trick.kind, trick.wins, wins_text(trick)) == (TrickKind.BACK_RANK, MATE, "mate")
    assert trick.answer == chess.Move.from_uci("d1d8")
    # With a bishop that can go between, only the weakness stands.
    board = chess.Board("6k1/5p1p/7P/8/8/b7/5PP1/3R2K1 w - - 0 1")
    (trick,) = [one for one in standing_tricks(board) if one.side]
    assert (trick.answer, trick.wins) == (None, 0)
    assert "no flight square" in trick_sentence(trick)
    # Without the pawn the king goes to g7.
    board = chess.Board("6k1/5p1p/8/8/8/8/5PP1/3R2K1 w - - 0 1")
    assert flight_squares(board, chess.BLACK) == (chess.G7,)


@pytest.mark.parametrize(
    ("fen", "kind", "words"),
    [
        ("4k3/3n4/8/1B2p3/8/5N2/8/4K3 w - - 0 1", TrickKind.PINNED, "knight on d7 guards e5"),
        (
            "r2q1rk1/ppp2ppp/2n1bn2/8/3PP3/2N2N2/PP3PPP/R2QKB1R w KQ - 0 1",
            TrickKind.FORK,
            "d5, which attacks the knight on c6 and the bishop on e6",
        ),
        # The queen on d8 guards both the rook on d7 and the bishop on f6.
        (
            "3q2k1/3r1p1p/5bp1/7N/8/8/3R1PPP/6K1 w - - 0 1",
            TrickKind.OVERLOADED,
            "has to guard both",
        ),
        # The rook that takes a2 leaves the back rank.
        (
            "r5k1/5ppp/8/8/8/8/P4PPP/3R2K1 b - - 0 1",
            TrickKind.BACK_RANK,
            "Black cannot take on a2: …Rxa2 is met by Rd8#",
        ),
        # The queen that takes a3 no longer guards the rook.
        (
            "3r2k1/1p2qpp1/7p/8/8/P7/5PPP/3Q1RK1 b - - 0 1",
            TrickKind.LEFT_ITS_POST,
            "no longer guards d8",
        ),
    ],
)
def test_each_kind(fen: str, kind: TrickKind, words: str) -> None:
    found = standing_tricks(chess.Board(fen))
    sentences = [trick_sentence(one) for one in found if one.kind is kind]
    assert any(words in sentence for sentence in sentences), [
        (one.kind, trick_sentence(one)) for one in found
    ]


def test_the_first_position_holds_no_trick() -> None:
    assert standing_tricks(chess.Board()) == []


def test_the_word_of_an_engine_is_kept_with_the_trick() -> None:
    board = after("d4 d5 Nc3 Nf6 Bf4 c5 e3 Qb6 a3")
    asked = []

    def judge(position: chess.Board, move: chess.Move) -> bool:
        asked.append((position.fen(), move))
        return position.is_legal(move)

    (trick,) = standing_tricks(board, judge)
    assert trick.confirmed is True
    assert asked[0][1] == chess.Move.from_uci("c3a4")
    (bare,) = standing_tricks(board)
    assert bare.confirmed is None
    assert confirmed(bare, lambda _board, _move: False).confirmed is False


def played(seed: int, plies: int) -> chess.Board:
    rng = random.Random(seed)
    board = chess.Board()
    for _ in range(plies):
        moves = list(board.legal_moves)
        if not moves:
            break
        board.push(rng.choice(moves))
    return board


@settings(deadline=None, max_examples=25)
@given(st.builds(played, st.integers(0, 10**6), st.integers(6, 60)))
def test_what_every_trick_claims_can_be_seen_on_the_board(board: chess.Board) -> None:
    before = board.fen()
    for trick in standing_tricks(board):
        position = trick.board.copy()
        if trick.taking is not None:
            assert position.is_capture(trick.taking)
            position.push(trick.taking)
        assert trick_sentence(trick).endswith(".")
        if trick.answer is None:
            assert not flight_squares(position, not trick.side)
            continue
        assert position.turn == trick.side
        assert position.is_legal(trick.answer)
        position.push(trick.answer)
        if trick.wins == MATE:
            assert position.is_checkmate()
        if trick.kind is TrickKind.TRAPPED:
            (square,) = trick.squares
            moves = [move for move in position.legal_moves if move.from_square == square]
            for move in moves:
                later = position.copy()
                later.push(move)
                assert later.is_attacked_by(trick.side, move.to_square) or any(
                    later.is_capture(one) or later.gives_check(one) for one in later.legal_moves
                )
        if trick.kind is TrickKind.FORK:
            for square in trick.squares:
                assert trick.answer.to_square in position.attackers(trick.side, square)
        if trick.kind is TrickKind.PINNED:
            assert trick.board.is_pinned(not trick.side, trick.squares[0])
    assert board.fen() == before


@settings(deadline=None, max_examples=25)
@given(st.builds(played, st.integers(0, 10**6), st.integers(6, 60)))
def test_mates_in_one_are_all_of_them(board: chess.Board) -> None:
    wanted = set()
    for move in board.legal_moves:
        later = board.copy()
        later.push(move)
        if later.is_checkmate():
            wanted.add(move)
    assert set(mates_in_one(board)) == wanted
    for move in wanted:
        assert wins_against_all(board, move) == MATE
