"""Whether a move wins material against everything, looked at a few plies deep and to quiet ends.

No engine and no judgement: pawns are counted (common practice, no source: 1, 3, 3, 5, 9) once no
capture changes the count any more. One question is asked, “does that side come out with at least
so much?”, so each position is left as soon as the answer is known. What a quiet move prepares
later than that is not seen; an engine may be asked.
"""

from __future__ import annotations

from collections.abc import Iterator

import chess

from trainer.exchange import PIECE_VALUES, balance

#: Captures in a row that are followed.
_DEPTH = 8
#: In so many of them checks of the side that loses something are looked at besides.
_CHECKED = 3


def comes_out_with(
    board: chess.Board,
    side: chess.Color,
    least: int,
    *,
    plies: int = 2,
    hunted: chess.Square | None = None,
) -> bool:
    """Whether `side` has a balance of at least `least` in the end, whatever the other plays.

    `plies` half-moves are looked at in full, then captures, in check every move, and first checks
    of the other side. Mate for `side` is enough, mate against it is not, and a stalemate is none.
    With `hunted`, moves of `side` that attack that square are looked at besides those that take or
    give check. The board is as it was in the end.
    """
    if plies == 0:
        return _settles(board, side, least, _DEPTH)
    mover = board.turn
    seen = False
    now = balance(board, side)
    for move in _ordered(board):
        seen = True
        if mover == side and plies < 3 and now < least and _is_idle(board, move):
            continue  # a quiet move wins nothing at once
        if mover == side and plies > 2 and now < least and not _hunts(board, move, hunted):
            continue
        board.push(move)
        kept = comes_out_with(board, side, least, plies=plies - 1, hunted=hunted)
        board.pop()
        if kept == (mover == side):
            return kept
    if not seen:
        return mover != side and board.is_check()
    return mover != side


def best_quiet_balance(board: chess.Board, side: chess.Color, most: int) -> int:
    """The balance that `side`, to move, comes out with by captures alone, at most `most`."""
    low = balance(board, side)
    while low < most and _settles(board, side, low + 1, _DEPTH):
        low += 1
    return low


def _settles(board: chess.Board, side: chess.Color, least: int, depth: int) -> bool:
    now, mine = balance(board, side), board.turn == side
    if board.is_check():
        if depth <= 0:
            return now >= least
        moves = list(board.legal_moves)
        if not moves:
            return not mine
    else:
        # Nobody has to take: who is content with what there is leaves it.
        if (now >= least) == mine:
            return mine
        if depth <= 0:
            return now >= least
        moves = _captures(board)
        if not mine and depth > _DEPTH - _CHECKED:
            # A check in between may take back what was won.
            moves += [
                move
                for move in board.legal_moves
                if not board.is_capture(move) and board.gives_check(move)
            ]
    for move in moves:
        board.push(move)
        kept = _settles(board, side, least, depth - 1)
        board.pop()
        if kept == mine:
            return kept
    return not mine


def _captures(board: chess.Board) -> list[chess.Move]:
    """Captures and promotions to a queen, the greatest prizes taken by the cheapest first."""
    moves = [
        move
        for move in (*board.generate_legal_captures(), *_promotions(board))
        if move.promotion in (None, chess.QUEEN)
    ]
    moves.sort(key=lambda move: -_prize(board, move))
    return moves


def _promotions(board: chess.Board) -> Iterator[chess.Move]:
    last = chess.BB_RANK_7 if board.turn else chess.BB_RANK_2
    pawns = board.pawns & board.occupied_co[board.turn] & last
    if pawns:
        ends = (chess.BB_RANK_8 if board.turn else chess.BB_RANK_1) & ~board.occupied
        yield from board.generate_legal_moves(pawns, ends)


def _prize(board: chess.Board, move: chess.Move) -> int:
    taken = board.piece_type_at(move.to_square) or chess.PAWN
    taker = board.piece_type_at(move.from_square) or chess.PAWN
    return 16 * PIECE_VALUES[taken] - min(15, PIECE_VALUES[taker])


def _ordered(board: chess.Board) -> list[chess.Move]:
    """All moves, captures first: they answer the question most often."""
    moves = list(board.legal_moves)
    moves.sort(key=lambda move: -_prize(board, move) if board.is_capture(move) else 0)
    return moves


def _is_idle(board: chess.Board, move: chess.Move) -> bool:
    return not (board.is_capture(move) or move.promotion or board.gives_check(move))


def _hunts(board: chess.Board, move: chess.Move, hunted: chess.Square | None) -> bool:
    if not _is_idle(board, move):
        return True
    if hunted is None:
        return False
    board.push(move)
    attacks = bool(board.attackers_mask(not board.turn, hunted))
    board.pop()
    return attacks
