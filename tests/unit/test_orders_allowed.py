"""Which moves are told that only one order allows."""

from __future__ import annotations

import random

import chess
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.memory_graphs import node_after, repertoire_of
from trainer.exchange import exchange_gain
from trainer.position import position_key
from trainer.repertoire.crossings import Allowed, orders_of_crossing
from trainer.repertoire.openings import OpeningBook
from trainer.repertoire.order_graph import OrderGraph
from trainer.repertoire.orders_allowed import Worth, forces, worth_telling
from trainer.repertoire.shortcuts import find_shortcuts

#: The system of 4 Bf4 through two doors.
DOORS = ["d4 Nf6 Nf3 g6 Nc3 d5 Bf4", "d4 Nf6 Nc3 d5 Bf4 g6 Nf3"]


@pytest.fixture(scope="module")
def book() -> OpeningBook:
    return OpeningBook.load()


def allowed_of(lines: list[str], end: str) -> tuple[OrderGraph, dict[str, Allowed]]:
    repertoire = repertoire_of(lines)
    graph = OrderGraph(repertoire)
    found = orders_of_crossing(graph, node_after(repertoire, end))
    return graph, {" ".join(one.order.sans): one for one in found.allowed}


def test_what_the_table_names_comes_first(book: OpeningBook) -> None:
    """ECO: 1 d4 Nf6 2 Nf3 c5 is a Benoni (A46), 2…e6 as well named (A46); from memory."""
    graph, allowed = allowed_of(DOORS, DOORS[0])
    by_knight = allowed["Nf3 g6 Nc3 d5 Bf4"]
    told = worth_telling(graph, by_knight, book)
    worths = [telling.worth for telling in told.moves]
    assert worths == sorted(worths)
    assert told.left_out + len(told.moves) == len(by_knight.legal)
    assert told.left_out > 0
    for telling in told.moves:
        after = telling.node.board()
        after.push(telling.move)
        if telling.worth is Worth.NAMED:
            assert telling.opening == book.name_of(after)
        elif telling.worth is Worth.FORCING:
            assert not book.plays(after)


def test_the_repertoire_knows_it(book: OpeningBook) -> None:
    # Only by 2 Nf3 g6 3 Nc3 can Black play 3…Bg7: known at once in the first repertoire, after
    # the player's 4 e4 in the second.
    def worth(line: str, *, by_shortcut: bool) -> Worth | None:
        graph, allowed = allowed_of([*DOORS, line], DOORS[0])
        by_knight = allowed["Nf3 g6 Nc3 d5 Bf4"]
        shortcuts = {(one.node, one.move): one for one in find_shortcuts(graph)}
        told = worth_telling(graph, by_knight, book, shortcuts if by_shortcut else None)
        moves = {telling.move.uci(): telling.worth for telling in told.moves}
        return moves.get("f8g7")

    assert worth("d4 g6 Nc3 Bg7 Nf3 Nf6", by_shortcut=False) is Worth.KNOWN
    assert worth("d4 g6 Nf3 Bg7 e4 Nf6 Nc3", by_shortcut=True) is Worth.KNOWN
    assert worth("d4 g6 Nf3 Bg7 e4 Nf6 Nc3", by_shortcut=False) is not Worth.KNOWN


@pytest.mark.parametrize(
    ("fen", "uci", "is_forcing"),
    [
        (chess.STARTING_FEN, "g1f3", False),
        (chess.STARTING_FEN, "e2e4", False),
        # A break: the pawn challenges one of the other side's.
        ("rnbqkbnr/ppp1pppp/8/3p4/3P4/8/PPP1PPPP/RNBQKBNR w KQkq - 0 1", "c2c4", True),
        ("rnbqkbnr/ppp1pppp/8/3p4/3P4/8/PPP1PPPP/RNBQKBNR w KQkq - 0 1", "e2e3", False),
        ("rnbqkbnr/ppp1pppp/8/3p4/3P4/8/PPP1PPPP/RNBQKBNR w KQkq - 0 1", "c1f4", False),
        # Castling, a check, a capture en passant, a promotion.
        ("4k3/8/8/8/8/8/8/4K2R w K - 0 1", "e1g1", True),
        ("4k3/8/8/8/8/8/8/4K2R w K - 0 1", "h1h8", True),
        ("4k3/8/8/8/8/8/8/4K2R w K - 0 1", "h1h7", False),
        ("4k3/8/8/3pP3/8/8/8/4K3 w - d6 0 1", "e5d6", True),
        ("8/P6k/8/8/8/8/8/4K3 w - - 0 1", "a7a8q", True),
    ],
)
def test_moves_that_force_matters(fen: str, uci: str, is_forcing: bool) -> None:
    assert forces(chess.Board(fen), chess.Move.from_uci(uci)) is is_forcing


@given(st.integers(0, 2**32))
def test_every_move_is_told_or_counted(seed: int) -> None:
    """On random lines against the definition, move by move."""
    rng = random.Random(seed)
    book = OpeningBook({})
    board = chess.Board()
    for _ in range(rng.randint(0, 14)):
        board.push(rng.choice(list(board.legal_moves)))
        if board.is_game_over():
            return
    repertoire = repertoire_of([])
    node = repertoire.add_position(board)
    legal = list(board.legal_moves)
    for move in rng.sample(legal, min(3, len(legal))):
        after = board.copy(stack=False)
        after.push(move)
        repertoire.add_position(after)
    graph = OrderGraph(repertoire)
    (order,) = graph.orders(repertoire.roots[0])
    allowed = Allowed(order, (), tuple((node, move) for move in legal))
    told = worth_telling(graph, allowed, book)
    named = {telling.move: telling.worth for telling in told.moves}
    assert len(named) + told.left_out == len(legal)
    for move in legal:
        after = board.copy(stack=False)
        after.push(move)
        if position_key(after) in repertoire.nodes:
            assert named[move] is Worth.KNOWN
        elif forces(board, move) and exchange_gain(board, move) >= 0:
            assert named[move] is Worth.FORCING
        else:
            assert move not in named


def test_a_move_back_is_not_worth_telling() -> None:
    # After 1 Nf3 Nf6 2 g3 Black can go back to 1…Ng8, which 1 g3 then 2 Nf3 would have as well.
    repertoire = repertoire_of(["Nf3 Nf6 g3 d5", "g3 d5 Nf3 Nf6", "Nf3 d5 g3"])
    graph = OrderGraph(repertoire)
    found = orders_of_crossing(graph, node_after(repertoire, "Nf3 Nf6 g3 d5"))
    book = OpeningBook({})
    for allowed in found.allowed:
        for telling in worth_telling(graph, allowed, book).moves:
            after = telling.node.board()
            after.push(telling.move)
            target = repertoire.node_at(after)
            if telling.worth is Worth.KNOWN:
                assert target is not None
                assert (graph.depth(target) or 0) > (graph.depth(telling.node) or 0)
