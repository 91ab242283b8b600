"""Strangers are legal, unknown, plausible, and no transpositions."""

from __future__ import annotations

import random

import chess
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.memory_graphs import node_after, random_repertoire, repertoire_of
from trainer.exchange import legal_exchange as exchange
from trainer.memory.strangers import Strangers, is_blunder


@pytest.mark.parametrize(
    ("fen", "move", "expected"),
    [
        # Chess Programming Wiki, "SEE - The Swap Algorithm", examples 1 and 2 (from memory; the
        # values there are 100 and 100 - 325, here a knight counts three pawns).
        ("1k1r4/1pp4p/p7/4p3/8/P5P1/1PP4P/2K1R3 w - - 0 1", "e1e5", 1.0),
        ("1k1r3q/1ppn3p/p4b2/4p3/8/P2N2P1/1PP1R1BP/2K1Q3 w - - 0 1", "d3e5", -2.0),
        # By hand: a queen takes a guarded pawn; a pawn takes one in passing.
        ("4k3/8/3p4/4p3/8/8/4Q3/4K3 w - - 0 1", "e2e5", -8.0),
        ("4k3/8/8/3pP3/8/8/8/4K3 w - d6 0 1", "e5d6", 1.0),
    ],
)
def test_exchanges(fen: str, move: str, expected: float) -> None:
    assert exchange(chess.Board(fen), chess.Move.from_uci(move)) == expected


@pytest.mark.parametrize(
    ("line", "san", "expected"),
    [
        ("e4 e5 Nf3", "Nc6", False),
        ("e4 e5 Nf3", "Qg5", True),  # Nxg5
        ("e4 e5 Nf3", "Bc5", True),  # Nxe5 wins a pawn
        ("e4 e5 Bc4 Nc6 Qh5", "d6", True),  # Qxf7 mate
        ("e4 d5 exd5", "Qxd5", False),
        ("e4 e5 f4", "exf4", False),
        ("f4 e5 Nf3", "d6", True),  # fxe5 dxe5 Nxe5 wins a pawn
        ("f4 e5 fxe5", "d6", False),  # exd6 Bxd6, and the pawn was lost before
    ],
)
def test_blunders(line: str, san: str, expected: bool) -> None:
    board = chess.Board()
    for word in line.split():
        board.push_san(word)
    move = board.push_san(san)
    assert is_blunder(board, move) == expected


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10**6), side=st.booleans())
def test_strangers_are_legal_unknown_and_lead_nowhere_known(seed: int, side: bool) -> None:
    repertoire = random_repertoire(seed, side=side)
    strangers = Strangers(repertoire)
    rng = random.Random(seed)
    for node in repertoire.nodes.values():
        if node.turn == side or not node.edges:
            continue
        move = strangers.choose(node, rng)
        if move is None:
            continue
        board = node.board()
        assert move in board.legal_moves
        assert node.edge_for(move) is None
        board.push(move)
        assert repertoire.node_at(board) is None
        assert not is_blunder(board, move)
        for answer in list(board.legal_moves):
            board.push(answer)
            assert repertoire.node_at(board) is None
            board.pop()


def test_a_transposition_is_no_stranger() -> None:
    # 1 c4 e6 is not known, but 2 g3 leads to the known 1 g3 e6 2 c4.
    repertoire = repertoire_of(["c4 Nf6 g3 g6 Bg2", "g3 e6 c4"])
    node = node_after(repertoire, "c4")
    moves = {Strangers(repertoire).choose(node, random.Random(seed)) for seed in range(200)}
    assert chess.Move.from_uci("e7e6") not in moves
    assert chess.Move.from_uci("e7e5") in moves
    assert len(moves) > 4


def test_moves_known_elsewhere_in_the_repertoire_come_more_often() -> None:
    lines = ["d4 Nf6 Nf3 b6 g3", "d4 d5 Nf3 b6 e3", "d4 c5 c3 b6 e4", "d4 f5 Nf3 b6 g3"]
    repertoire = repertoire_of([*lines, "d4 e6 Nf3 d5 c4"])
    strangers = Strangers(repertoire)
    node = node_after(repertoire, "d4 e6 Nf3")
    rng = random.Random(0)
    moves = [strangers.choose(node, rng) for _ in range(300)]
    usual = moves.count(chess.Move.from_uci("b7b6"))
    assert usual > 2 * moves.count(chess.Move.from_uci("h7h6"))


def test_no_stranger_where_nothing_plausible_is_left() -> None:
    # Black has one legal move, and it is known.
    fen = "7k/8/5KQ1/8/8/8/8/8 w - - 0 1"
    board = chess.Board(fen)
    board.push_san("Qh5+")
    assert [board.san(move) for move in board.legal_moves] == ["Kg8"]
    repertoire = repertoire_of(["Qh5+ Kg8 Qf7+"], fen=fen)
    board = chess.Board(fen)
    board.push_san("Qh5+")
    node = repertoire.node_at(board)
    assert node is not None
    assert Strangers(repertoire).choose(node, random.Random(1)) is None
