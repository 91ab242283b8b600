"""What a move wins against every reply, by exchange evaluation: two plies, then captures.

No engine: it sees mates in one, and captures that pay on one square. It is enough to tell that a
piece has no safe square or that one piece cannot guard two things; a quiet defence that only
works later is not seen, so that what it finds may be put to an engine.
"""

from __future__ import annotations

import chess

from trainer.exchange import PIECE_VALUES, exchange_gain

#: What stands for mate where pawns are counted.
MATE = 1000


def taken_value(board: chess.Board, move: chess.Move) -> int:
    """Pawns that a move takes off the board, and gains by promoting."""
    if board.is_en_passant(move):
        return PIECE_VALUES[chess.PAWN]
    if board.is_castling(move):
        return 0
    value = PIECE_VALUES[board.piece_type_at(move.to_square) or 0]
    if move.promotion:
        value += PIECE_VALUES[move.promotion] - PIECE_VALUES[chess.PAWN]
    return value


def best_capture(board: chess.Board) -> tuple[int, chess.Move | None]:
    """The capture that pays best for the side to move, in pawns; 0 and None where none does."""
    best: tuple[int, chess.Move | None] = (0, None)
    for move in board.generate_legal_captures():
        gain = exchange_gain(board, move)
        if gain > best[0]:
            best = (gain, move)
    return best


def loss_after(board: chess.Board, reply: chess.Move) -> int:
    """Pawns that the side to move loses in the end by `reply`, negative where it wins some."""
    taken = taken_value(board, reply)
    board.push(reply)
    try:
        if board.is_checkmate():
            return -MATE
        if any(_mates(board, move) for move in _checks(board)):
            return MATE
        return best_capture(board)[0] - taken
    finally:
        board.pop()


def wins_against_all(board: chess.Board, move: chess.Move, *, at_least: int = 1) -> int:
    """Pawns that `move` wins whatever the reply; `MATE` where it mates.

    Stops at the first reply that keeps the loss under `at_least`, and gives the value so far.
    """
    taken = taken_value(board, move)
    after = board.copy(stack=False)
    after.push(move)
    if after.is_checkmate():
        return MATE
    least = MATE
    for reply in list(after.legal_moves):
        least = min(least, taken + loss_after(after, reply))
        if least < at_least:
            return least
    return least if least < MATE or any(after.legal_moves) else taken


def mates_in_one(board: chess.Board) -> list[chess.Move]:
    """The moves that give mate."""
    return [move for move in _checks(board) if _mates(board, move)]


def _checks(board: chess.Board) -> list[chess.Move]:
    return [move for move in board.legal_moves if board.gives_check(move)]


def _mates(board: chess.Board, move: chess.Move) -> bool:
    board.push(move)
    mated = board.is_checkmate()
    board.pop()
    return mated
