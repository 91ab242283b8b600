"""What captures win when both sides go on taking on one square, or stop.

By legal moves only, so that pins and checks are exact: what is said to a player about one line
stands on this. `trainer.exchange` estimates the same from attacks, for whole repertoires.
"""

from __future__ import annotations

import chess

from trainer.exchange import PIECE_VALUES


def value_at(board: chess.Board, square: chess.Square) -> int:
    """The value of what stands on a square, 0 where nothing does."""
    return PIECE_VALUES[board.piece_type_at(square) or 0]


def taken_by(board: chess.Board, move: chess.Move) -> int:
    """What a move takes at once, in pawns, with what a promotion adds."""
    added = PIECE_VALUES[move.promotion] - PIECE_VALUES[chess.PAWN] if move.promotion else 0
    if board.is_en_passant(move):
        return PIECE_VALUES[chess.PAWN]
    return added + (value_at(board, move.to_square) if board.is_capture(move) else 0)


def exchange(board: chess.Board, capture: chess.Move) -> int:
    """Pawns won by a legal capture when each side takes on with its cheapest piece, or stops."""
    gains = [taken_by(board, capture)]
    trial = board.copy(stack=False)
    trial.push(capture)
    target = chess.BB_SQUARES[capture.to_square]
    while True:
        takers = list(trial.generate_legal_captures(to_mask=target))
        if not takers:
            break
        taker = min(takers, key=lambda move: value_at(trial, move.from_square))
        gains.append(taken_by(trial, taker))
        trial.push(taker)
    answer = 0
    for gain in reversed(gains[1:]):
        answer = max(0, gain - answer)
    return gains[0] - answer


def threatened(board: chess.Board, square: chess.Square) -> int:
    """Pawns that the side to move wins by taking on `square`, 0 where that pays nothing."""
    target = chess.BB_SQUARES[square]
    captures = board.generate_legal_captures(to_mask=target)
    return max((exchange(board, move) for move in list(captures)), default=0)


def best_capture(board: chess.Board) -> int:
    """Pawns that the side to move wins by its best exchange, 0 where none pays."""
    return max(
        (exchange(board, move) for move in list(board.generate_legal_captures())), default=0
    )


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

    In check the balance is taken as it stands: who must meet a check cannot take at will.
    """
    now = balance(board, color)
    if board.is_check():
        return now
    gain = best_capture(board)
    return now + gain if board.turn == color else now - gain
