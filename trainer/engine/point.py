"""The point of a refutation: where it is made, and what it is, in plain words.

An engine's line goes on long after the point was made. It is cut at the first move from which
on what was won stays won. What is said about it is established by the rules in
`trainer.engine.motifs`, and only where the line itself bears it out: a piece is called trapped
where the line wins it. Where no rule holds, nothing is claimed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import chess

from trainer.engine.exchange import settled
from trainer.engine.motifs import (
    discovered_attacks,
    double_attack,
    is_back_rank_mate,
    is_trapped,
    piece_name,
    pins,
    promotions,
    undefended,
    unguarded_by,
)
from trainer.exchange import PIECE_VALUES, balance, exchange_gain, taken_by
from trainer.notation.display import sentence_list

#: Half-moves of a line that are looked at, and shown where no point is made.
_LONGEST: Final = 14
_SHOWN: Final = 5
#: What stays of the final gain, from the point on.
_SHARE: Final = 0.75
#: Moves of the refuting side at the end of a line by which the final gain is judged.
_LAST: Final = 2


class PointKind(StrEnum):
    """What a refutation comes to."""

    MATE = "mate"
    BACK_RANK = "back rank"
    PROMOTION = "promotion"
    TRAPPED = "trapped piece"
    DISCOVERED_ATTACK = "discovered attack"
    DOUBLE_ATTACK = "double attack"
    REMOVED_GUARD = "removed guard"
    PIN = "pin"
    UNDEFENDED = "undefended piece"
    MATERIAL = "material"
    NONE = "none"


@dataclass(frozen=True)
class Point:
    """A line up to where its point is made; `moves` begin with the refuting side's.

    `pawns` is the material it wins, in pawns, with exchanges settled (0 where it mates or wins
    none). `sentences` are plain and complete, with moves in SAN; there is none where nothing can
    be said by rule.
    """

    kind: PointKind
    moves: tuple[chess.Move, ...]
    pawns: int
    sentences: tuple[str, ...]


def find_point(board: chess.Board, played: chess.Move, line: Sequence[chess.Move]) -> Point:
    """The point of `line`, the answer to `played` on `board`; all of them legal."""
    boards = _boards(board, played, line[:_LONGEST])
    moves = tuple(line[: len(boards) - 1])
    if boards[-1].is_checkmate() and len(moves) % 2:
        return _mate(boards, moves)
    end = _where(board, boards, moves)
    if end is None:
        return _caught(board, boards, moves) or Point(PointKind.NONE, moves[:_SHOWN], 0, ())
    cut = moves[:end]
    kind, sentence = _motif(boards[: end + 1], cut)
    result = _material_sentence(board, boards[end])
    sentences = tuple(text for text in (sentence, result) if text)
    pawns = _had(board) - balance(boards[end], board.turn)
    return Point(kind, cut, pawns, sentences)


def _boards(
    board: chess.Board, played: chess.Move, line: Sequence[chess.Move]
) -> list[chess.Board]:
    """The positions after `played` and after each move of the line."""
    trial = board.copy(stack=False)
    trial.push(played)
    boards = [trial.copy(stack=False)]
    for move in line:
        trial.push(move)
        boards.append(trial.copy(stack=False))
    return boards


def _where(
    before: chess.Board, boards: list[chess.Board], moves: tuple[chess.Move, ...]
) -> int | None:
    """After how many moves of the line the point is made; None where no material is won.

    What counts is the balance after the refuting side's moves against what the other side had
    before its own. A pawn at least must be won, must outlast what the other side takes at once,
    and must last to the end of the line. Where the last move of the cut is taken back at once,
    that belongs to it.
    """
    side = before.turn
    had = _had(before)
    lost = {end: had - balance(boards[end], side) for end in range(1, len(boards), 2)}
    final = _final(lost, boards, side)
    if final < 1:
        return None
    for end, now in lost.items():
        answered = end < len(moves) and boards[end].is_capture(moves[end])
        held = had - balance(boards[end + 1], side) if answered else now
        later = [one for number, one in lost.items() if number > end]
        if min((held, *later)) >= final * _SHARE:
            pending = balance(boards[end], side) != settled(boards[end], side)
            # In check nothing is settled: what comes next tells.
            back = end < len(moves) and moves[end].to_square == moves[end - 1].to_square
            return end + 1 if (pending or back) and end + 1 < len(boards) else end
    return None


def _had(before: chess.Board) -> int:
    """What the side to move had before its move: with a piece that it could have taken back.

    A pawn that could be taken does not count: where both sides can take one, neither is ahead.
    """
    now, taking = balance(before, before.turn), settled(before, before.turn)
    return taking if taking - now > 1 else now


def _final(lost: dict[int, int], boards: list[chess.Board], side: chess.Color) -> int:
    """What is lost at the end: the least of the last quiet positions, where there are any."""
    last = list(lost)[-_LAST:]
    quiet = [lost[end] for end in last if balance(boards[end], side) == settled(boards[end], side)]
    if quiet:
        return min(quiet)
    if not last:
        return 0
    end = last[-1]
    return lost[end] + balance(boards[end], side) - settled(boards[end], side)


def _caught(
    before: chess.Board, boards: list[chess.Board], moves: tuple[chess.Move, ...]
) -> Point | None:
    """A piece that is trapped and taken, though pawns pay for it in the long run."""
    for number in range(0, len(moves), 2):
        found = _trapped(boards, moves, number)
        if found is None:
            continue
        for end in range(number + 3, len(boards), 2):
            lost = balance(before, before.turn) - balance(boards[end], before.turn)
            if lost >= 1:
                kind, sentence = found
                result = _material_sentence(before, boards[end])
                sentences = tuple(text for text in (sentence, result) if text)
                return Point(kind, moves[:end], lost, sentences)
    return None


# -- what it is ------------------------------------------------------------------------------


def _mate(boards: list[chess.Board], moves: tuple[chess.Move, ...]) -> Point:
    last = _san(boards, moves, len(moves) - 1)
    who = _side(not boards[-1].turn)
    if len(moves) == 1:
        sentence = f"{last.rstrip('#')} is mate at once."
    else:
        sentence = f"{who} mates in {(len(moves) + 1) // 2}, by {last.rstrip('#')} at the end."
    if is_back_rank_mate(boards[-1]):
        reason = "The king cannot step off its first rank."
        return Point(PointKind.BACK_RANK, moves, 0, (sentence, reason))
    return Point(PointKind.MATE, moves, 0, (sentence,))


def _motif(boards: list[chess.Board], moves: tuple[chess.Move, ...]) -> tuple[PointKind, str]:
    """The motif of a line that wins material, with its sentence; of several the plainest."""
    promoting = [number for number in promotions(moves) if number % 2 == 0]
    if promoting:
        square = chess.square_name(moves[promoting[0]].to_square)
        return PointKind.PROMOTION, f"The pawn promotes on {square} and the new piece stays."
    for rule in (_trapped, _discovered, _double_attack, _unguarded, _pinned, _undefended):
        for number in range(0, len(moves), 2):
            found = rule(boards, moves, number)
            if found is not None:
                return found
    return PointKind.MATERIAL, ""


def _trapped(
    boards: list[chess.Board], moves: tuple[chess.Move, ...], number: int
) -> tuple[PointKind, str] | None:
    before, after = boards[number], boards[number + 1]
    for square in chess.SquareSet(after.occupied_co[after.turn]):
        caught = is_trapped(after, square) and not is_trapped(before, square)
        if caught and _taken_later(square, moves[number + 1 :]):
            name, where = piece_name(after, square), chess.square_name(square)
            return PointKind.TRAPPED, (
                f"After {_san(boards, moves, number)} the {name} on {where} is trapped: wherever "
                "it goes, it is lost or costs material."
            )
    return None


def _discovered(
    boards: list[chess.Board], moves: tuple[chess.Move, ...], number: int
) -> tuple[PointKind, str] | None:
    before, after, rest = boards[number], boards[number + 1], moves[number + 1 :]
    for found in discovered_attacks(before, moves[number]):
        by = f"the {piece_name(after, found.by)} on {chess.square_name(found.by)}"
        san = _san(boards, moves, number)
        if after.piece_type_at(found.target) == chess.KING:
            if _gains_by_check(boards, moves, number):
                return PointKind.DISCOVERED_ATTACK, f"{san} uncovers a check by {by}."
        elif _taken_later(found.target, rest, by=found.by):
            return PointKind.DISCOVERED_ATTACK, (
                f"{san} uncovers an attack by {by} on the {piece_name(after, found.target)} on "
                f"{chess.square_name(found.target)}."
            )
    return None


def _gains_by_check(boards: list[chess.Board], moves: tuple[chess.Move, ...], number: int) -> bool:
    """Whether the man that uncovers a check takes something for it: with its next move, or at
    once what was guarded, and is not taken back."""
    before, move, rest = boards[number], moves[number], moves[number + 1 :]
    if len(rest) > 1 and rest[1].from_square == move.to_square:
        return boards[number + 2].is_capture(rest[1])
    guarded = before.is_capture(move) and exchange_gain(before, move) < taken_by(before, move)
    return guarded and bool(rest) and rest[0].to_square != move.to_square


def _unguarded(
    boards: list[chess.Board], moves: tuple[chess.Move, ...], number: int
) -> tuple[PointKind, str] | None:
    before, move = boards[number], moves[number]
    for target in unguarded_by(before, move):
        if _taken_later(target, moves[number + 1 :], staying=True):
            guard = f"the {piece_name(before, move.to_square)} on"
            return PointKind.REMOVED_GUARD, (
                f"{_san(boards, moves, number)} takes {guard} {chess.square_name(move.to_square)}"
                f", a guard of the {piece_name(before, target)} on {chess.square_name(target)}."
            )
    return None


def _double_attack(
    boards: list[chess.Board], moves: tuple[chess.Move, ...], number: int
) -> tuple[PointKind, str] | None:
    after, rest = boards[number + 1], moves[number + 1 :]
    origin = moves[number].to_square
    targets = double_attack(after, origin)
    if not any(_taken_later(target, rest, by=origin) for target in targets):
        return None
    named = sentence_list(
        f"the {piece_name(after, target)}"
        if after.piece_type_at(target) == chess.KING
        else f"the {piece_name(after, target)} on {chess.square_name(target)}"
        for target in targets
    )
    return PointKind.DOUBLE_ATTACK, f"{_san(boards, moves, number)} attacks {named} at once."


def _pinned(
    boards: list[chess.Board], moves: tuple[chess.Move, ...], number: int
) -> tuple[PointKind, str] | None:
    after = boards[number + 1]
    for pin in pins(after, after.turn):
        if _taken_later(pin.square, moves[number + 1 :], staying=True):
            return PointKind.PIN, (
                f"The {piece_name(after, pin.square)} on {chess.square_name(pin.square)} is "
                f"pinned to the {piece_name(after, pin.behind)} and is lost."
            )
    return None


def _undefended(
    boards: list[chess.Board], moves: tuple[chess.Move, ...], number: int
) -> tuple[PointKind, str] | None:
    before, move = boards[number], moves[number]
    if not before.is_capture(move) or before.is_en_passant(move):
        return None
    if move.to_square not in undefended(before, not before.turn):
        return None
    return PointKind.UNDEFENDED, (
        f"{_san(boards, moves, number)} takes the {piece_name(before, move.to_square)} on "
        f"{chess.square_name(move.to_square)}, which nothing defends."
    )


def _taken_later(
    square: chess.Square,
    rest: Sequence[chess.Move],
    *,
    by: chess.Square | None = None,
    staying: bool = False,
) -> bool:
    """Whether the man on `square` is taken in `rest`, whose first move is its own side's.

    It may move first, unless it is to be taken `staying`; `by` is where the man stands that is
    to take it.
    """
    for number, move in enumerate(rest):
        if number % 2 == 0:
            if move.from_square == square:
                if staying:
                    return False
                square = move.to_square
        else:
            if move.to_square == square:
                return by is None or move.from_square == by
            if by is not None and move.from_square == by:
                by = move.to_square
    return False


# -- words -----------------------------------------------------------------------------------


def _san(boards: list[chess.Board], moves: tuple[chess.Move, ...], number: int) -> str:
    return boards[number].san(moves[number])


def _side(color: chess.Color) -> str:
    return "White" if color else "Black"


def _material_sentence(before: chess.Board, after: chess.Board) -> str:
    """What the side to move `before` has lost on the board by `after`, and for what."""
    side = before.turn
    lost = _men(before, side) - _men(after, side)
    won = _men(before, not side) - _men(after, not side)
    lost, won = lost - won, won - lost
    for one, other in ((chess.KNIGHT, chess.BISHOP), (chess.BISHOP, chess.KNIGHT)):
        # A bishop for a knight is a trade, not a gain.
        traded = min(lost[one], won[other])
        lost[one] -= traded
        won[other] -= traded
    lost, won = +lost, +won
    minor = sum(won[piece] for piece in (chess.KNIGHT, chess.BISHOP))
    if lost == Counter({chess.ROOK: 1}) and minor == won.total() == 1:
        return f"{_side(not side)} wins the exchange: a rook for a {_named(won)[2:]}."
    paid = sum(PIECE_VALUES[piece] * count for piece, count in won.items())
    if sum(PIECE_VALUES[piece] * count for piece, count in lost.items()) - paid < 1:
        return ""
    return f"{_side(not side)} wins {_named(lost)}{f' for {_named(won)}' if won else ''}."


def _men(board: chess.Board, color: chess.Color) -> Counter[chess.PieceType]:
    return Counter(
        {
            piece_type: len(board.pieces(piece_type, color))
            for piece_type in chess.PIECE_TYPES
            if board.pieces(piece_type, color)
        }
    )


_NUMBERS: Final = ("no", "a", "two", "three", "four", "five", "six", "seven", "eight")


def _named(men: Counter[chess.PieceType]) -> str:
    """`the queen and a pawn`; the most valuable first."""
    words = []
    for piece_type in sorted(men, reverse=True):
        count, name = men[piece_type], chess.piece_name(piece_type)
        if count == 1 and piece_type == chess.QUEEN:
            words.append("the queen")
        elif count:
            words.append(f"{_NUMBERS[min(count, 8)]} {name}{'s' if count > 1 else ''}")
    return sentence_list(words)
