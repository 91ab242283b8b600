from __future__ import annotations

import random

import chess
import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.notation.display import numbered, sentence_list, shorten_order, shown_san, shown_text
from trainer.notation.typed import TypedMoveError, parse_typed


@pytest.mark.parametrize(
    ("text", "uci"),
    [
        ("Nf3", "g1f3"),
        ("nf3", "g1f3"),
        (" Nf3+ ", "g1f3"),
        ("♘f3!", "g1f3"),
        ("g1f3", "g1f3"),
        ("g1-f3", "g1f3"),
        ("e4", "e2e4"),
        ("b3", "b2b3"),
    ],
)
def test_spellings_from_the_starting_position(text: str, uci: str) -> None:
    assert parse_typed(chess.Board(), text) == chess.Move.from_uci(uci)


@pytest.mark.parametrize("text", ["O-O", "o-o", "0-0", "OO", "oo", "e1g1"])
def test_castling_in_any_spelling(text: str) -> None:
    board = chess.Board("r3k2r/8/8/8/8/8/8/R3K2R w KQkq - 0 1")
    assert parse_typed(board, text) == chess.Move.from_uci("e1g1")


def test_small_b_means_the_pawn_where_both_can_go() -> None:
    board = chess.Board("4k3/8/8/8/8/2p5/1P1B4/4K3 w - - 0 1")
    assert parse_typed(board, "bxc3") == chess.Move.from_uci("b2c3")
    assert parse_typed(board, "Bxc3") == chess.Move.from_uci("d2c3")


def test_small_b_is_the_bishop_where_no_pawn_can_go() -> None:
    board = chess.Board("4k3/8/8/8/8/8/3B4/4K3 w - - 0 1")
    assert parse_typed(board, "bc3") == chess.Move.from_uci("d2c3")


@pytest.mark.parametrize("text", ["a8=Q", "a8Q", "a8(Q)", "a7a8q", "a7-a8=Q"])
def test_promotions(text: str) -> None:
    board = chess.Board("7k/P7/8/8/8/8/8/K7 w - - 0 1")
    assert parse_typed(board, text) == chess.Move.from_uci("a7a8q")


@pytest.mark.parametrize("text", ["", "  ", "Nd2", "xyzzy", "--", "Z0", "e9", "0000", "a8"])
def test_what_is_no_move_is_told_in_a_sentence(text: str) -> None:
    with pytest.raises(TypedMoveError, match=r"\.$"):
        parse_typed(chess.Board(), text)


def test_ambiguity_is_told() -> None:
    board = chess.Board("4k3/8/8/8/8/8/4K3/N3N3 w - - 0 1")
    with pytest.raises(TypedMoveError, match="more than one"):
        parse_typed(board, "Nc2")


@given(seed=st.integers(0, 2**32), plies=st.integers(0, 60))
def test_every_legal_move_is_read_back_from_its_spellings(seed: int, plies: int) -> None:
    rng = random.Random(seed)
    board = chess.Board()
    for _ in range(plies):
        moves = list(board.legal_moves)
        if not moves:
            break
        board.push(rng.choice(moves))
    for move in board.legal_moves:
        san = board.san(move)
        assert parse_typed(board, san) == move
        assert parse_typed(board, shown_san(san, "figurines")) == move
        assert parse_typed(board, move.uci()) == move


def test_numbers_as_books_print_them() -> None:
    assert numbered(["Nf3", "d5", "g3"]) == "1 Nf3 d5 2 g3"
    assert numbered(["d5", "g3"], turn=chess.BLACK) == "1…d5 2 g3"
    assert numbered(["Nf3"], notation="figurines") == "1 ♘f3"
    assert numbered([]) == ""


def test_long_orders_are_cut_in_front() -> None:
    assert shorten_order("1 Nf3 d5 2 g3 c6", 100) == "1 Nf3 d5 2 g3 c6"
    assert shorten_order("1 Nf3 d5 2 g3 c6", 12) == "… 2 g3 c6"


def test_lists_in_sentences() -> None:
    assert sentence_list([]) == ""
    assert sentence_list(["a"]) == "a"
    assert sentence_list(["a", "b", "c"]) == "a, b and c"


def test_moves_in_running_text_change_and_words_do_not() -> None:
    text = "Not Nbd2: Black plays R1xe4 or exd8=Q+, Kings and Bb5 stay apart; Na4."
    assert shown_text(text, "figurines") == (
        "Not ♘bd2: Black plays ♖1xe4 or exd8=♕+, Kings and ♗b5 stay apart; ♘a4."
    )
    assert shown_text(text) == text
