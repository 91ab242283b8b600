"""Identity of a position, held to published counts and to other definitions of the same thing."""

from __future__ import annotations

import random
from collections import Counter

import chess
import chess.polyglot
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.notation.fastboard import FastBoard
from trainer.position import pack_position, position_epd, position_key

# OEIS A083276: distinct positions after n plies, en passant only where the capture is legal.
DISTINCT_POSITIONS = [1, 20, 400, 5362, 72078]
# OEIS A019319: distinct diagrams (no castling or en-passant state) after 4 plies.
DISTINCT_DIAGRAMS_4 = 71852
# OEIS A048987: games of n plies.
GAMES = [1, 20, 400, 8902, 197281]


def test_counts_of_positions_and_games_on_the_fast_board() -> None:
    """One pass for both sequences; moves are python-chess's, made and read back by ours."""
    start = FastBoard.from_board(chess.Board())
    level: dict[int, tuple[bytes, int]] = {start.key: (start.pack(), 1)}
    for ply in range(1, 5):
        games: Counter[int] = Counter()
        packed_by_key: dict[int, bytes] = {}
        for key, (packed, count) in level.items():
            fast = FastBoard(packed, key)
            board = fast.board()
            for move in board.legal_moves:
                if ply < 4:
                    assert fast.resolve(board.san(move)) == move
                after = FastBoard(packed, key)
                after.push(move)
                games[after.key] += count
                assert packed_by_key.setdefault(after.key, after.pack()) == after.pack()
        level = {key: (packed, games[key]) for key, packed in packed_by_key.items()}
        assert len(level) == DISTINCT_POSITIONS[ply]
        assert len(set(packed_by_key.values())) == DISTINCT_POSITIONS[ply]
        assert games.total() == GAMES[ply]
    # The same pieces on the same squares alone are another, smaller number.
    assert len({packed[:56] for packed, _ in level.values()}) == DISTINCT_DIAGRAMS_4


def test_counts_of_positions_with_the_key_of_a_board() -> None:
    level = {position_key(chess.Board()): chess.Board()}
    for ply in range(1, 4):
        following: dict[int, chess.Board] = {}
        for board in level.values():
            for move in board.legal_moves:
                board.push(move)
                following.setdefault(position_key(board), board.copy(stack=False))
                board.pop()
        level = following
        assert len(level) == DISTINCT_POSITIONS[ply]


@settings(deadline=None)
@given(seed=st.integers(0, 2**32))
def test_keys_are_equal_exactly_where_epds_are(seed: int) -> None:
    """EPD with the en-passant square of a legal capture only: article 9.2 in text."""
    rng = random.Random(seed)
    epds: dict[int, str] = {}
    keys: dict[str, int] = {}
    for _ in range(6):
        board = chess.Board()
        for _ in range(60):
            moves = list(board.legal_moves)
            if not moves:
                break
            # Knights to and fro bring positions back; pawns make en-passant squares.
            quiet = [m for m in moves if board.piece_type_at(m.from_square) == chess.KNIGHT]
            board.push(rng.choice(quiet if quiet and rng.random() < 0.5 else moves))
            key, epd = position_key(board), position_epd(board)
            assert epds.setdefault(key, epd) == epd
            assert keys.setdefault(epd, key) == key


def test_published_keys_where_no_pawn_stands_beside() -> None:
    """The published test keys of the random numbers, as python-chess's test suite lists them."""
    board = chess.Board()
    assert position_key(board) == 0x463B96181691FC9C
    board.push_san("e4")
    assert position_key(board) == 0x823C9B50FD114196
    board.push_san("d5")
    assert position_key(board) == 0x0756B94461C50FB0
    # Here the published key counts an en-passant square whenever a pawn stands beside. Ours
    # does so where the capture is legal, and it is.
    for san in ("e5", "f5"):
        board.push_san(san)
    assert position_key(board) == chess.polyglot.zobrist_hash(board)
    # The capture would uncover the king: the published key differs, ours does not.
    pinned = chess.Board("8/8/8/8/k2pP2R/8/8/4K3 b - e3 0 1")
    plain = chess.Board("8/8/8/8/k2pP2R/8/8/4K3 b - - 0 1")
    assert chess.polyglot.zobrist_hash(pinned) != chess.polyglot.zobrist_hash(plain)
    assert position_key(pinned) == position_key(plain)
    assert pack_position(pinned) == pack_position(plain)
