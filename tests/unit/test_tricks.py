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
    Trick,
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


#: Positions of textbooks and opening tables, each with the kind, the move and a part of the
#: sentence. “Table” is `resources/openings`; the rest is common practice, no source.
_TEXTBOOK = [
    # The queen on b2 has no way back. The same in two openings (the second is the position of
    # the table's “Najdorf Variation, Poisoned Pawn Variation”, B97, with a3 instead of Qd2).
    ("d4 d5 Nc3 Nf6 Bf4 c5 e3 Qb6 a3", TrickKind.TRAPPED, "…Qxb2 is met by Na4"),
    (
        "e4 c5 Nf3 d6 d4 cxd4 Nxd4 Nf6 Nc3 a6 Bg5 e6 f4 Qb6 a3",
        TrickKind.TRAPPED,
        "…Qxb2 is met by Na4",
    ),
    # The bishop that takes the rook's pawn is shut in by the neighbour's step.
    ("6k1/5ppp/4b3/8/8/8/PPK2PPP/8 b - - 0 1", TrickKind.TRAPPED, "…Bxa2 is met by b3"),
    # The fork after a knight took on e4 or e5 (table: “Four Knights Game: Italian Variation”, C47,
    # and what follows from 4…Nxe4).
    ("e4 e5 Nf3 Nc6 Nc3 Nf6 Bc4 Nxe4 Nxe4", TrickKind.FORK, "d5, which attacks the bishop on c4"),
    ("e4 e5 Nf3 Nc6 Nc3 Bc5 Nxe5 Nxe5", TrickKind.FORK, "d4, which attacks the bishop on c5"),
    (
        "r2q1rk1/ppp2ppp/2n1bn2/8/3PP3/2N2N2/PP3PPP/R2QKB1R w KQ - 0 1",
        TrickKind.FORK,
        "d5, which attacks the knight on c6 and the bishop on e6",
    ),
    # Pinned to the king, and pinned to the queen.
    ("4k3/3n4/8/1B2p3/8/5N2/8/4K3 w - - 0 1", TrickKind.PINNED, "the knight on d7 guards e5"),
    ("3qk3/5ppp/5n2/3p2B1/8/2N5/5PPP/3RK3 w - - 0 1", TrickKind.PINNED, "guards d5 but is pinned"),
    (
        "6k1/2r2ppp/2n5/4p3/8/5N2/2R2PPP/6K1 w - - 0 1",
        TrickKind.PINNED,
        "the knight on c6 guards e5 but is pinned",
    ),
    # One queen, two things to guard.
    ("3q2k1/3r1p1p/5bp1/7N/8/8/3R1PPP/6K1 w - - 0 1", TrickKind.OVERLOADED, "has to guard both"),
    # The rook, and the queen, that must stay on the back rank.
    ("r5k1/5ppp/8/8/8/8/P4PPP/3R2K1 b - - 0 1", TrickKind.BACK_RANK, "…Rxa2 is met by Rd8#"),
    ("6k1/5p1p/7P/8/8/8/5PP1/3R2K1 w - - 0 1", TrickKind.BACK_RANK, "Rd8#"),
    ("6k1/5ppp/8/P1r5/8/2n4P/2R2PP1/6K1 b - - 0 1", TrickKind.LEFT_ITS_POST, "is met by Rxc3"),
    (
        "3r2k1/1p2qpp1/7p/8/8/P7/5PPP/3Q1RK1 b - - 0 1",
        TrickKind.LEFT_ITS_POST,
        "no longer guards d8",
    ),
]


def board_of(text: str) -> chess.Board:
    return chess.Board(text) if "/" in text else after(text)


@pytest.mark.parametrize(("text", "kind", "words"), _TEXTBOOK)
def test_textbook_positions_with_both_colours(text: str, kind: TrickKind, words: str) -> None:
    board = board_of(text)
    found = [one for one in standing_tricks(board) if one.kind is kind]
    sentences = [trick_sentence(one) for one in found]
    assert any(words in sentence for sentence in sentences), sentences
    # With colours exchanged the same stands, for the other side.
    turned = {
        (one.kind, one.side, one.answer and mirrored(one.answer))
        for one in standing_tricks(board.mirror())
    }
    assert {(one.kind, not one.side, one.answer) for one in found} <= turned


def mirrored(move: chess.Move) -> chess.Move:
    flip = chess.square_mirror
    return chess.Move(flip(move.from_square), flip(move.to_square), move.promotion)


@pytest.mark.parametrize(
    "text",
    [
        # The knight on f6 is not pinned: 6 Nxd5 Nxd5 7 Bxd8 Bb4+ wins the queen back and more
        # (a trap of the Queen's Gambit Declined in every textbook; from memory).
        "d4 d5 c4 e6 Nc3 Nf6 Bg5 Nbd7 cxd5 exd5",
        # The queen on b6 that has a way back from b2.
        "d4 d5 Nc3 Nf6 Bf4 c5 e3 Qb6 h3",
        # The bishop on a2 that is not shut in: it goes back over b3, where a piece stands ready.
        "6k1/5ppp/4b3/8/8/8/P1K2PPP/8 b - - 0 1",
        # The back rank with a flight square on either side.
        "r5k1/5pp1/7p/8/8/8/P4PPP/3R2K1 b - - 0 1",
        # A guard that is pinned along the line on which it may take.
        "4k3/4r3/8/4p3/8/8/8/4RK2 w - - 0 1",
        # Two guards: neither is overloaded.
        "3q2k1/3r1p1p/3b2p1/5N2/8/8/3R1PPP/6K1 b - - 0 1",
    ],
)
def test_what_does_not_work_is_not_claimed(text: str) -> None:
    assert [one for one in standing_tricks(board_of(text)) if one.wins] == []


def test_what_is_lost_anyway_is_no_trick() -> None:
    # Rxg2 mates whatever White does: it does not forbid a capture.
    board = chess.Board("5rk1/6b1/6p1/1p4n1/p1p3rP/P1N1P2q/1P1B2Q1/3R1RK1 w - - 2 33")
    assert [one for one in standing_tricks(board) if one.taking and not one.side] == []


def test_the_first_position_holds_no_trick() -> None:
    assert standing_tricks(chess.Board()) == []


def test_the_word_of_an_engine_is_kept_with_the_trick() -> None:
    board = after("d4 d5 Nc3 Nf6 Bf4 c5 e3 Qb6 a3")
    asked = []

    def judge(trick: Trick) -> bool:
        asked.append(trick.answer)
        return trick.board.is_legal(trick.taking)

    (trick,) = standing_tricks(board, judge)
    assert trick.confirmed is True
    assert asked == [chess.Move.from_uci("c3a4")]
    (bare,) = standing_tricks(board)
    assert bare.confirmed is None
    assert confirmed(bare, lambda _trick: False).confirmed is False
    assert confirmed(bare, lambda _trick: None).confirmed is None


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
