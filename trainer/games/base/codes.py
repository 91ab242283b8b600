"""Moves as numbers of 13 bits, small enough to keep one for each visit of a position.

Every move that a queen or a knight could make on an empty board has one, then come the
promotions and the null move. 0 stands for no move: the game ended there, or the base does.
"""

from __future__ import annotations

from typing import Final

import chess

NO_MOVE: Final = 0


def _all_moves() -> tuple[chess.Move, ...]:
    plain = [
        chess.Move(origin, target)
        for origin in chess.SQUARES
        for target in chess.SquareSet(
            chess.BB_KNIGHT_ATTACKS[origin]
            | chess.BB_DIAG_ATTACKS[origin][0]
            | chess.BB_RANK_ATTACKS[origin][0]
            | chess.BB_FILE_ATTACKS[origin][0]
        )
    ]
    promotions = [
        chess.Move(move.from_square, move.to_square, piece)
        for move in plain
        if chess.square_rank(move.to_square) in (0, 7)
        and abs(chess.square_file(move.from_square) - chess.square_file(move.to_square)) < 2
        and abs(chess.square_rank(move.from_square) - chess.square_rank(move.to_square)) == 1
        and chess.square_rank(move.from_square) in (1, 6)
        for piece in (chess.KNIGHT, chess.BISHOP, chess.ROOK, chess.QUEEN)
    ]
    return (*plain, *promotions, chess.Move.null())


#: The move of each code; the entry of `NO_MOVE` is None.
MOVES: Final[tuple[chess.Move | None, ...]] = (None, *_all_moves())
CODES: Final[dict[chess.Move | None, int]] = {move: code for code, move in enumerate(MOVES)}

#: The code of a move without promotion: `[origin << 6 | target]`, 0 where there is none.
PLAIN_CODES: Final = tuple(
    CODES.get(chess.Move(origin, target), NO_MOVE) if origin != target else NO_MOVE
    for origin in chess.SQUARES
    for target in chess.SQUARES
)
