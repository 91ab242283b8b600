"""The standing tactical points of a position, by rules: why a pawn cannot be taken, and the like.

Rules, not search: a capture that pays by exchange evaluation but is answered by a move that traps
the taker, forks, mates on the back rank or takes what the taker had guarded; a guard that is
pinned or has two things to guard; a king with no flight square; a push that forks. Each can be
put to an engine, which is passed in as a function. The kinds are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TypeAlias

import chess

from trainer.exchange import PIECE_VALUES, exchange_gain
from trainer.lesson.breaks import to_move
from trainer.lesson.pawns import own_rank
from trainer.lesson.replies import (
    MATE,
    best_capture,
    loss_after,
    mates_in_one,
    taken_value,
    wins_against_all,
)

#: Whether a stronger judge agrees that `move` on `board` wins for the side to move.
Confirm: TypeAlias = Callable[[chess.Board, chess.Move], bool]


class TrickKind(StrEnum):
    """What makes it work."""

    TRAPPED = "trapped"
    FORK = "fork"
    BACK_RANK = "back rank"
    MATE = "mate"
    LEFT_ITS_POST = "left its post"
    PINNED = "pinned"
    OVERLOADED = "overloaded"


@dataclass(frozen=True)
class Trick:
    """One standing point in favour of `side`.

    `board` is the position it is told of, with the side to move that would begin. `taking` is the
    tempting capture of the other side that it forbids, or None where it is a threat of its own.
    `answer` is the move of `side` that does it, None where only the weakness stands. `squares`
    are the pieces that it turns on: the trapped piece, the forked pieces, the pinned or
    overloaded guard and what it guards, the king without a flight square. `wins` is in pawns,
    `MATE` for mate, 0 where only the weakness stands. `confirmed` is the word of the engine, None
    where none spoke.
    """

    kind: TrickKind
    side: chess.Color
    board: chess.Board
    taking: chess.Move | None
    answer: chess.Move | None
    squares: tuple[chess.Square, ...]
    wins: int
    confirmed: bool | None = None


def standing_tricks(board: chess.Board, confirm: Confirm | None = None) -> list[Trick]:
    """All points of both sides in a position, whoever is to move; the ones that win most first.

    For the side that is not to move the turn is passed, unless it would leave a check standing.
    """
    found: list[Trick] = []
    for side in (board.turn, not board.turn):
        seen = to_move(board, side)
        if seen is None or seen.is_check():
            continue
        found.extend(forbidden_captures(seen))
        found.extend(_threats(seen))
    found.extend(_weak_back_ranks(board, {one.side for one in found if one.wins == MATE}))
    if confirm is not None:
        found = [confirmed(one, confirm) for one in found]
    return sorted(found, key=lambda one: -one.wins)


def confirmed(trick: Trick, confirm: Confirm) -> Trick:
    """The trick with the word of the engine, where there is a move to put to it."""
    if trick.answer is None:
        return trick
    board = trick.board
    if trick.taking is not None:
        board = board.copy(stack=False)
        board.push(trick.taking)
    return replace(trick, confirmed=confirm(board, trick.answer))


def forbidden_captures(board: chess.Board) -> list[Trick]:
    """For each capture of the side to move that seems to pay but does not: why."""
    tricks = []
    for move in board.generate_legal_captures():
        if exchange_gain(board, move) > 0:
            trick = why_not_take(board, move)
            if trick is not None:
                tricks.append(trick)
    return tricks


def why_not_take(board: chess.Board, taking: chess.Move) -> Trick | None:
    """What forbids a legal capture of the side to move, or None where no rule here does."""
    side = not board.turn
    booked = taken_value(board, taking)
    after = board.copy(stack=False)
    after.push(taking)

    def trick(kind: TrickKind, answer: chess.Move, squares: list[int], wins: int) -> Trick:
        return Trick(kind, side, board.copy(stack=False), taking, answer, tuple(squares), wins)

    mates = mates_in_one(after)
    if mates:
        king = after.king(not side)
        kind = TrickKind.BACK_RANK if _on_back_rank(after, mates[0]) else TrickKind.MATE
        return trick(kind, mates[0], [] if king is None else [king], MATE)
    gain, answer = best_capture(after)
    if answer is not None and gain > booked and answer.to_square != taking.to_square:
        before = to_move(board, side)
        if before is None or not before.is_legal(answer) or exchange_gain(before, answer) < gain:
            return trick(TrickKind.LEFT_ITS_POST, answer, [answer.to_square], gain - booked)
    best: Trick | None = None
    for answer in list(after.legal_moves):
        shape, squares = _shape(after, answer, taking.to_square)
        if shape is None:
            continue
        wins = wins_against_all(after, answer, at_least=booked + 1) - booked
        if wins >= 1 and (best is None or wins > best.wins):
            best = trick(shape, answer, squares, wins)
    return best


def _shape(
    board: chess.Board, answer: chess.Move, taker: chess.Square
) -> tuple[TrickKind | None, list[chess.Square]]:
    """What kind of answer a move is: it traps the taker, or forks; None where neither."""
    if board.is_capture(answer):
        return None, []
    side = board.turn
    after = board.copy(stack=False)
    after.push(answer)
    hits = _hit_pieces(after, answer.to_square, side)
    attacked = after.is_attacked_by(side, taker)
    if attacked and after.piece_type_at(taker) != chess.PAWN and not after.is_check():
        moves = [move for move in after.legal_moves if move.from_square == taker]
        if all(loss_after(after, move) > 0 for move in moves):
            return TrickKind.TRAPPED, [taker]
    if len(hits) >= 2:
        return TrickKind.FORK, hits
    return None, []


def _hit_pieces(board: chess.Board, square: chess.Square, side: chess.Color) -> list[chess.Square]:
    """Pieces of the other side (no pawns) that the piece on `square` attacks with a gain."""
    own = PIECE_VALUES[board.piece_type_at(square) or 0]
    hits = []
    for target in board.attacks(square):
        piece = board.piece_at(target)
        if piece is None or piece.color == side or piece.piece_type == chess.PAWN:
            continue
        guarded = board.is_attacked_by(not side, target)
        if PIECE_VALUES[piece.piece_type] > own or not guarded:
            hits.append(target)
    return hits


def _threats(board: chess.Board) -> Iterator[Trick]:
    """What the side to move could do at once."""
    side = board.turn
    here = board.copy(stack=False)

    def trick(kind: TrickKind, answer: chess.Move, squares: list[int], wins: int) -> Trick:
        return Trick(kind, side, here, None, answer, tuple(squares), wins)

    for move in mates_in_one(board):
        king = board.king(not side)
        kind = TrickKind.BACK_RANK if _on_back_rank(board, move) else TrickKind.MATE
        yield trick(kind, move, [] if king is None else [king], MATE)
    yield from _pinned_guards(board, here)
    standing = best_capture(board)[0]
    for move in list(board.legal_moves):
        if board.is_capture(move):
            if exchange_gain(board, move) <= 0:
                squares = _overloaded(board, move)
                if squares:
                    wins = wins_against_all(board, move, at_least=standing + 1)
                    if standing < wins < MATE:
                        yield trick(TrickKind.OVERLOADED, move, squares, wins)
        elif board.piece_type_at(move.from_square) == chess.PAWN and not move.promotion:
            after = board.copy(stack=False)
            after.push(move)
            hits = _hit_pieces(after, move.to_square, side)
            if len(hits) >= 2:
                wins = wins_against_all(board, move, at_least=standing + 1)
                if standing < wins < MATE:
                    yield trick(TrickKind.FORK, move, hits, wins)


def _pinned_guards(board: chess.Board, here: chess.Board) -> Iterator[Trick]:
    """Captures that pay only because a guard of the target is pinned to its king."""
    side = board.turn
    for move in board.generate_legal_captures():
        gain = exchange_gain(board, move)
        if gain <= 0 or PIECE_VALUES[board.piece_type_at(move.from_square) or 0] > gain + 8:
            continue
        held = [
            guard
            for guard in board.attackers(not side, move.to_square)
            if board.is_pinned(not side, guard)
            and not board.pin(not side, guard) & chess.BB_SQUARES[move.to_square]
        ]
        if held and _gain_without_pins(board, move, held) < gain:
            yield Trick(TrickKind.PINNED, side, here, None, move, (*held, move.to_square), gain)


def _gain_without_pins(board: chess.Board, move: chess.Move, held: list[chess.Square]) -> int:
    """What the capture would win if the pinned guards could take: the pinning pieces gone.

    A pinning piece that takes part in the exchange itself leaves nothing to compare with.
    """
    free = board.copy(stack=False)
    king = board.king(not board.turn)
    for guard in held:
        assert king is not None
        line = chess.SquareSet(chess.ray(king, guard))
        for sniper in line & board.occupied_co[board.turn]:
            between = chess.SquareSet(chess.between(king, sniper)) & board.occupied
            if between == chess.SquareSet.from_square(guard) and sniper != move.from_square:
                free.remove_piece_at(sniper)
    return exchange_gain(free, move) if free.is_legal(move) else exchange_gain(board, move)


def _overloaded(board: chess.Board, taking: chess.Move) -> list[chess.Square]:
    """The guard that would retake and what else it alone guards; empty where there is none."""
    side, target = board.turn, taking.to_square
    guards = board.attackers(not side, target)
    for guard in guards:
        for other in board.attacks(guard) & board.occupied_co[not side]:
            if other == target or not board.is_attacked_by(side, other):
                continue
            if list(board.attackers(not side, other)) == [guard]:
                return [guard, target, other]
    return []


def flight_squares(board: chess.Board, side: chess.Color) -> tuple[chess.Square, ...]:
    """Squares off its rank to which the king of `side` could go, were it to move."""
    king = board.king(side)
    seen = to_move(board, side)
    if king is None or seen is None:
        return ()
    return tuple(
        move.to_square
        for move in seen.generate_legal_moves(from_mask=chess.BB_SQUARES[king])
        if chess.square_rank(move.to_square) != chess.square_rank(king)
    )


def _weak_back_ranks(board: chess.Board, mating: set[chess.Color]) -> Iterator[Trick]:
    """Kings on their back rank without a flight square, with a heavy piece looking at that rank.

    Only kings that have left the middle files: before castling every king stands so.
    """
    for side in chess.COLORS:
        king = board.king(side)
        if king is None or own_rank(king, side) != 1 or (not side) in mating:
            continue
        if chess.square_file(king) in (3, 4) or flight_squares(board, side):
            continue
        heavy = board.pieces(chess.ROOK, not side) | board.pieces(chess.QUEEN, not side)
        rank = chess.SquareSet(chess.BB_RANKS[chess.square_rank(king)])
        if any(board.attacks(piece) & rank for piece in heavy - rank):
            here = board.copy(stack=False)
            yield Trick(TrickKind.BACK_RANK, not side, here, None, None, (king,), 0)


def _on_back_rank(board: chess.Board, move: chess.Move) -> bool:
    """Whether a move is a rook's or queen's to the back rank of the king it mates."""
    king = board.king(not board.turn)
    piece = move.promotion or board.piece_type_at(move.from_square)
    return (
        king is not None
        and own_rank(king, not board.turn) == 1
        and chess.square_rank(move.to_square) == chess.square_rank(king)
        and piece in (chess.ROOK, chess.QUEEN)
    )
