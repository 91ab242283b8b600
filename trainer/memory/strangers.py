"""Strangers: plausible replies that the repertoire does not know.

What is known to be played or to be nearly best comes first, where the caller knows such moves.
There may be no engine and no base; then plausible means: legal, loses no material to a plain
exchange and does not run into mate at once, and looks like a move that is played in such
positions. What is preferred are moves that the repertoire knows as replies elsewhere (the
opponent's usual moves in this system, here at the wrong moment), development, the centre, castling
and captures.

A move that leads back to a known position, at once or after the player's next move, is never a
stranger: it is a transposition, and the player is right to treat it as known.
"""

from __future__ import annotations

import math
import random
from collections import Counter
from collections.abc import Callable, Sequence
from typing import Final

import chess

from trainer.exchange import best_capture, taken_by
from trainer.position import position_key
from trainer.repertoire.graph import Node, Repertoire

#: An exchange that loses at least this much, in pawns, is a blunder.
BLUNDER: Final = 0.9

#: After so many moves that will not do, there is no stranger: where most moves lose something,
#: the position is too sharp for one that looks natural, and the player is waiting.
TRIES: Final = 8

_CENTRE: Final = chess.BB_CENTER
_WIDE_CENTRE: Final = (chess.BB_RANK_3 | chess.BB_RANK_4 | chess.BB_RANK_5 | chess.BB_RANK_6) & (
    chess.BB_FILE_C | chess.BB_FILE_D | chess.BB_FILE_E | chess.BB_FILE_F
)
_RIM: Final = chess.BB_FILE_A | chess.BB_FILE_H


#: Knows replies to a position that are really played or nearly best, each with a weight above 0.
PlausibleReplies = Callable[[chess.Board], Sequence[tuple[chess.Move, float]]]


class Strangers:
    """Finds strangers for one repertoire, those that `plausible` knows first."""

    def __init__(self, repertoire: Repertoire, plausible: PlausibleReplies | None = None) -> None:
        self._repertoire = repertoire
        self._plausible = plausible
        replies = (edge.move for edge in repertoire.edges() if edge.parent.turn != repertoire.side)
        self._known = Counter((move.from_square, move.to_square) for move in replies)

    def choose(self, node: Node, rng: random.Random) -> chess.Move | None:
        """A stranger at `node` (the opponent to move), or None where none is found.

        The choice is `rng`'s, weighted by plausibility.
        """
        board = node.board()
        known = {edge.move for edge in node.edges}
        replies = [] if self._plausible is None else self._plausible(board)
        told = {move: weight for move, weight in replies if move not in known and weight > 0}
        move = self._one_of(board, list(told), list(told.values()), rng)
        if move is not None:
            return move
        moves = [move for move in board.legal_moves if move not in known]
        return self._one_of(board, moves, [self._weight(board, move) for move in moves], rng)

    def _one_of(
        self,
        board: chess.Board,
        moves: list[chess.Move],
        weights: list[float],
        rng: random.Random,
    ) -> chess.Move | None:
        for _ in range(min(TRIES, len(moves))):
            (index,) = rng.choices(range(len(moves)), weights)
            move = moves.pop(index)
            weights.pop(index)
            if self._is_stranger(board, move):
                return move
        return None

    def _weight(self, board: chess.Board, move: chess.Move) -> float:
        """How likely a move is to be chosen, relative to the others of the position."""
        known = self._known[move.from_square, move.to_square]
        return math.exp(naturalness(board, move) + 0.7 * math.log1p(known))

    def _is_stranger(self, board: chess.Board, move: chess.Move) -> bool:
        board.push(move)
        try:
            return (
                position_key(board) not in self._repertoire.nodes
                and not is_blunder(board, move)
                and not self._leads_back(board)
            )
        finally:
            board.pop()

    def _leads_back(self, board: chess.Board) -> bool:
        """Whether a move of the player leads to a known position."""
        for move in list(board.legal_moves):
            board.push(move)
            known = position_key(board) in self._repertoire.nodes
            board.pop()
            if known:
                return True
        return False


def naturalness(board: chess.Board, move: chess.Move) -> float:
    """How natural a move looks in an opening, roughly from -2 to 3. A crude rule of thumb."""
    piece = board.piece_type_at(move.from_square)
    target = chess.BB_SQUARES[move.to_square]
    if board.is_castling(move):
        return 2.0
    value = 1.0 if board.is_capture(move) else 0.0
    if piece == chess.PAWN:
        value += 1.0 if target & _CENTRE else 0.5 if target & _WIDE_CENTRE else 0.0
        value -= 0.5 if target & _RIM else 0.0
    elif piece in (chess.KNIGHT, chess.BISHOP):
        at_home = chess.BB_BACKRANKS & chess.BB_SQUARES[move.from_square]
        value += 1.5 if at_home else 0.0
        value += 0.5 if target & _WIDE_CENTRE else 0.0
        value -= 1.0 if target & (_RIM | chess.BB_BACKRANKS) else 0.0
    elif piece == chess.KING:
        value -= 2.0
    elif piece == chess.QUEEN:
        value -= 1.0
    return value


def is_blunder(board: chess.Board, move: chess.Move) -> bool:
    """Whether `move`, just played on `board`, loses material by exchange or allows mate in one."""
    board.pop()
    won = taken_by(board, move)
    board.push(move)
    return best_capture(board) - won >= BLUNDER or _mates_in_one(board)


def _mates_in_one(board: chess.Board) -> bool:
    for move in list(board.legal_moves):
        board.push(move)
        mate = board.is_checkmate()
        board.pop()
        if mate:
            return True
    return False
