"""Whether a position is too sharp to stop in: a check, or a capture that wins material.

It only has to tell a quiet end of a line from one where the next move decides.
"""

from __future__ import annotations

import chess

from trainer.exchange import exchange_gain

__all__ = ["exchange_gain", "is_sharp"]


def is_sharp(board: chess.Board) -> bool:
    """Whether the side to move is in check or can win material by a capture."""
    if board.is_check():
        return True
    targets = board.occupied_co[not board.turn]
    return any(
        exchange_gain(board, move) > 0 for move in board.generate_legal_captures(to_mask=targets)
    )
