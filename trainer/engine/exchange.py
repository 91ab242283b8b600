"""Material on a board, and what a capture threatens: what is said to a player stands on this."""

from __future__ import annotations

import chess

from trainer.exchange import PIECE_VALUES, best_capture, legal_exchange


def value_at(board: chess.Board, square: chess.Square) -> int:
    """The value of what stands on a square, 0 where nothing does."""
    return PIECE_VALUES[board.piece_type_at(square) or 0]


def threatened(board: chess.Board, square: chess.Square) -> int:
    """Pawns that the side to move wins by taking on `square`, 0 where that pays nothing."""
    target = chess.BB_SQUARES[square]
    captures = board.generate_legal_captures(to_mask=target)
    return max(0, *(legal_exchange(board, move) for move in list(captures)), 0)


def material(board: chess.Board, color: chess.Color) -> int:
    """The value of one side's men without the king, in pawns."""
    return sum(
        PIECE_VALUES[piece_type] * len(board.pieces(piece_type, color))
        for piece_type in range(chess.PAWN, chess.KING)
    )


def balance(board: chess.Board, color: chess.Color) -> int:
    """The material of `color` above the other side's, in pawns."""
    return material(board, color) - material(board, not color)


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
