"""Identity of a position (FIDE Laws of Chess 2023, article 9.2) and its packed form."""

from __future__ import annotations

import random

import chess
import chess.polyglot
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.position import (
    legal_ep_square,
    pack_position,
    position_epd,
    position_key,
    signed_key,
    unpack_position,
    unsigned_key,
)


def _boards(seed: int, plies: int) -> list[chess.Board]:
    rng = random.Random(seed)
    board = chess.Board()
    boards = [board.copy(stack=False)]
    for _ in range(plies):
        moves = list(board.legal_moves)
        if not moves:
            break
        board.push(rng.choice(moves))
        boards.append(board.copy(stack=False))
    return boards


@settings(deadline=None)
@given(seed=st.integers(0, 2**32))
def test_the_packed_form_is_the_position(seed: int) -> None:
    for board in _boards(seed, 80):
        packed = pack_position(board)
        again = unpack_position(packed)
        assert len(packed) == 66
        assert again.is_valid()
        assert position_epd(again) == position_epd(board)
        assert set(again.legal_moves) == set(board.legal_moves)
        assert (pack_position(again), position_key(again)) == (packed, position_key(board))


@pytest.mark.parametrize(
    ("first", "second", "same"),
    [
        # Move counters do not count.
        ("4k3/8/8/8/8/8/8/4K3 w - - 0 1", "4k3/8/8/8/8/8/8/4K3 w - - 7 40", True),
        ("4k3/8/8/8/8/8/8/4K3 w - - 0 1", "4k3/8/8/8/8/8/8/4K3 b - - 0 1", False),
        ("4k3/8/8/8/8/8/8/R3K3 w Q - 0 1", "4k3/8/8/8/8/8/8/R3K3 w - - 0 1", False),
        # No pawn stands beside.
        ("4k3/8/8/8/4P3/8/8/4K3 b - e3 0 1", "4k3/8/8/8/4P3/8/8/4K3 b - - 0 1", True),
        # A pawn stands beside and may take.
        ("4k3/8/8/8/3pP3/8/8/4K3 b - e3 0 1", "4k3/8/8/8/3pP3/8/8/4K3 b - - 0 1", False),
        # A pawn stands beside, but it is pinned along the file.
        ("3k4/8/8/8/3pP3/8/8/3RK3 b - e3 0 1", "3k4/8/8/8/3pP3/8/8/3RK3 b - - 0 1", True),
        # Both pawns would leave the rank and open it to the rook.
        ("8/8/8/8/k2pP2R/8/8/4K3 b - e3 0 1", "8/8/8/8/k2pP2R/8/8/4K3 b - - 0 1", True),
    ],
)
def test_what_counts(first: str, second: str, same: bool) -> None:
    one, two = chess.Board(first), chess.Board(second)
    assert (position_key(one) == position_key(two)) is same
    assert (pack_position(one) == pack_position(two)) is same
    assert (position_epd(one) == position_epd(two)) is same


def test_only_a_legal_capture_makes_an_en_passant_square() -> None:
    assert legal_ep_square(chess.Board("4k3/8/8/8/4P3/8/8/4K3 b - e3 0 1")) is None
    assert legal_ep_square(chess.Board("4k3/8/8/8/3pP3/8/8/4K3 b - e3 0 1")) == chess.E3


@given(key=st.integers(0, 2**64 - 1))
def test_signed_keys(key: int) -> None:
    assert -(2**63) <= signed_key(key) < 2**63
    assert unsigned_key(signed_key(key)) == key
