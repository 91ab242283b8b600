"""What a man is worth and what a capture threatens: what is said to a player stands on this."""

from __future__ import annotations

import chess

from trainer.exchange import PIECE_VALUES, balance, best_capture


def value_at(board: chess.Board, square: chess.Square) -> int:
    """The value of what stands on a square, 0 where nothing does."""
    return PIECE_VALUES[board.piece_type_at(square) or 0]


def threatened(board: chess.Board, square: chess.Square) -> int:
    """Pawns that the side to move wins by taking on `square`, 0 where that pays nothing."""
    return max(0, best_capture(board, chess.BB_SQUARES[square]))


def settled(board: chess.Board, color: chess.Color) -> int:
    """The balance of `color` once the side to move has made the capture that pays it most.

    Nobody has to take: where each capture loses, the balance is taken as it stands, and so it is
    in check, since who must meet a check cannot take at will.
    """
    now = balance(board, color)
    if board.is_check():
        return now
    gain = max(0, best_capture(board))
    return now + gain if board.turn == color else now - gain
