"""The measured fast path: words of a game to keys and moves, on python-chess's attack tables.

Whatever is not plain (an illegal move, two that fit, a promotion, a spelling that the standard
does not know) is not settled here: the game is handed to `careful`, which is slow and right.
Equality with python-chess is held by `tests/unit/test_base_reader.py`.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

import chess

from trainer.games.base.codes import PLAIN_CODES
from trainer.games.base.words import CAPTURE, KING, LONG, PUSH, SHORT, Word
from trainer.notation.attacks import (
    BISHOP_RAYS,
    DIAG_ATTACKS,
    DIAG_MASKS,
    FILE_ATTACKS,
    FILE_MASKS,
    KING_ATTACKS,
    KNIGHT_ATTACKS,
    QUEEN_RAYS,
    RANK_ATTACKS,
    RANK_MASKS,
    ROOK_RAYS,
)
from trainer.position import EN_PASSANT_KEYS, PIECE_KEYS, TURN_KEY, castling_key, position_key

_START_BOARD: Final = chess.Board()
START_KEY: Final = position_key(_START_BOARD)

# Pieces are numbered 1 to 6 for White and 7 to 12 for Black, 0 is an empty square. A pair of
# squares is a number of 12 bits, the first square in the upper six.
_BLACK: Final = 6
_SQUARES: Final = [
    0 if piece is None else piece.piece_type + (0 if piece.color else _BLACK)
    for piece in map(_START_BOARD.piece_at, chess.SQUARES)
]
_BOARDS: Final = [0] + [
    _START_BOARD.pieces_mask(piece_type, color)
    for color in (chess.WHITE, chess.BLACK)
    for piece_type in chess.PIECE_TYPES
]
_PAIRS: Final = tuple((first, second) for first in range(64) for second in range(64))
_BOTH: Final = tuple(1 << first | 1 << second for first, second in _PAIRS)
_BETWEEN: Final = tuple(chess.between(first, second) for first, second in _PAIRS)
_LINES: Final = tuple(chess.BB_RAYS[first][second] for first, second in _PAIRS)
_KEYS: Final = (
    (0,) * 64,
    *(PIECE_KEYS[color][piece] for color in (1, 0) for piece in range(1, 7)),
)
#: What a move of a piece changes in the key, the turn included: `[piece][origin, target]`.
_MOVE_KEYS: Final = tuple(
    tuple(table[first] ^ table[second] ^ TURN_KEY for first, second in _PAIRS) for table in _KEYS
)

#: What a knight, bishop, rook or queen sees on an empty board: `[piece][square]`.
_SEES: Final = ((), (), KNIGHT_ATTACKS, BISHOP_RAYS, ROOK_RAYS, QUEEN_RAYS)
#: From where pawns attack a square: `[offset of the attackers' pieces][square]`.
_PAWNS_FROM: Final = {
    0: tuple(chess.BB_PAWN_ATTACKS[chess.BLACK]),
    _BLACK: tuple(chess.BB_PAWN_ATTACKS[chess.WHITE]),
}


def _checking(piece: int) -> bytes:
    """Whether a piece on the second square sees a king on the first on an empty board."""
    kind = (piece - 1) % 6 + 1
    pawns = _PAWNS_FROM[0 if piece <= _BLACK else _BLACK]
    sees = (pawns, *_SEES[2:], (0,) * 64)[kind - 1]
    return bytes(sees[king] >> square & 1 for king, square in _PAIRS)


_CHECKS: Final = (b"", *(_checking(piece) for piece in range(1, 13)))

# Castling rights are a number of four bits: those of the rooks on h1, a1, h8 and a8.
_ROOKS: Final = (chess.H1, chess.A1, chess.H8, chess.A8)
_RIGHTS_KEYS: Final = tuple(
    castling_key(sum(chess.BB_SQUARES[_ROOKS[bit]] for bit in range(4) if rights >> bit & 1))
    for rights in range(16)
)
_LOST: Final = {chess.H1: 1, chess.A1: 2, chess.H8: 4, chess.A8: 8, chess.E1: 3, chess.E8: 12}
_KEPT: Final = tuple(15 & ~_LOST.get(square, 0) for square in range(64))

#: Where enemy pawns may stand that could take a pawn on a square in passing.
_BESIDE: Final = tuple(
    tuple(square + step for step in (-1, 1) if 0 <= (square & 7) + step <= 7 and 24 <= square < 40)
    for square in range(64)
)


def resolve(words: Iterable[Word], plies: int) -> tuple[list[int], list[int]] | None:  # noqa: PLR0911, PLR0912, PLR0915
    """Keys of the positions after each of the first `plies` moves, and codes of those moves.

    None where a move is in doubt. The loop is one function because a call for each move would
    cost as much as the move.
    """
    boards, squares = _BOARDS.copy(), _SQUARES.copy()
    occupied, key = 0xFFFF00000000FFFF, START_KEY
    own, other = 0, _BLACK
    king, other_king = chess.E1, chess.E8
    rights, passed, endangered = 15, -1, False
    keys: list[int] = []
    codes: list[int] = []
    for kind, target, target_bit, origins, _ in words:
        risky = endangered
        if 1 < kind < KING:
            piece = kind + own
            found = _SEES[kind][target] & boards[piece] & origins
            if found & (found - 1):
                found = _settle(found, target, boards, squares, occupied, king, other)
            origin = found.bit_length() - 1
            if origin < 0:
                return None
            pair = origin << 6 | target
            if _BETWEEN[pair] & occupied:
                return None
        elif kind == PUSH:
            piece = 1 + own
            if occupied & target_bit:
                return None
            origin = target + 8 if own else target - 8
            if squares[origin] != piece:
                if squares[origin] or target >> 3 != (4 if own else 3):
                    return None
                origin = target + 16 if own else target - 16
                if squares[origin] != piece:
                    return None
            pair = origin << 6 | target
        elif kind == CAPTURE:
            piece = 1 + own
            origin = origins & 63 if own else origins >> 6
            if squares[origin] != piece:
                return None
            pair = origin << 6 | target
            if not squares[target]:
                if target != passed:
                    return None
                victim = target + 8 if own else target - 8
                occupied ^= 1 << victim
                boards[1 + other] ^= 1 << victim
                squares[victim] = 0
                key ^= _KEYS[1 + other][victim]
                risky = True
        elif kind == KING:
            piece = KING + own
            origin = king
            if not KING_ATTACKS[king] & target_bit or not origins >> king & 1:
                return None
            pair = origin << 6 | target
            king = target
            risky = True
        elif kind in (SHORT, LONG):
            piece = KING + own
            origin = king
            rook_from, target, bit = (
                (origin + 3, origin + 2, 4 if own else 1)
                if kind == SHORT
                else (origin - 4, origin - 2, 8 if own else 2)
            )
            if not rights & bit or _BETWEEN[origin << 6 | rook_from] & occupied:
                return None
            middle = (origin + target) >> 1
            if _attacked(origin, occupied, boards, other) or _attacked(
                middle, occupied, boards, other
            ):
                return None
            pair = origin << 6 | target
            rook = 4 + own
            rook_pair = rook_from << 6 | middle
            boards[rook] ^= _BOTH[rook_pair]
            occupied ^= _BOTH[rook_pair]
            squares[rook_from], squares[middle] = 0, rook
            key ^= _MOVE_KEYS[rook][rook_pair] ^ TURN_KEY
            king = target
            risky = True
        else:
            return None

        line = _LINES[king << 6 | origin]
        if line and line & (boards[3 + other] | boards[4 + other] | boards[5 + other]):
            risky = True
        key ^= _MOVE_KEYS[piece][pair]
        both = _BOTH[pair]
        boards[piece] ^= both
        taken = squares[target]
        squares[origin], squares[target] = 0, piece
        if taken:
            if (taken > _BLACK) == (own > 0):
                return None
            boards[taken] ^= 1 << target
            key ^= _KEYS[taken][target]
            occupied ^= 1 << origin
        else:
            occupied ^= both
        if risky and _attacked(king, occupied, boards, other):
            return None
        if rights:
            kept = rights & _KEPT[origin] & _KEPT[target]
            if kept != rights:
                key ^= _RIGHTS_KEYS[rights] ^ _RIGHTS_KEYS[kept]
                rights = kept
        if passed >= 0:
            key ^= EN_PASSANT_KEYS[passed & 7]
            passed = -1
        line = _LINES[other_king << 6 | origin]
        endangered = (
            _CHECKS[piece][other_king << 6 | target] > 0
            or kind >= CAPTURE
            or (line and line & (boards[3 + own] | boards[4 + own] | boards[5 + own])) > 0
        )
        if kind == PUSH and target - origin in (16, -16):
            for beside in _BESIDE[target]:
                if squares[beside] == 1 + other:
                    middle = (origin + target) >> 1
                    boards[piece] ^= target_bit
                    after = (occupied ^ target_bit ^ 1 << beside) | 1 << middle
                    safe = not _attacked(other_king, after, boards, own)
                    boards[piece] ^= target_bit
                    if safe:
                        passed = middle
                        key ^= EN_PASSANT_KEYS[middle & 7]
                        break
        keys.append(key)
        codes.append(PLAIN_CODES[pair])
        if len(keys) == plies:
            break
        own, other = other, own
        king, other_king = other_king, king
    return keys, codes


def _settle(
    found: int,
    target: int,
    boards: list[int],
    squares: list[int],
    occupied: int,
    king: int,
    other: int,
) -> int:
    """The one of several pieces that may legally go to `target`, as a bitboard; else 0."""
    legal = 0
    taken = squares[target]
    while found:
        bit = found & -found
        found ^= bit
        origin = bit.bit_length() - 1
        if _BETWEEN[origin << 6 | target] & occupied:
            continue
        after = (occupied ^ bit) | 1 << target
        if taken > other and taken <= other + _BLACK:
            boards[taken] ^= 1 << target
            attacked = _attacked(king, after, boards, other)
            boards[taken] ^= 1 << target
        else:
            attacked = _attacked(king, after, boards, other)
        if not attacked:
            if legal:
                return 0
            legal = bit
    return legal


def _attacked(square: int, occupied: int, boards: list[int], by: int) -> bool:
    """Whether a piece of the side whose pieces are numbered from `by` on sees `square`."""
    if KNIGHT_ATTACKS[square] & boards[2 + by]:
        return True
    queens = boards[5 + by]
    diagonals = boards[3 + by] | queens
    if (
        BISHOP_RAYS[square] & diagonals
        and DIAG_ATTACKS[square][DIAG_MASKS[square] & occupied] & diagonals
    ):
        return True
    lines = boards[4 + by] | queens
    if ROOK_RAYS[square] & lines and lines & (
        RANK_ATTACKS[square][RANK_MASKS[square] & occupied]
        | FILE_ATTACKS[square][FILE_MASKS[square] & occupied]
    ):
        return True
    return bool(_PAWNS_FROM[by][square] & boards[1 + by] or KING_ATTACKS[square] & boards[6 + by])
