"""Whether a position is too sharp to stop in: a check, or a capture that wins material.

A static exchange count on one square, on the usual piece values (common practice, no source):
pawn 1, knight and bishop 3, rook 5, queen 9. It sees no pins, threats or mates; it only has to
tell a quiet end of a line from one where the next move decides.
"""

from __future__ import annotations

from typing import Final

import chess

_VALUES: Final = (0, 1, 3, 3, 5, 9, 100)


def is_sharp(board: chess.Board) -> bool:
    """Whether the side to move is in check or can win material by a capture."""
    if board.is_check():
        return True
    targets = board.occupied_co[not board.turn]
    return any(
        exchange_gain(board, move) > 0 for move in board.generate_legal_captures(to_mask=targets)
    )


def exchange_gain(board: chess.Board, capture: chess.Move) -> int:
    """Pawns won by a capture when both sides go on taking on its square as long as it pays."""
    square = capture.to_square
    victim = board.piece_type_at(square)
    attacker = board.piece_type_at(capture.from_square)
    if victim is None or attacker is None:
        return 0
    gains = [_VALUES[victim]]
    occupied = board.occupied ^ chess.BB_SQUARES[capture.from_square]
    side = not board.turn
    while True:
        # Attackers behind the ones that have left come into sight as `occupied` shrinks.
        takers = board.attackers_mask(side, square, occupied) & occupied
        origin, piece = _least_valuable(board, takers)
        if origin is None:
            break
        gains.append(_VALUES[attacker] - gains[-1])
        occupied ^= chess.BB_SQUARES[origin]
        attacker = piece
        side = not side
    # Each side stops where taking on would cost it.
    while len(gains) > 1:
        last = gains.pop()
        gains[-1] = -max(-gains[-1], last)
    return gains[0]


def _least_valuable(board: chess.Board, takers: int) -> tuple[chess.Square | None, int]:
    for piece in chess.PIECE_TYPES:
        squares = takers & board.pieces_mask(piece, chess.WHITE) | takers & board.pieces_mask(
            piece, chess.BLACK
        )
        if squares:
            return chess.lsb(squares), piece
    return None, 0
