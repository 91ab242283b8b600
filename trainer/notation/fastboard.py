"""A light board for reading many moves: SAN in, moves, keys and packed positions out.

python-chess remains the authority on the rules; this is the measured fast path for files, built
on its public attack tables and held to it move by move in `tests/unit/test_san.py`. It knows
standard chess only, and only what reading needs: it keeps no history and generates no moves.
"""

from __future__ import annotations

import struct
from functools import lru_cache
from typing import Final

import chess

from trainer.notation.san import ANY_PIECE, CASTLE_SHORT, read_spelling
from trainer.position import (
    EN_PASSANT_KEYS,
    NO_SQUARE,
    PIECE_KEYS,
    TURN_KEY,
    castling_key,
    pack_position,
    position_key,
    unpack_position,
)

_PACKED: Final = struct.Struct("<8Q2B")
_LETTERS: Final = "..NBRQK"
_PAWN: Final = chess.PAWN
_KNIGHT: Final = chess.KNIGHT
_BISHOP: Final = chess.BISHOP
_ROOK: Final = chess.ROOK
_QUEEN: Final = chess.QUEEN
_KING: Final = chess.KING

_KNIGHT_ATTACKS: Final = tuple(chess.BB_KNIGHT_ATTACKS)
_KING_ATTACKS: Final = tuple(chess.BB_KING_ATTACKS)
_PAWN_ATTACKS: Final = tuple(tuple(attacks) for attacks in chess.BB_PAWN_ATTACKS)
_DIAG_MASKS: Final = tuple(chess.BB_DIAG_MASKS)
_DIAG_ATTACKS: Final = tuple(chess.BB_DIAG_ATTACKS)
_RANK_MASKS: Final = tuple(chess.BB_RANK_MASKS)
_RANK_ATTACKS: Final = tuple(chess.BB_RANK_ATTACKS)
_FILE_MASKS: Final = tuple(chess.BB_FILE_MASKS)
_FILE_ATTACKS: Final = tuple(chess.BB_FILE_ATTACKS)

# What a bishop, a rook and a queen see on an empty board (the masks above leave out the edges).
_BISHOP_RAYS: Final = tuple(table[0] for table in _DIAG_ATTACKS)
_ROOK_RAYS: Final = tuple(
    ranks[0] | files[0] for ranks, files in zip(_RANK_ATTACKS, _FILE_ATTACKS, strict=True)
)
_QUEEN_RAYS: Final = tuple(
    bishop | rook for bishop, rook in zip(_BISHOP_RAYS, _ROOK_RAYS, strict=True)
)

#: For each square: the castling rights that survive a move from it or to it.
_RIGHTS_KEPT: Final = tuple(
    chess.BB_ALL
    & ~(
        chess.BB_A1 | chess.BB_H1
        if square == chess.E1
        else chess.BB_A8 | chess.BB_H8
        if square == chess.E8
        else chess.BB_SQUARES[square]
    )
    for square in chess.SQUARES
)
_castling_key = lru_cache(maxsize=16)(castling_key)


@lru_cache(maxsize=1 << 16)
def shared_move(origin: int, target: int, promotion: int | None = None) -> chess.Move:
    """The one `chess.Move` object of these squares, so that 100,000 edges share few moves."""
    return chess.Move(origin, target, promotion)


class FastBoard:
    """A position that moves can be made on; the castling rights and en-passant square are exact.

    `boards[piece_type]` are bitboards of both colours, `white` the white pieces, `castling` the
    rooks that may still castle, `ep_square` the square of a *legal* en-passant capture or
    `NO_SQUARE`, `key` the `trainer.position.position_key`, `in_check` whether the side to move
    is in check.
    """

    __slots__ = (
        "boards",
        "castling",
        "ep_square",
        "in_check",
        "key",
        "occupied",
        "turn",
        "white",
    )

    def __init__(self, packed: bytes, key: int) -> None:
        *boards, white, castling, turn, ep_square = _PACKED.unpack(packed)
        self.boards: list[int] = [0, *boards]
        self.white: int = white
        self.occupied: int = boards[0] | boards[1] | boards[2] | boards[3] | boards[4] | boards[5]
        self.castling: int = castling
        self.turn: bool = turn == 1
        self.ep_square: int = ep_square
        self.key = key
        own = white if turn else self.occupied ^ white
        self.in_check = self._attacked(
            (boards[5] & own).bit_length() - 1, self.occupied, self.occupied ^ own
        )

    @classmethod
    def from_board(cls, board: chess.Board) -> FastBoard:
        """The position on `board`, which must be a legal position of standard chess."""
        return cls(pack_position(board), position_key(board))

    def pack(self) -> bytes:
        """The identity in 66 bytes, as `trainer.position.pack_position` gives it."""
        boards = self.boards
        return _PACKED.pack(
            boards[1],
            boards[2],
            boards[3],
            boards[4],
            boards[5],
            boards[6],
            self.white,
            self.castling,
            self.turn,
            self.ep_square,
        )

    def board(self) -> chess.Board:
        """A fresh python-chess board with this position."""
        return unpack_position(self.pack())

    # -- moves -------------------------------------------------------------------------------

    def resolve(self, san: str) -> chess.Move:
        """The legal move that `san` means here.

        Raises `chess.InvalidMoveError` where it is no move at all, `chess.IllegalMoveError`
        where no legal move fits, `chess.AmbiguousMoveError` where more than one does.
        """
        spelling = read_spelling(san)
        if spelling is None:
            raise chess.InvalidMoveError(f"{san!r} is no move")
        piece, target, origins, promotion = spelling
        if piece >= CASTLE_SHORT:
            return self._resolve_castling(piece == CASTLE_SHORT)
        own = self.white if self.turn else self.occupied ^ self.white
        if piece == ANY_PIECE:
            piece = self._piece_at(origins & own)
            if piece == _KING and origins & (chess.BB_E1 | chess.BB_E8):
                distance = target - (origins.bit_length() - 1)
                if distance in (2, -2) and promotion is None:
                    return self._resolve_castling(distance == 2)
        if piece == _PAWN:
            candidates = self._pawn_origins(target, promotion, own) & origins
        elif piece == ANY_PIECE or promotion is not None or own >> target & 1:
            candidates = 0
        else:
            candidates = self._origins(piece, target) & own & origins
        found = -1
        while candidates:
            bit = candidates & -candidates
            candidates ^= bit
            origin = bit.bit_length() - 1
            if self._legal(piece, origin, target, own):
                if found >= 0:
                    raise chess.AmbiguousMoveError(f"{san!r} fits more than one move")
                found = origin
        if found < 0:
            raise chess.IllegalMoveError(f"{san!r} is not legal")
        return shared_move(found, target, promotion)

    def san(self, move: chess.Move) -> str:
        """SAN of a legal move without its check sign; `check_sign` tells that after `push`."""
        origin, target = move.from_square, move.to_square
        own = self.white if self.turn else self.occupied ^ self.white
        piece = self._piece_at(1 << origin)
        if piece == _PAWN:
            text = chess.SQUARE_NAMES[target]
            if (origin ^ target) & 7:
                text = f"{chess.FILE_NAMES[origin & 7]}x{text}"
            if move.promotion is not None:
                text = f"{text}={_LETTERS[move.promotion]}"
            return text
        if piece == _KING and target - origin in (2, -2):
            return "O-O" if target > origin else "O-O-O"
        text = _LETTERS[piece]
        if piece != _KING:
            others = self._origins(piece, target) & own & ~(1 << origin)
            if others:
                text += self._disambiguation(piece, origin, target, others, own)
        if self.occupied >> target & 1:
            text += "x"
        return text + chess.SQUARE_NAMES[target]

    def check_sign(self) -> str:
        """`+` or `#` where the side to move is in check or mated, else nothing."""
        if not self.in_check:
            return ""
        return "#" if not self._king_can_step() and self.board().is_checkmate() else "+"

    def push(self, move: chess.Move) -> None:
        """Make a legal move."""
        origin, target, promotion = move.from_square, move.to_square, move.promotion
        from_bit, to_bit = 1 << origin, 1 << target
        boards, turn, occupied = self.boards, self.turn, self.occupied
        own = self.white if turn else occupied ^ self.white
        other = occupied ^ own
        own_keys = PIECE_KEYS[turn]
        key = self.key ^ TURN_KEY
        piece = self._piece_at(from_bit)
        ep_square, self.ep_square = self.ep_square, NO_SQUARE
        if ep_square != NO_SQUARE:
            key ^= EN_PASSANT_KEYS[ep_square & 7]

        taken_bit, taken_square = to_bit & other, target
        if piece == _PAWN and target == ep_square:
            taken_square = target - 8 if turn else target + 8
            taken_bit = 1 << taken_square
        if taken_bit:
            taken = self._piece_at(taken_bit)
            boards[taken] ^= taken_bit
            other ^= taken_bit
            key ^= PIECE_KEYS[not turn][taken][taken_square]

        landed = promotion or piece
        boards[piece] ^= from_bit
        boards[landed] ^= to_bit
        own ^= from_bit | to_bit
        key ^= own_keys[piece][origin] ^ own_keys[landed][target]

        rights = self.castling
        if rights:
            if piece == _KING and target - origin in (2, -2):
                rook_from, rook_to = (
                    (origin + 3, origin + 1) if target > origin else (origin - 4, origin - 1)
                )
                both = 1 << rook_from | 1 << rook_to
                boards[_ROOK] ^= both
                own ^= both
                key ^= own_keys[_ROOK][rook_from] ^ own_keys[_ROOK][rook_to]
            kept = rights & _RIGHTS_KEPT[origin] & _RIGHTS_KEPT[target]
            if kept != rights:
                self.castling = kept
                key ^= _castling_key(rights) ^ _castling_key(kept)

        self.occupied = occupied = own | other
        self.white = own if turn else other
        self.turn = not turn
        king = (boards[_KING] & other).bit_length() - 1
        self.in_check = self._attacked(king, occupied, own)
        if piece == _PAWN and target - origin in (16, -16):
            middle = (origin + target) >> 1
            takers = _PAWN_ATTACKS[turn][middle] & boards[_PAWN] & other
            if takers and self._can_take_en_passant(takers, target, middle, king, own):
                self.ep_square = middle
                key ^= EN_PASSANT_KEYS[middle & 7]
        self.key = key

    # -- how the pieces move -------------------------------------------------------------------

    def _piece_at(self, bit: int) -> int:
        boards = self.boards
        if boards[1] & bit:
            return 1
        for piece in (2, 3, 4, 5, 6):
            if boards[piece] & bit:
                return piece
        return 0

    def _origins(self, piece: int, target: int) -> int:
        """Where pieces of this type (not pawns) of either colour stand that see `target`."""
        occupied = self.occupied
        if piece == _KNIGHT:
            attacks = _KNIGHT_ATTACKS[target]
        elif piece == _KING:
            attacks = _KING_ATTACKS[target]
        else:
            attacks = 0
            if piece != _ROOK:
                attacks = _DIAG_ATTACKS[target][_DIAG_MASKS[target] & occupied]
            if piece != _BISHOP:
                attacks |= (
                    _RANK_ATTACKS[target][_RANK_MASKS[target] & occupied]
                    | _FILE_ATTACKS[target][_FILE_MASKS[target] & occupied]
                )
        return attacks & self.boards[piece]

    def _pawn_origins(self, target: int, promotion: int | None, own: int) -> int:
        """Where own pawns stand that may move or capture to `target`, pins left aside."""
        if (8 <= target < 56) != (promotion is None):
            return 0
        pawns, turn = self.boards[_PAWN] & own, self.turn
        if (self.occupied ^ own) >> target & 1 or target == self.ep_square:
            return _PAWN_ATTACKS[not turn][target] & pawns
        step = target - 8 if turn else target + 8
        if self.occupied >> target & 1 or step < 0 or step > 63:
            return 0
        if pawns >> step & 1:
            return 1 << step
        if target >> 3 == (3 if turn else 4) and not self.occupied >> step & 1:
            return pawns & 1 << (target - 16 if turn else target + 16)
        return 0

    def _legal(self, piece: int, origin: int, target: int, own: int) -> bool:
        """Whether a move that the piece can make leaves the own king safe."""
        from_bit, to_bit = 1 << origin, 1 << target
        occupied = self.occupied
        other = occupied ^ own
        if piece == _KING:
            return not self._attacked(target, occupied ^ from_bit, other & ~to_bit)
        king = (self.boards[_KING] & own).bit_length() - 1
        if piece == _PAWN and target == self.ep_square:
            to_bit_taken = 1 << (target - 8 if self.turn else target + 8)
            return not self._attacked(
                king, (occupied ^ from_bit ^ to_bit_taken) | to_bit, other ^ to_bit_taken
            )
        if not self.in_check and not _QUEEN_RAYS[king] & from_bit:
            return True
        return not self._attacked(king, (occupied ^ from_bit) | to_bit, other & ~to_bit)

    def _attacked(self, square: int, occupied: int, attackers: int) -> bool:
        """Whether one of `attackers`, all of one colour, sees `square` on an occupancy."""
        boards = self.boards
        if _KNIGHT_ATTACKS[square] & boards[_KNIGHT] & attackers:
            return True
        diagonals = (boards[_BISHOP] | boards[_QUEEN]) & attackers
        if (
            _BISHOP_RAYS[square] & diagonals
            and _DIAG_ATTACKS[square][_DIAG_MASKS[square] & occupied] & diagonals
        ):
            return True
        lines = (boards[_ROOK] | boards[_QUEEN]) & attackers
        if _ROOK_RAYS[square] & lines and lines & (
            _RANK_ATTACKS[square][_RANK_MASKS[square] & occupied]
            | _FILE_ATTACKS[square][_FILE_MASKS[square] & occupied]
        ):
            return True
        if _KING_ATTACKS[square] & attackers & (boards[_KING] | boards[_PAWN]):
            if _KING_ATTACKS[square] & attackers & boards[_KING]:
                return True
            white = bool(attackers & self.white)
            return bool(_PAWN_ATTACKS[not white][square] & boards[_PAWN] & attackers)
        return False

    def _resolve_castling(self, short: bool) -> chess.Move:
        king = chess.E1 if self.turn else chess.E8
        rook, target, between = (
            (king + 3, king + 2, 0b11 << king + 1)
            if short
            else (king - 4, king - 2, 0b111 << king - 3)
        )
        own = self.white if self.turn else self.occupied ^ self.white
        other = self.occupied ^ own
        if (
            not self.castling >> rook & 1
            or self.occupied & between
            or self.in_check
            or self._attacked((king + target) >> 1, self.occupied, other)
            or self._attacked(target, self.occupied, other)
        ):
            raise chess.IllegalMoveError("castling is not legal")
        return shared_move(king, target)

    def _can_take_en_passant(
        self, takers: int, target: int, middle: int, king: int, attackers: int
    ) -> bool:
        left = attackers ^ 1 << target
        while takers:
            taker = takers & -takers
            takers ^= taker
            occupied = (self.occupied ^ taker ^ 1 << target) | 1 << middle
            if not self._attacked(king, occupied, left):
                return True
        return False

    def _disambiguation(self, piece: int, origin: int, target: int, others: int, own: int) -> str:
        """File, rank or square, in this order of preference (PGN Standard, 8.2.3.4)."""
        rivals = 0
        while others:
            bit = others & -others
            others ^= bit
            if self._legal(piece, bit.bit_length() - 1, target, own):
                rivals |= bit
        if not rivals:
            return ""
        if not rivals & chess.BB_FILES[origin & 7]:
            return chess.FILE_NAMES[origin & 7]
        if not rivals & chess.BB_RANKS[origin >> 3]:
            return chess.RANK_NAMES[origin >> 3]
        return chess.SQUARE_NAMES[origin]

    def _king_can_step(self) -> bool:
        own = self.white if self.turn else self.occupied ^ self.white
        king = (self.boards[_KING] & own).bit_length() - 1
        targets = _KING_ATTACKS[king] & ~own
        while targets:
            bit = targets & -targets
            targets ^= bit
            if self._legal(_KING, king, bit.bit_length() - 1, own):
                return True
        return False
