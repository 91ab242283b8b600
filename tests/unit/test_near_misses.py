"""Near misses, held to a comparison of all pairs with python-chess."""

from __future__ import annotations

import random
from itertools import combinations
from pathlib import Path

import chess
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.memory_graphs import add_lines, node_after, random_repertoire, repertoire_of
from trainer.repertoire.graph import Node, Repertoire
from trainer.repertoire.near_misses import Difference, NearMiss, find_near_misses
from trainer.repertoire.order_graph import OrderGraph
from trainer.repertoire.reader import read_repertoire
from trainer.repertoire.signatures import SearchCancelledError

DEMO = Path(__file__).resolve().parents[2] / "repertoires" / "kings-indian-attack.pgn"
CASTLING = "r3k2r/1p4p1/8/8/8/8/1P4P1/R3K2R w KQkq - 0 1"


def one_move_more(board: chess.Board, other: chess.Board, color: chess.Color) -> chess.Move | None:
    """A quiet move of `color` that leads from one placement to the other, if there is one."""
    trial = board.copy(stack=False)
    trial.turn = color
    trial.ep_square = None
    for move in list(trial.pseudo_legal_moves):
        if trial.is_capture(move) or move.promotion:
            continue
        trial.push(move)
        same = trial.piece_map() == other.piece_map()
        trial.pop()
        if same:
            return move
    return None


def difference(first: Node, second: Node) -> Difference | None:
    """As the module defines it, found by making moves and comparing where the men stand."""
    boards = first.board(), second.board()
    here, there = (set(board.piece_map().items()) for board in boards)
    left, come = here - there, there - here
    if not left and not come:
        return Difference.RIGHTS
    start = chess.Board()
    for color in chess.COLORS:
        for board, other in (boards, boards[::-1]):
            rights = board.castling_rights
            # Whether castling is still allowed is no part of what is compared.
            board.castling_rights = chess.BB_CORNERS
            move = one_move_more(board, other, color)
            board.castling_rights = rights
            if move is None:
                continue
            piece = board.piece_at(move.from_square)
            assert piece is not None
            if piece.piece_type == chess.PAWN:
                one_step = abs(move.from_square - move.to_square) == 8
                return Difference.PAWN_STEP if one_step else Difference.TEMPO
            if start.piece_at(move.from_square) == piece:
                return Difference.TEMPO
    if len(left) == len(come) == 1:
        ((square, piece),), ((other_square, other_piece),) = left, come
        if piece == other_piece:
            step = piece.piece_type == chess.PAWN and abs(square - other_square) == 8
            return Difference.PAWN_STEP if step else Difference.PIECE
    return None


def by_force(repertoire: Repertoire) -> dict[tuple[bytes, bytes], Difference]:
    found = {}
    for first, second in combinations(repertoire.decisions(), 2):
        kind = difference(first, second)
        if kind is not None:
            found[first.packed, second.packed] = kind
    return found


def plain(found: list[NearMiss]) -> dict[tuple[bytes, bytes], Difference]:
    pairs = {(pair.first.packed, pair.second.packed): pair.difference for pair in found}
    assert len(pairs) == len(found)
    return pairs


def shuffles(seed: int) -> Repertoire:
    """Lines of few moves from a position where both may castle, for a random side."""
    rng = random.Random(seed)
    lines = []
    for _ in range(8):
        board = chess.Board(CASTLING)
        line = []
        for _ in range(5):
            moves = [
                move
                for move in board.legal_moves
                if not board.is_capture(move) and (board.is_castling(move) or rng.random() < 0.2)
            ] or list(board.legal_moves)
            move = rng.choice(moves)
            if len(line) > 1 and rng.random() < 0.4:
                # Back again: the men stand as before, but a king or rook has moved.
                mine = board.move_stack[-2]
                back = chess.Move(mine.to_square, mine.from_square)
                move = back if board.is_legal(back) else move
            line.append(board.san(move))
            board.push(move)
        lines.append(" ".join(line))
    repertoire = Repertoire(rng.choice(chess.COLORS))
    add_lines(repertoire, lines, CASTLING)
    return repertoire


@settings(max_examples=25)
@given(st.integers(0, 2**32))
def test_near_misses_where_kings_castle_equal_all_pairs(seed: int) -> None:
    repertoire = shuffles(seed)
    assert plain(find_near_misses(OrderGraph(repertoire))) == by_force(repertoire)


@settings(max_examples=10)
@given(st.integers(0, 2**32), st.booleans())
def test_near_misses_in_openings_equal_all_pairs(seed: int, side: chess.Color) -> None:
    repertoire = random_repertoire(seed, lines=6, plies=7, side=side)
    assert plain(find_near_misses(OrderGraph(repertoire))) == by_force(repertoire)


def test_the_random_lines_hold_all_kinds() -> None:
    # Else the comparison with all pairs above would say little about them.
    seen: set[tuple[Difference, chess.PieceType | None]] = set()
    for seed in range(120):
        for pair in find_near_misses(OrderGraph(shuffles(seed))):
            castled = pair.piece == chess.KING and abs(
                (pair.first_square or 0) - (pair.second_square or 0)
            )
            seen.add((pair.difference, chess.KING if castled == 2 else None))
    assert {kind for kind, _ in seen} == set(Difference)
    assert (Difference.TEMPO, chess.KING) in seen


def test_a_part_of_the_demo_equals_all_pairs() -> None:
    repertoire = read_repertoire(DEMO).repertoire
    found = plain(find_near_misses(OrderGraph(repertoire)))
    assert len(found) > 20
    some = set(random.Random(2).sample([node.packed for node in repertoire.decisions()], 20))
    some |= {packed for pair in list(found)[:6] for packed in pair}
    nodes = [node for node in repertoire.decisions() if node.packed in some]
    for first, second in combinations(nodes, 2):
        assert found.get((first.packed, second.packed)) == difference(first, second)


def pair_of(repertoire: Repertoire, first: str, second: str) -> NearMiss:
    nodes = {node_after(repertoire, first), node_after(repertoire, second)}
    (pair,) = (
        pair
        for pair in find_near_misses(OrderGraph(repertoire))
        if {pair.first, pair.second} == nodes
    )
    return pair


def test_one_pawn_step() -> None:
    repertoire = repertoire_of(["d4 d6 c4 e5 d5", "d4 d5 c4 e5 dxe5"])
    pair = pair_of(repertoire, "d4 d6 c4 e5", "d4 d5 c4 e5")
    assert pair.difference is Difference.PAWN_STEP
    assert (pair.color, pair.piece) == (chess.BLACK, chess.PAWN)
    assert (pair.first_square, pair.second_square) == (chess.D6, chess.D5)
    assert not pair.same_move
    assert pair.weight == pytest.approx(0.5)


def test_one_tempo() -> None:
    # Black has lost a move with his queen's pawn, and White has developed in the meantime.
    repertoire = repertoire_of(["e4 d6 Nf3 d5 exd5", "e4 d5 exd5"])
    pair = pair_of(repertoire, "e4 d6 Nf3 d5", "e4 d5")
    assert pair.difference is Difference.TEMPO
    assert (pair.color, pair.piece) == (chess.WHITE, chess.KNIGHT)
    assert pair.same_move


def test_one_piece_elsewhere() -> None:
    repertoire = repertoire_of(["d4 d5 Nf3 Nf6 c4 Nc6 e3", "d4 d5 Nf3 Nf6 c4 Nbd7 Nc3"])
    pair = pair_of(repertoire, "d4 d5 Nf3 Nf6 c4 Nc6", "d4 d5 Nf3 Nf6 c4 Nbd7")
    assert pair.difference is Difference.PIECE
    assert (pair.first_square, pair.second_square) == (chess.C6, chess.D7)


def test_only_rights_differ() -> None:
    # The pawn on d5 can be taken in passing by one order only.
    repertoire = repertoire_of(["e4 a6 e5 d5 exd6", "e4 d5 e5 a6 d4"])
    pair = pair_of(repertoire, "e4 a6 e5 d5", "e4 d5 e5 a6")
    assert pair.difference is Difference.RIGHTS
    assert (pair.color, pair.piece, pair.first_square, pair.second_square) == (None,) * 4


def test_different_moves_come_first_then_what_is_reached_most() -> None:
    found = find_near_misses(OrderGraph(read_repertoire(DEMO).repertoire))
    ranks = [(pair.same_move, -pair.weight) for pair in found]
    assert ranks == sorted(ranks)
    for pair in found:
        assert pair.same_move == (pair.first.edges[0].move == pair.second.edges[0].move)


def test_progress_cancelling_and_nothing_to_do() -> None:
    graph = OrderGraph(read_repertoire(DEMO).repertoire)
    shares: list[float] = []
    find_near_misses(graph, progress=shares.append)
    assert shares[-1] == 1.0
    with pytest.raises(SearchCancelledError, match="cancelled"):
        find_near_misses(graph, cancelled=lambda: True)
    assert find_near_misses(OrderGraph(Repertoire())) == []
