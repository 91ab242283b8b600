"""The standing tactical points of a position, by rules: why a pawn cannot be taken, and the like.

A capture that pays by exchange evaluation but is answered by a move that traps the taker, forks,
mates or takes what the taker had guarded; a guard that is pinned, to its king or to something
dearer, or has two things to guard; a king with no flight square; a push that forks. Rules find
them, and a short look at every reply (`proof.py`) throws out what does not win; what is lost
anyway, whether something is taken or not, is no trick. Each can be put to an engine, which is
passed in as a function. The kinds are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TypeAlias

import chess

from trainer.exchange import PIECE_VALUES, balance, exchange_gain
from trainer.lesson.breaks import to_move
from trainer.lesson.pawns import own_rank
from trainer.lesson.proof import best_quiet_balance, comes_out_with
from trainer.lesson.replies import (
    MATE,
    best_capture,
    loss_after,
    mates_in_one,
    taken_value,
    wins_against_all,
)


class TrickKind(StrEnum):
    """What makes it work."""

    TRAPPED = "trapped"
    FORK = "fork"
    BACK_RANK = "back rank"
    MATE = "mate"
    LEFT_ITS_POST = "left its post"
    PINNED = "pinned"
    OVERLOADED = "overloaded"


#: Pawns that an overloaded guard must cost: a single one is made up for too often.
_OVERLOAD = 2


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


#: Whether a stronger judge agrees with a trick that has an answer; None where it cannot say.
Confirm: TypeAlias = Callable[[Trick], bool | None]


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
    return trick if trick.answer is None else replace(trick, confirmed=confirm(trick))


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
    after = board.copy(stack=False)
    after.push(taking)
    here = board.copy(stack=False)
    before = to_move(board, side)
    if before is not None and before.is_check():
        before = None

    def trick(kind: TrickKind, answer: chess.Move, squares: list[int], wins: int) -> Trick:
        return Trick(kind, side, here, taking, answer, tuple(squares), wins)

    mates = mates_in_one(after)
    if mates:
        king = after.king(not side)
        kind = TrickKind.BACK_RANK if _on_back_rank(after, mates[0]) else TrickKind.MATE
        # What mates already, with or without the capture, does not forbid it.
        if before is not None and not set(mates).isdisjoint(mates_in_one(before)):
            return None
        return trick(kind, mates[0], [] if king is None else [king], MATE)
    booked = taken_value(board, taking)
    had = balance(board, side)
    # What would be won at once if nothing were taken: no more than that is no trick.
    won = 0 if before is None else best_quiet_balance(before, side, had + 9) - had
    answers = [*_left_post(after, before, taking, booked), *_shaped(after, taking, booked)]
    answers.sort(key=lambda one: -one[3])
    for kind, answer, squares, wins in answers:
        after.push(answer)
        hunted = taking.to_square if wins <= 0 else None
        plies = 2 if hunted is None else 4
        least = had + max(won, 0) + 1
        proved = comes_out_with(after, side, least, plies=plies, hunted=hunted)
        after.pop()
        if proved:
            return trick(kind, answer, squares, max(wins, 1))
    return None


_Answer: TypeAlias = tuple[TrickKind, chess.Move, list[chess.Square], int]


def _left_post(
    after: chess.Board, before: chess.Board | None, taking: chess.Move, booked: int
) -> Iterator[_Answer]:
    """The capture that the taker forbade as long as it stood where it came from."""
    gain, answer = best_capture(after)
    if answer is None or gain <= booked or answer.to_square == taking.to_square:
        return
    if before is None or not before.is_legal(answer) or exchange_gain(before, answer) < gain:
        yield TrickKind.LEFT_ITS_POST, answer, [answer.to_square], gain - booked


def _shaped(after: chess.Board, taking: chess.Move, booked: int) -> Iterator[_Answer]:
    """Quiet answers that trap the taker, at once or by shutting it in, or that fork.

    What shuts the taker in wins nothing in two plies, and is told with 0.
    """
    for answer in list(after.legal_moves):
        shape, squares = _shape(after, answer, taking.to_square)
        if shape is not None:
            wins = wins_against_all(after, answer, at_least=booked + 1) - booked
            if wins >= 1:
                yield shape, answer, squares, wins
        elif _shuts_in(after, answer, taking.to_square):
            yield TrickKind.TRAPPED, answer, [taking.to_square], 0


def _shuts_in(board: chess.Board, answer: chess.Move, taker: chess.Square) -> bool:
    """Whether a pawn's move leaves the taker, a piece that nothing attacks yet, nowhere to go."""
    side = board.turn
    piece = board.piece_type_at(taker)
    if (
        piece in (None, chess.PAWN, chess.KING)
        or board.piece_type_at(answer.from_square) != chess.PAWN
        or board.is_capture(answer)
        or board.is_check()
    ):
        return False
    after = board.copy(stack=False)
    after.push(answer)
    if after.is_attacked_by(side, taker) or after.is_check():
        return False
    moves = [move for move in after.legal_moves if move.from_square == taker]
    if not all(after.is_attacked_by(side, move.to_square) for move in moves):
        return False
    return all(loss_after(after, move) > 0 for move in moves)


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
    had = balance(board, side)
    standing = best_capture(board)[0]
    won = best_quiet_balance(board, side, had + 9) - had

    def proved(move: chess.Move, least: int) -> bool:
        board.push(move)
        kept = comes_out_with(board, side, had + least)
        board.pop()
        return kept

    for one in _pinned_guards(board, here):
        if one.answer is not None and proved(one.answer, 1):
            yield one
    for move in list(board.legal_moves):
        if board.is_capture(move):
            held = _held_to_more(board, move)
            if held and proved(move, standing + 1):
                yield trick(TrickKind.PINNED, move, held, standing + 1)
            elif exchange_gain(board, move) <= 0 and (squares := _overloaded(board, move)):
                wins = wins_against_all(board, move, at_least=standing + 1)
                if standing < wins < MATE and proved(move, max(standing + 1, _OVERLOAD)):
                    yield trick(TrickKind.OVERLOADED, move, squares, wins)
        elif board.piece_type_at(move.from_square) == chess.PAWN and not move.promotion:
            after = board.copy(stack=False)
            after.push(move)
            hits = _hit_pieces(after, move.to_square, side)
            if len(hits) >= 2:
                wins = wins_against_all(board, move, at_least=standing + 1)
                if standing < wins < MATE and proved(move, won + 1):
                    yield trick(TrickKind.FORK, move, hits, wins)


def _held_to_more(board: chess.Board, taking: chess.Move) -> list[chess.Square]:
    """Guards of what is taken that stand before something dearer, and the square taken on.

    Only where the capture seems to pay nothing because of them: were they to take back, a piece
    behind them would be lost. Pins to the king are `_pinned_guards`'s.
    """
    side, target = board.turn, taking.to_square
    if exchange_gain(board, taking) > 0:
        return []
    held = []
    for guard in board.attackers(not side, target):
        if board.is_pinned(not side, guard):
            continue
        for sniper in board.attackers(side, guard):
            kind = board.piece_type_at(sniper)
            if sniper == taking.from_square or kind not in (chess.BISHOP, chess.ROOK, chess.QUEEN):
                continue
            line = chess.ray(sniper, guard)
            if not line or chess.BB_SQUARES[target] & line:
                continue
            behind = _behind(board, sniper, guard)
            if behind is not None and _dearer(board, behind, guard, sniper):
                held.append(guard)
                break
    return [*held, target] if held else []


def _behind(board: chess.Board, sniper: chess.Square, guard: chess.Square) -> chess.Square | None:
    """The first man behind `guard` as `sniper` looks at it, where that is one of the same side."""
    occupied = board.occupied & ~chess.BB_SQUARES[guard]
    for square in chess.SquareSet(chess.ray(sniper, guard) & occupied):
        between = chess.between(sniper, square)
        if between & chess.BB_SQUARES[guard] and not between & occupied:
            same = board.color_at(square) == board.color_at(guard)
            return square if same else None
    return None


def _dearer(
    board: chess.Board, behind: chess.Square, guard: chess.Square, sniper: chess.Square
) -> bool:
    value = PIECE_VALUES[board.piece_type_at(behind) or 0]
    loose = not board.attackers_mask(not board.turn, behind)
    return value > PIECE_VALUES[board.piece_type_at(guard) or 0] and (
        loose or value > PIECE_VALUES[board.piece_type_at(sniper) or 0]
    )


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
