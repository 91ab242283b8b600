"""The player's hand: what is picked up, and which move a choice of squares makes. Without Qt."""

from __future__ import annotations

from dataclasses import dataclass

import chess

from trainer.ui.board.moves import matching_moves, targets
from trainer.ui.board.promotion import Promotion


@dataclass(frozen=True)
class IllegalAttempt:
    """Two squares that the player joined and that are no legal move."""

    start: chess.Square
    end: chess.Square


Outcome = chess.Move | IllegalAttempt | None
"""What an action led to; None when no move was tried or a promotion piece is still open."""


class Hand:
    """The state between the first and the last action of a move.

    `selected` is the square of the piece that is picked up, `promotion` the open choice of a
    piece; at most one of both is set.
    """

    def __init__(self) -> None:
        self.selected: chess.Square | None = None
        self.promotion: Promotion | None = None
        self._board = chess.Board()
        self._active = False
        self._color: chess.Color | None = None

    @property
    def active(self) -> bool:
        """Whether the player may move at all."""
        return self._active

    def set_board(self, board: chess.Board) -> None:
        """Take over a position, which the caller does not change, and let go of everything."""
        self._board = board
        self.release()

    def allow(self, active: bool, color: chess.Color | None) -> None:
        """Let the player move the pieces of `color`, of either side (None), or nothing."""
        self._active, self._color = active, color
        if not active:
            self.release()

    def release(self) -> bool:
        """Let go of a piece or of an open choice; return whether there was any."""
        held = self.selected is not None or self.promotion is not None
        self.selected = self.promotion = None
        return held

    def may_lift(self, square: chess.Square) -> bool:
        """Whether the piece on a square is the player's own and his side is to move."""
        turn = self._board.turn
        return (
            self._active and self._color in (None, turn) and self._board.color_at(square) == turn
        )

    def targets(self) -> frozenset[chess.Square]:
        """Return the squares that the piece in hand may go to."""
        return frozenset() if self.selected is None else targets(self._board, self.selected)

    def choose(self, square: chess.Square) -> Outcome:
        """Choose a square by click or key: pick up a piece, put it down, or change pieces."""
        start = self.selected
        if start is None:
            self.selected = square if self.may_lift(square) else None
            return None
        if square == start:
            self.selected = None
            return None
        if self.may_lift(square) and not matching_moves(self._board, start, square):
            self.selected = square
            return None
        return self.put(square)

    def put(self, square: chess.Square) -> Outcome:
        """Put the piece in hand down on another square."""
        start = self.selected
        self.selected = None
        if start is None or square == start:
            return None
        moves = matching_moves(self._board, start, square)
        if not moves:
            return IllegalAttempt(start, square)
        if moves[0].promotion is not None:
            self.promotion = Promotion(start, square, self._board.turn)
            return None
        return moves[0]

    def promote(self, piece_type: chess.PieceType) -> Outcome:
        """Answer the open choice of a promotion piece."""
        promotion, self.promotion = self.promotion, None
        if promotion is None:
            return None
        return chess.Move(promotion.start, promotion.end, piece_type)
