"""The exchange count against a plain search of all captures on the square."""

from __future__ import annotations

import random

import chess
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.exchange import PIECE_VALUES, exchange_gain, loss_on


def random_board(seed: int, plies: int) -> chess.Board:
    rng = random.Random(seed)
    board = chess.Board()
    for _ in range(plies):
        moves = list(board.legal_moves)
        if not moves:
            break
        board.push(rng.choice(moves))
    return board


def searched(board: chess.Board, square: int) -> int:
    """The best of taking on `square` or not, over every order of legal captures there."""
    best = 0
    victim = board.piece_type_at(square) or 0
    for move in board.legal_moves:
        if move.to_square == square and not move.promotion:
            board.push(move)
            best = max(best, PIECE_VALUES[victim] - searched(board, square))
            board.pop()
    return best


@pytest.mark.parametrize(
    ("fen", "uci", "gain"),
    [
        ("4k3/8/8/3p4/4P3/8/8/4K3 w - - 0 1", "e4d5", 1),
        ("4k3/8/4p3/3p4/4P3/8/8/4K3 w - - 0 1", "e4d5", 0),
        ("4k3/8/4p3/3p4/8/8/3R4/4K3 w - - 0 1", "d2d5", -4),
        ("4k3/8/8/3pP3/8/8/8/4K3 w - d6 0 1", "e5d6", 1),
        ("3n2k1/4P3/8/8/8/8/8/4K3 w - - 0 1", "e7d8q", 11),
        # The knight on d7 is pinned and may not take on e5.
        ("4k3/3n4/8/1B2p3/3N4/5N2/8/4K3 w - - 0 1", "f3e5", 1),
        ("4k3/3n4/8/4p3/3N4/5N2/8/4K3 w - - 0 1", "f3e5", -2),
        # A king may not take what is guarded.
        ("8/8/3k4/4p3/8/5N2/1B6/4K3 w - - 0 1", "f3e5", 1),
    ],
)
def test_known_exchanges(fen: str, uci: str, gain: int) -> None:
    assert exchange_gain(chess.Board(fen), chess.Move.from_uci(uci)) == gain


def test_what_stands_en_prise() -> None:
    board = chess.Board("4k3/8/8/3n4/4P3/8/8/4K3 w - - 0 1")
    assert loss_on(board, chess.D5) == 3
    assert loss_on(board, chess.E4) == 0
    assert loss_on(board, chess.A1) == 0


@settings(deadline=None, max_examples=150)
@given(seed=st.integers(0, 10**6), plies=st.integers(4, 70))
def test_never_more_than_a_free_capture_and_never_less_than_a_recapture(
    seed: int, plies: int
) -> None:
    board = random_board(seed, plies)
    for move in list(board.generate_legal_captures()):
        if board.is_en_passant(move) or move.promotion:
            continue
        victim = PIECE_VALUES[board.piece_type_at(move.to_square) or 0]
        mover = PIECE_VALUES[board.piece_type_at(move.from_square) or 0]
        gain = exchange_gain(board, move)
        assert victim - mover <= gain <= victim


@settings(deadline=None, max_examples=150)
@given(seed=st.integers(0, 10**6), plies=st.integers(4, 50))
def test_equals_the_search_where_nothing_else_interferes(seed: int, plies: int) -> None:
    """With one or two pieces on the square's lines the order of taking cannot matter."""
    board = random_board(seed, plies)
    for move in list(board.generate_legal_captures()):
        square = move.to_square
        if board.is_en_passant(move) or move.promotion or chess.square_rank(square) in (0, 7):
            continue
        takers = board.attackers_mask(chess.WHITE, square)
        takers |= board.attackers_mask(chess.BLACK, square)
        if chess.popcount(takers) > 3:
            continue
        after = board.copy(stack=False)
        after.push(move)
        if after.is_check():
            continue  # a check may have to be met elsewhere, or by taking with the wrong piece
        victim = PIECE_VALUES[board.piece_type_at(square) or 0]
        best = victim - searched(after, square)
        # Several recaptures may differ; the count takes the least valuable, as does best play
        # with so few pieces.
        assert exchange_gain(board, move) == best
