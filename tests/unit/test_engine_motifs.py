"""Motifs as pure functions of positions.

The positions are composed for these tests; what they show are facts of the trade (common
practice, no source) unless a source stands beside them.
"""

from __future__ import annotations

import random

import chess
import pytest

from trainer.engine.exchange import settled, threatened
from trainer.engine.motifs import (
    Discovery,
    discovered_attacks,
    double_attack,
    is_back_rank_mate,
    is_back_rank_weak,
    is_trapped,
    pins,
    promotions,
    undefended,
    unguarded_by,
)
from trainer.exchange import best_capture
from trainer.exchange import legal_exchange as exchange

#: The queen took on b2 and Na4 was the answer: b6, c3 and b2 itself are the knight's, a3 the
#: rook's behind the pawn, the rest belongs to queen, bishop and pawns.
TRAPPED_QUEEN = "r1b1kb1r/pp1ppppp/2n2n2/8/N2P1B2/P1P1PN2/1q3PPP/R2QKB1R b KQkq - 0 1"
#: The pawn on h6 takes g7 from the king.
BACK_RANK = "3R2k1/5p1p/6pP/8/8/8/6PP/6K1 b - - 0 1"


def squares(*names: str) -> list[chess.Square]:
    return [chess.parse_square(name) for name in names]


def random_boards(count: int) -> list[chess.Board]:
    rng = random.Random(5)
    boards = []
    while len(boards) < count:
        board = chess.Board()
        for _ in range(rng.randrange(8, 90)):
            moves = list(board.legal_moves)
            if not moves:
                break
            board.push(rng.choice(moves))
        boards.append(board)
    return boards


def sparse_boards(count: int) -> list[chess.Board]:
    """Kings and line pieces on any squares, where much is uncovered."""
    rng = random.Random(7)
    boards: list[chess.Board] = []
    while len(boards) < count:
        board = chess.Board(None)
        for letter, square in zip("KkRBQNrbqn", rng.sample(range(64), 10), strict=True):
            board.set_piece_at(square, chess.Piece.from_symbol(letter))
        if board.is_valid():
            boards.append(board)
    return boards


RANDOM_BOARDS = random_boards(150)


@pytest.mark.parametrize(
    ("fen", "san", "gain"),
    [
        # Two well-known examples of static exchange evaluation in the literature on chess
        # programming, from memory: a pawn is won; a pawn is won for a knight.
        ("1k1r4/1pp4p/p7/4p3/8/P5P1/1PP4P/2K1R3 w - - 0 1", "Rxe5", 1),
        ("1k1r3q/1ppn3p/p4b2/4p3/8/P2N2P1/1PP1R1BP/2K1Q3 w - - 0 1", "Nxe5", -2),
        ("4k3/8/8/3pP3/8/8/8/4K3 w - d6 0 1", "exd6", 1),
        ("1r5k/P7/8/8/8/8/8/7K w - - 0 1", "axb8=Q+", 13),
        # The knight that could take back is pinned to its king.
        ("4k3/4n3/2p5/8/8/8/2R1R3/4K3 w - - 0 1", "Rxc6", 1),
    ],
)
def test_exchange(fen: str, san: str, gain: int) -> None:
    board = chess.Board(fen)
    assert exchange(board, board.parse_san(san)) == gain


def test_settled_counts_what_the_side_to_move_can_take() -> None:
    board = chess.Board("4k3/8/8/3p4/4P3/8/8/4K3 w - - 0 1")
    assert best_capture(board) == 1
    assert settled(board, chess.WHITE) == 1
    assert settled(board, chess.BLACK) == -1


def test_nobody_has_to_take() -> None:
    # The queen could take a guarded pawn; the balance stands as it is.
    board = chess.Board("4k3/2p5/3p4/8/8/8/3Q4/4K3 w - - 0 1")
    assert settled(board, chess.WHITE) == 7
    assert settled(board, chess.BLACK) == -7
    assert threatened(board, chess.D6) == 0


def test_a_queen_that_took_the_pawn_on_b2_is_trapped_by_a_knight_on_a4() -> None:
    board = chess.Board(TRAPPED_QUEEN)
    assert is_trapped(board, chess.B2)
    # With the knight still on c3 there are ways out, and nothing attacks it.
    free = chess.Board(TRAPPED_QUEEN)
    free.set_piece_at(chess.D2, free.remove_piece_at(chess.A4))
    assert not is_trapped(free, chess.B2)
    # One square is enough: without the pawn on a3 the queen goes there.
    free = chess.Board(TRAPPED_QUEEN)
    free.remove_piece_at(chess.A3)
    free.set_piece_at(chess.A2, chess.Piece.from_symbol("P"))
    assert not is_trapped(free, chess.B2)


def test_a_bishop_shut_in_by_pawns_is_trapped() -> None:
    # The bishop on b3 behind the chain a6, b5, c4.
    board = chess.Board("4k3/8/p7/1p6/2p5/1B6/PPP5/4K3 w - - 0 1")
    assert is_trapped(board, chess.B3)
    # Could it be sold for two pawns and more, it would not be lost.
    assert not is_trapped(chess.Board("4k3/8/p7/1p6/2p1n3/1B6/PPP5/4K3 w - - 0 1"), chess.C4)
    taken = chess.Board("4k3/8/p7/1p6/2p5/1B1P4/PPP5/4K3 w - - 0 1")
    assert not is_trapped(taken, chess.B3), "the attacking pawn can be taken"


def test_a_trapped_piece_loses_material_by_every_move_of_its_own() -> None:
    seen = 0
    for board in random_boards(700):
        for square in chess.SquareSet(board.occupied_co[board.turn]):
            if not is_trapped(board, square):
                continue
            seen += 1
            for move in board.legal_moves:
                if move.from_square != square:
                    continue
                gained = exchange(board, move) if board.is_capture(move) else None
                after = board.copy()
                after.push(move)
                hit = best_capture_on(after, move.to_square)
                assert hit > 0
                assert gained is None or gained < 0
    assert seen > 5


def best_capture_on(board: chess.Board, square: chess.Square) -> int:
    moves = [move for move in board.legal_moves if move.to_square == square]
    return max((exchange(board, move) for move in moves), default=0)


def test_pins_to_the_king_are_those_of_the_laws() -> None:
    # FIDE Laws 3.9.2: no piece may be moved that would expose its king to check; python-chess
    # tells which.
    seen = 0
    for board in RANDOM_BOARDS:
        for color in chess.COLORS:
            king = board.king(color)
            mine = {pin.square for pin in pins(board, color) if pin.behind == king}
            others = chess.SquareSet(board.occupied_co[color] & ~board.kings)
            theirs = {square for square in others if board.is_pinned(color, square)}
            assert mine == theirs
            seen += len(mine)
    assert seen > 20


def test_a_pin_to_the_queen() -> None:
    board = chess.Board("3qk3/8/5n2/6B1/8/8/8/4K3 b - - 0 1")
    (pin,) = pins(board, chess.BLACK)
    assert (pin.square, pin.by, pin.behind) == tuple(squares("f6", "g5", "d8"))
    # A knight before a rook is no pin for a queen, which costs more than both.
    assert pins(chess.Board("3rk3/8/5n2/6Q1/8/8/8/4K3 b - - 0 1"), chess.BLACK) == []


def test_a_double_attack() -> None:
    board = chess.Board("r3k3/2N5/8/8/8/8/8/4K3 b - - 0 1")
    assert double_attack(board, chess.C7) == squares("e8", "a8")
    # Not where the knight is taken.
    taken = chess.Board("r2qk3/2N5/8/8/8/8/8/4K3 b - - 0 1")
    assert double_attack(taken, chess.C7) == []
    # Not where one target is defended and worth no more than the attacker,
    one = chess.Board("r3k3/8/8/3N4/8/2n3b1/8/4K2R b - - 0 1")
    assert double_attack(one, chess.D5) == []
    # and a check does not change that: the king steps aside, and the bishop takes back.
    check = chess.Board("4k3/8/8/1Q6/r7/8/2b5/6K1 b - - 0 1")
    assert double_attack(check, chess.B5) == []
    # A pawn that can be taken attacks nobody for long.
    pawn = chess.Board("3rk3/8/8/2r1n3/3P4/8/8/4K3 b - - 0 1")
    assert double_attack(pawn, chess.D4) == []
    pawn = chess.Board("4k3/8/8/2r1n3/3P4/4B3/8/4K3 b - - 0 1")
    assert sorted(double_attack(pawn, chess.D4)) == squares("c5", "e5")


def board_after(moves: str) -> chess.Board:
    board = chess.Board()
    for san in moves.split():
        board.push_san(san)
    return board


def discovered(board: chess.Board, san: str) -> list[tuple[str, str]]:
    return [
        (chess.square_name(found.by), chess.square_name(found.target))
        for found in discovered_attacks(board, board.parse_san(san))
    ]


def test_a_discovered_check_wins_the_queen() -> None:
    # The trap in the Petroff Defence that manuals of tactics begin discovered checks with (so
    # "Predator at the Chessboard", volume 1, chapter 3.3): 4 ... Nf6 5 Nc6+.
    board = board_after("e4 e5 Nf3 Nf6 Nxe5 Nxe4 Qe2 Nf6")
    assert discovered(board, "Nc6+") == [("e2", "e8")]
    # Stepping along the line uncovers nothing, and the man that moves is not its own discovery.
    assert discovered(board, "Qd1") == []
    assert discovered(board_after("e4 e5 Nf3 Nf6"), "Nxe5") == []


def test_a_discovered_attack_wins_the_queen() -> None:
    # The trap in the Advance Variation of the French that every player of it is shown (common
    # practice, no source): the pawn on d4 must not be taken with bishop and queen on one file.
    moves = "e4 e6 d4 d5 e5 c5 c3 Nc6 Nf3 Qb6 Bd3 cxd4 cxd4 Nxd4 Nxd4 Qxd4"
    assert discovered(board_after(moves), "Bb5+") == [("d1", "d4")]
    # Guarded by something cheaper, a rook is not to be won by a queen.
    guarded = chess.Board("4k3/8/2p5/3r4/8/3B4/8/3QK3 w - - 0 1")
    assert discovered(guarded, "Bg6+") == []
    assert discovered(chess.Board("4k3/8/8/3r4/8/3B4/8/3QK3 w - - 0 1"), "Bg6+") == [("d1", "d5")]


def test_discovered_checks_are_those_of_the_rules() -> None:
    # python-chess names the pieces that give check; those that did not move were uncovered.
    seen = 0
    for board in (*RANDOM_BOARDS[:30], *sparse_boards(60)):
        for move in board.legal_moves:
            if board.is_castling(move) or board.is_en_passant(move):
                continue
            after = board.copy()
            after.push(move)
            king = after.king(after.turn)
            assert king is not None
            found = {one.by for one in discovered_attacks(board, move) if one.target == king}
            assert found == {by for by in after.checkers() if by != move.to_square}
            seen += len(found)
    assert seen > 20


def test_what_is_uncovered_was_hidden_before() -> None:
    seen = 0
    for board in (*RANDOM_BOARDS[:30], *sparse_boards(60)):
        for move in board.legal_moves:
            for found in discovered_attacks(board, move):
                assert isinstance(found, Discovery)
                assert found.by not in board.attackers(board.turn, found.target)
                after = board.copy()
                after.push(move)
                assert found.by in after.attackers(board.turn, found.target)
                seen += 1
    assert seen > 100


def test_a_guard_that_is_taken() -> None:
    # "The Everything Chess Basics Book", chapter "Removing the defender": 5 Bxc6 and 6 Nxe5.
    board = board_after("e4 e5 Nf3 Nc6 Bb5 Nf6 d3 a6")
    assert unguarded_by(board, board.parse_san("Bxc6")) == squares("e5")
    # Every book on the Spanish: 6 Re1 guards e4 and so threatens 7 Bxc6 and 8 Nxe5.
    board = board_after("e4 e5 Nf3 Nc6 Bb5 a6 Ba4 Nf6 O-O Be7 Re1 O-O")
    assert unguarded_by(board, board.parse_san("Bxc6")) == squares("e5")
    # With a second guard nothing is won,
    board = board_after("e4 e5 Nf3 Nc6 Bb5 d6")
    assert unguarded_by(board, board.parse_san("Bxc6+")) == []
    # nor where nobody was at the pawn,
    board = board_after("e4 e5 Nc3 Nc6 Bb5 a6")
    assert unguarded_by(board, board.parse_san("Bxc6")) == []
    # nor where only the man that takes the guard attacked both,
    board = chess.Board("4k3/8/8/3n4/4b3/8/8/4K2B w - - 0 1")
    assert unguarded_by(board, board.parse_san("Bxe4")) == []
    # and who takes nothing takes no guard.
    assert unguarded_by(chess.Board(), chess.Move.from_uci("e2e4")) == []


def test_what_has_lost_its_guard_did_not_pay_before_and_pays_afterwards() -> None:
    seen = 0
    for board in random_boards(300):
        for move in list(board.generate_legal_captures()):
            for target in unguarded_by(board, move):
                seen += 1
                assert move.to_square in board.attackers(not board.turn, target)
                takers = board.attackers(board.turn, target) - chess.SquareSet([move.from_square])
                assert takers
                after = board.copy()
                after.push(move)
                assert move.to_square not in after.attackers(not board.turn, target)
                assert board.attackers(board.turn, target) & after.attackers(board.turn, target)
    assert seen > 20


def test_undefended() -> None:
    board = chess.Board("4k3/8/8/3b4/1b6/2N5/3P4/4K3 w - - 0 1")
    assert undefended(board, chess.BLACK) == squares("d5")
    # Defended, though by a queen against a pawn.
    board = chess.Board("3qk3/8/8/3n4/2P5/8/8/4K3 w - - 0 1")
    assert undefended(board, chess.BLACK) == []
    # Guarded without being guarded: the pawn that protects is pinned (FIDE Laws 3.9.2).
    board = chess.Board("4k3/4p3/3n4/8/8/8/4R3/3RK3 w - - 0 1")
    assert undefended(board, chess.BLACK) == squares("d6")


def test_the_back_rank() -> None:
    board = chess.Board(BACK_RANK)
    assert is_back_rank_mate(board)
    assert is_back_rank_weak(board, chess.BLACK)
    assert not is_back_rank_weak(board, chess.WHITE), "black has no rook or queen"
    # With a way out on g7 it is neither mate nor weak.
    out = chess.Board(BACK_RANK)
    out.remove_piece_at(chess.H6)
    assert not out.is_checkmate()
    assert not is_back_rank_weak(out, chess.BLACK)
    # A mate elsewhere is none of the back rank.
    assert not is_back_rank_mate(
        chess.Board("rnb1kbnr/pppp1ppp/8/4p3/6Pq/5P2/PPPPP2P/RNBQKBNR w KQkq - 1 3")
    )


def test_promotions_that_stay() -> None:
    moves = [chess.Move.from_uci(text) for text in ("a7a8q", "b2a1q", "c1c2", "h2h1n", "a1h1")]
    assert promotions(moves) == [0, 1]


def test_nothing_changes_the_board() -> None:
    for board in RANDOM_BOARDS[:40]:
        before = board.copy()
        for color in chess.COLORS:
            undefended(board, color)
            pins(board, color)
            is_back_rank_weak(board, color)
        for square in chess.SquareSet(board.occupied):
            is_trapped(board, square)
            double_attack(board, square)
        for move in list(before.legal_moves)[::4]:
            discovered_attacks(board, move)
            unguarded_by(board, move)
        settled(board, chess.WHITE)
        assert board == before
        assert board.move_stack == before.move_stack
