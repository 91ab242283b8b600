"""What an exchange on one square wins: the static exchange evaluation, in pawns.

Both sides take on the square in turn, each time with the least valuable piece that may, and each
stops where taking on would cost it. The usual piece values are counted (common practice, no
source): pawn 1, knight and bishop 3, rook 5, queen 9. A piece that is pinned to its king takes
only along the pin, and a king takes only what is no longer guarded. Threats elsewhere, mates and
moves in between are not seen.
"""

from __future__ import annotations

from typing import Final

import chess

#: Value of a piece in pawns, by its type in python-chess; the king's is out of reach of any sum.
PIECE_VALUES: Final = (0, 1, 3, 3, 5, 9, 100)


def exchange_gain(board: chess.Board, move: chess.Move) -> int:
    """Pawns that a legal move wins on its square for the side to move; negative where it loses.

    A capture counts what it takes, a promotion what the pawn gains, en passant the pawn; a move
    that takes nothing gains 0 or loses the piece that moved.
    """
    piece = board.piece_type_at(move.from_square)
    if piece is None:
        return 0
    square, side = move.to_square, board.turn
    occupied = board.occupied & ~chess.BB_SQUARES[move.from_square] | chess.BB_SQUARES[square]
    if board.is_en_passant(move):
        gain = PIECE_VALUES[chess.PAWN]
        occupied &= ~chess.BB_SQUARES[square + (-8 if side == chess.WHITE else 8)]
    elif board.is_castling(move):
        return 0
    else:
        gain = PIECE_VALUES[board.piece_type_at(square) or 0]
    if move.promotion:
        gain += PIECE_VALUES[move.promotion] - PIECE_VALUES[chess.PAWN]
        piece = move.promotion
    return gain - _answer(board, square, not side, piece, occupied)


def loss_on(board: chess.Board, square: chess.Square) -> int:
    """Pawns that the other side wins by taking what stands on `square` now, were it to move.

    0 where the square is empty or taking does not pay.
    """
    piece = board.piece_at(square)
    if piece is None:
        return 0
    return _answer(board, square, not piece.color, piece.piece_type, board.occupied)


def taken_by(board: chess.Board, move: chess.Move) -> int:
    """What a move takes at once, in pawns, with what a promotion adds."""
    if board.is_en_passant(move):
        return PIECE_VALUES[chess.PAWN]
    added = PIECE_VALUES[move.promotion] - PIECE_VALUES[chess.PAWN] if move.promotion else 0
    taken = board.piece_type_at(move.to_square) if board.is_capture(move) else None
    return added + PIECE_VALUES[taken or 0]


def legal_exchange(board: chess.Board, capture: chess.Move) -> int:
    """Pawns won by a legal capture when each side takes on with its cheapest piece, or stops.

    By legal moves only, so that pins and checks are exact; `exchange_gain` estimates the same
    from attacks and is many times faster.
    """
    gains = [taken_by(board, capture)]
    trial = board.copy(stack=False)
    trial.push(capture)
    target = chess.BB_SQUARES[capture.to_square]
    while True:
        takers = list(trial.generate_legal_captures(to_mask=target))
        if not takers:
            break
        taker = min(
            takers, key=lambda move: PIECE_VALUES[trial.piece_type_at(move.from_square) or 0]
        )
        gains.append(taken_by(trial, taker))
        trial.push(taker)
    answer = 0
    for gain in reversed(gains[1:]):
        answer = max(0, gain - answer)
    return gains[0] - answer


def best_capture(board: chess.Board, to_mask: chess.Bitboard = chess.BB_ALL) -> int:
    """Pawns that the side to move wins by its best legal exchange on the squares of `to_mask`.

    0 where there is no capture, negative where each one loses.
    """
    captures = list(board.generate_legal_captures(to_mask=to_mask))
    return max((legal_exchange(board, move) for move in captures), default=0)


def material(board: chess.Board, color: chess.Color) -> int:
    """The value of one side's men without the king, in pawns."""
    own = board.occupied_co[color]
    return sum(
        PIECE_VALUES[piece] * chess.popcount(mask & own)
        for piece, mask in (
            (chess.PAWN, board.pawns),
            (chess.KNIGHT, board.knights | board.bishops),
            (chess.ROOK, board.rooks),
            (chess.QUEEN, board.queens),
        )
    )


def balance(board: chess.Board, color: chess.Color) -> int:
    """The material of `color` above the other side's, in pawns."""
    return material(board, color) - material(board, not color)


def _answer(
    board: chess.Board,
    square: chess.Square,
    side: chess.Color,
    target: chess.PieceType,
    occupied: int,
) -> int:
    """Pawns won by `side` by beginning to take a `target` on `square`; 0 where it had better not.

    `occupied` holds the squares that are taken, `square` among them.
    """
    gains: list[int] = []
    while True:
        # Attackers behind the ones that have left come into sight as `occupied` shrinks.
        takers = board.attackers_mask(side, square, occupied) & occupied
        takers &= ~chess.BB_SQUARES[square]
        takers &= ~_held(board, side, square, takers, occupied)
        origin, piece = _least_valuable(board, takers)
        if origin is None:
            break
        gains.append(PIECE_VALUES[target] - (gains[-1] if gains else 0))
        occupied ^= chess.BB_SQUARES[origin]
        target = piece
        side = not side
    # Each side stops where taking on would cost it.
    while len(gains) > 1:
        last = gains.pop()
        gains[-1] = -max(-gains[-1], last)
    return max(0, gains[0]) if gains else 0


def _held(
    board: chess.Board, side: chess.Color, square: chess.Square, takers: int, occupied: int
) -> int:
    """Which of `takers` are pinned to their king along a line that `square` is not on."""
    king = board.king(side)
    if king is None or not takers:
        return 0
    behind = occupied & board.occupied_co[not side] & ~chess.BB_SQUARES[square]
    snipers = behind & (
        chess.BB_RANK_ATTACKS[king][0] & (board.rooks | board.queens)
        | chess.BB_FILE_ATTACKS[king][0] & (board.rooks | board.queens)
        | chess.BB_DIAG_ATTACKS[king][0] & (board.bishops | board.queens)
    )
    held = 0
    for sniper in chess.scan_forward(snipers):
        between = chess.between(king, sniper) & occupied
        alone = not between & (between - 1)
        # Along the line of the pin itself a pinned piece may still take.
        if alone and not chess.ray(king, sniper) & chess.BB_SQUARES[square]:
            held |= between
    return held & takers


def _least_valuable(
    board: chess.Board, takers: int
) -> tuple[chess.Square | None, chess.PieceType]:
    for piece in chess.PIECE_TYPES:
        squares = takers & board.pieces_mask(piece, chess.WHITE) | takers & board.pieces_mask(
            piece, chess.BLACK
        )
        if squares:
            return chess.lsb(squares), piece
    return None, 0
