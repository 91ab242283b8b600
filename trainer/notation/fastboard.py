"""A light board for reading many moves: SAN in, moves, keys and packed positions out.

python-chess remains the authority on the rules; this is the measured fast path for files, built
on its public attack tables and held to it move by move in `tests/unit/test_san.py`. It knows
standard chess only, and only what reading needs: it keeps no history and generates no moves.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final

import chess

from trainer.notation.attacks import (
    BISHOP_RAYS,
    DIAG_ATTACKS,
    DIAG_MASKS,
    FILE_ATTACKS,
    FILE_MASKS,
    KING_ATTACKS,
    KNIGHT_ATTACKS,
    PAWN_ATTACKS,
    QUEEN_RAYS,
    RANK_ATTACKS,
    RANK_MASKS,
    ROOK_RAYS,
)
from trainer.notation.san import ANY_PIECE, CASTLE_SHORT, read_spelling
from trainer.position import (
    EN_PASSANT_KEYS,
    NO_SQUARE,
    PACKED,
    PIECE_KEYS,
    TURN_KEY,
    castling_key,
    pack_position,
    position_key,
    unpack_position,
)

_LETTERS: Final = "..NBRQK"
_PAWN: Final = chess.PAWN
_KNIGHT: Final = chess.KNIGHT
_BISHOP: Final = chess.BISHOP
_ROOK: Final = chess.ROOK
_QUEEN: Final = chess.QUEEN
_KING: Final = chess.KING
_PAWN_AND_KING: Final = (_PAWN, _KING)

_SQUARES: Final = tuple(chess.BB_SQUARES)
#: The key's term of a piece that leaves a square, and of the turn that then passes.
_LEAVING_KEYS: Final = tuple(
    tuple(tuple(key ^ TURN_KEY for key in table) for table in tables) for tables in PIECE_KEYS
)
#: From where a piece of `[colour][piece type]` may give check to a king on `[square]`.
_CHECKS_FROM: Final = tuple(
    (
        (0,) * 64,
        PAWN_ATTACKS[not color],
        KNIGHT_ATTACKS,
        BISHOP_RAYS,
        ROOK_RAYS,
        QUEEN_RAYS,
        (0,) * 64,
    )
    for color in (chess.BLACK, chess.WHITE)
)
#: The whole line through two squares, 0 where they are on none: `[square][square]`.
_LINES: Final = tuple(tuple(rays) for rays in chess.BB_RAYS)

# Texts of moves, made once and shared by all edges: [takes][piece][target], [file][target].
_PLAIN_MOVES: Final = tuple(
    tuple(tuple(f"{letter}{sign}{name}" for name in chess.SQUARE_NAMES) for letter in _LETTERS)
    for sign in ("", "x")
)
_PAWN_CAPTURES: Final = tuple(
    tuple(f"{file}x{name}" for name in chess.SQUARE_NAMES) for file in chess.FILE_NAMES
)

#: What the rook's move changes, squares and key, by the square the castling king goes to.
_ROOK_MOVES: Final = {
    king: (
        1 << origin | 1 << target,
        PIECE_KEYS[color][_ROOK][origin] ^ PIECE_KEYS[color][_ROOK][target],
    )
    for color, king, origin, target in (
        (chess.WHITE, chess.G1, chess.H1, chess.F1),
        (chess.WHITE, chess.C1, chess.A1, chess.D1),
        (chess.BLACK, chess.G8, chess.H8, chess.F8),
        (chess.BLACK, chess.C8, chess.A8, chess.D8),
    )
}

#: For each square: the castling rights that survive a move from it or to it.
RIGHTS_KEPT: Final = tuple(
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


_MOVES: Final = tuple(chess.Move(origin, target) for origin in range(64) for target in range(64))
_promotion = lru_cache(maxsize=None)(chess.Move)


def key_after(packed: bytes, key: int, move: chess.Move) -> int:
    """The key of the position that a legal move leads to from this one."""
    board = FastBoard(packed, key)
    board.push(move)
    return board.key


def shared_move(origin: int, target: int, promotion: int | None = None) -> chess.Move:
    """The one `chess.Move` object of these squares, so that 100,000 edges share few moves."""
    if promotion is None:
        return _MOVES[origin << 6 | target]
    return _promotion(origin, target, promotion)


class FastBoard:
    """A position that moves can be made on; the castling rights and en-passant square are exact.

    `boards[piece_type]` are bitboards of both colours, `own` and `other` the pieces of the side
    to move and of the opponent, `king` and `other_king` the squares of their kings, `castling`
    the rooks that may still castle, `ep_square` the square of a *legal* en-passant capture or
    `NO_SQUARE`, `key` the `trainer.position.position_key`, `in_check` whether the side to move
    is in check.
    """

    __slots__ = (
        "boards",
        "castling",
        "ep_square",
        "in_check",
        "key",
        "king",
        "occupied",
        "other",
        "other_king",
        "own",
        "turn",
    )

    def __init__(self, packed: bytes, key: int, *, in_check: bool | None = None) -> None:
        """The position `packed` with its key; `in_check` saves looking where it is known."""
        pawns, knights, bishops, rooks, queens, kings, white, castling, turn, ep_square = (
            PACKED.unpack(packed)
        )
        occupied: int = pawns | knights | bishops | rooks | queens | kings
        self.boards: list[int] = [0, pawns, knights, bishops, rooks, queens, kings]
        self.occupied = occupied
        self.castling: int = castling
        self.turn: bool = turn == 1
        self.ep_square: int = ep_square
        self.key = key
        self.own: int = white if turn else occupied ^ white
        self.other: int = occupied ^ self.own
        self.king: int = (kings & self.own).bit_length() - 1
        self.other_king: int = (kings & self.other).bit_length() - 1
        if in_check is None:
            in_check = self._attacked(self.king, occupied, self.other)
        self.in_check = in_check

    @classmethod
    def from_board(cls, board: chess.Board) -> FastBoard:
        """The position on `board`, which must be a legal position of standard chess."""
        return cls(pack_position(board), position_key(board))

    def pack(self) -> bytes:
        """The identity in 66 bytes, as `trainer.position.pack_position` gives it."""
        _, pawns, knights, bishops, rooks, queens, kings = self.boards
        white = self.own if self.turn else self.other
        rights, ep_square = self.castling, self.ep_square
        return PACKED.pack(
            pawns, knights, bishops, rooks, queens, kings, white, rights, self.turn, ep_square
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
        _, origin, target, promotion, _ = self._find(san)
        return shared_move(origin, target, promotion)

    def play(self, san: str) -> tuple[chess.Move, str]:
        """Make the move that `san` means; returns it with its SAN as the standard writes it.

        Raises as `resolve` does, with nothing changed.
        """
        piece, origin, target, promotion, rivals = self._find(san)
        if rivals or piece in _PAWN_AND_KING:
            text = self._text(piece, origin, target, promotion, rivals)
        else:
            text = _PLAIN_MOVES[1 if self.other & _SQUARES[target] else 0][piece][target]
        self._make(piece, origin, target, promotion)
        if self.in_check:
            text += self.check_sign()
        if promotion is None:
            return _MOVES[origin << 6 | target], text
        return _promotion(origin, target, promotion), text

    def san(self, move: chess.Move) -> str:
        """SAN of a legal move without its check sign; `check_sign` tells that after `push`."""
        origin, target = move.from_square, move.to_square
        piece = self._piece_at(1 << origin)
        rivals = 0
        if piece not in (_PAWN, _KING):
            own = self.own
            others = self._origins(piece, target) & own & ~(1 << origin)
            rivals = self._legal_among(others, piece, target)
        return self._text(piece, origin, target, move.promotion, rivals)

    def check_sign(self) -> str:
        """`+` or `#` where the side to move is in check or mated, else nothing."""
        if not self.in_check:
            return ""
        return "#" if not self._king_can_step() and self.board().is_checkmate() else "+"

    def push(self, move: chess.Move) -> None:
        """Make a legal move."""
        self._make(
            self._piece_at(1 << move.from_square),
            move.from_square,
            move.to_square,
            move.promotion,
        )

    # -- finding and making ------------------------------------------------------------------

    def _find(self, san: str) -> tuple[int, int, int, int | None, int]:
        """Piece, origin, target and promotion of the move, and the other pieces of its kind.

        The last is a bitboard of those that could legally go to the same square.
        """
        spelling = read_spelling(san)
        if spelling is None:
            raise chess.InvalidMoveError(f"{san!r} is no move")
        piece, target, origins, promotion = spelling
        own = self.own
        if piece == ANY_PIECE:
            piece = self._piece_at(origins & own)
            if piece == _KING and self._castles(origins, target) and promotion is None:
                return self._find_castling(target & 7 == 6)
        elif piece > _KING:
            return self._find_castling(piece == CASTLE_SHORT)
        if piece == _PAWN:
            candidates = self._pawn_origins(target, promotion, own) & origins
        elif piece == ANY_PIECE or promotion is not None or own & _SQUARES[target]:
            candidates = 0
        else:
            candidates = self._origins(piece, target) & own
        origin = candidates.bit_length() - 1
        rivals = 0
        if candidates != _SQUARES[origin]:  # none or several
            candidates = self._legal_among(candidates, piece, target)
            rivals, candidates = candidates & ~origins, candidates & origins
            if candidates & (candidates - 1):
                raise chess.AmbiguousMoveError(f"{san!r} fits more than one move")
            origin = candidates.bit_length() - 1
        if origin < 0 or not candidates & origins:
            raise chess.IllegalMoveError(f"{san!r} is not legal")
        if not rivals:  # with rivals, what is left was looked at already
            # As `_may_be_pinned`, without its call: every move that is read comes here.
            line = _LINES[self.king][origin] & self.other
            if (
                self.in_check
                or piece == _KING
                or target == self.ep_square
                or (line and self._holds_lines(line))
            ) and not self._legal(piece, origin, target):
                raise chess.IllegalMoveError(f"{san!r} is not legal")
        return piece, origin, target, promotion, rivals

    def _find_castling(self, short: bool) -> tuple[int, int, int, int | None, int]:
        king = chess.E1 if self.turn else chess.E8
        rook, target, between = (
            (king + 3, king + 2, 0b11 << king + 1)
            if short
            else (king - 4, king - 2, 0b111 << king - 3)
        )
        other = self.other
        if (
            not self.castling >> rook & 1
            or self.occupied & between
            or self.in_check
            or self._attacked((king + target) >> 1, self.occupied, other)
            or self._attacked(target, self.occupied, other)
        ):
            raise chess.IllegalMoveError("castling is not legal")
        return _KING, king, target, None, 0

    def _castles(self, origins: int, target: int) -> bool:
        king = chess.E1 if self.turn else chess.E8
        return origins == 1 << king and target in (king + 2, king - 2)

    def _text(
        self, piece: int, origin: int, target: int, promotion: int | None, rivals: int
    ) -> str:
        """SAN without its check sign (PGN Standard, 8.2.3)."""
        if piece == _PAWN:
            if not (origin ^ target) & 7:
                text = chess.SQUARE_NAMES[target]
            else:
                text = _PAWN_CAPTURES[origin & 7][target]
            return text if promotion is None else f"{text}={_LETTERS[promotion]}"
        if piece == _KING and target - origin in (2, -2):
            return "O-O" if target > origin else "O-O-O"
        takes = self.occupied >> target & 1
        if not rivals:
            return _PLAIN_MOVES[takes][piece][target]
        # File, rank or square, in this order of preference (8.2.3.4).
        if not rivals & chess.BB_FILES[origin & 7]:
            whence = chess.FILE_NAMES[origin & 7]
        elif not rivals & chess.BB_RANKS[origin >> 3]:
            whence = chess.RANK_NAMES[origin >> 3]
        else:
            whence = chess.SQUARE_NAMES[origin]
        return f"{_LETTERS[piece]}{whence}{'x' if takes else ''}{chess.SQUARE_NAMES[target]}"

    def _make(self, piece: int, origin: int, target: int, promotion: int | None) -> None:
        from_bit, to_bit = _SQUARES[origin], _SQUARES[target]
        changed = from_bit | to_bit
        # Squares other than the two that the move empties or fills: en passant and castling.
        more_changed = 0
        boards, turn, own, other = self.boards, self.turn, self.own, self.other
        key = self.key ^ _LEAVING_KEYS[turn][piece][origin]
        if other & to_bit:
            taken = self._piece_at(to_bit)
            boards[taken] ^= to_bit
            other ^= to_bit
            key ^= PIECE_KEYS[not turn][taken][target]
        if promotion is None:
            boards[piece] ^= changed
            key ^= PIECE_KEYS[turn][piece][target]
        else:
            boards[_PAWN] ^= from_bit
            boards[promotion] ^= to_bit
            key ^= PIECE_KEYS[turn][promotion][target]
        own ^= changed
        ep_square = self.ep_square
        if ep_square != NO_SQUARE:
            self.ep_square = NO_SQUARE
            key ^= EN_PASSANT_KEYS[ep_square & 7]
            if piece == _PAWN and target == ep_square:
                taken_square = target - 8 if turn else target + 8
                boards[_PAWN] ^= 1 << taken_square
                other ^= 1 << taken_square
                key ^= PIECE_KEYS[not turn][_PAWN][taken_square]
                more_changed = 1 << taken_square
        if self.castling:
            if piece == _KING and target - origin in (2, -2):
                more_changed, rook_key = _ROOK_MOVES[target]
                boards[_ROOK] ^= more_changed
                own ^= more_changed
                key ^= rook_key
            rights = self.castling
            kept = rights & RIGHTS_KEPT[origin] & RIGHTS_KEPT[target]
            if kept != rights:
                self.castling = kept
                key ^= _castling_key(rights) ^ _castling_key(kept)
        self.occupied = occupied = own | other
        self.own, self.other = other, own
        self.turn = not turn
        king = self.other_king
        self.king, self.other_king = king, target if piece == _KING else self.king
        # A check comes from the piece that moved, or from one behind the square it left.
        line = _LINES[king][origin] & own
        self.in_check = bool(
            _CHECKS_FROM[turn][promotion or piece][king] & to_bit
            or (line and line & (boards[_BISHOP] | boards[_ROOK] | boards[_QUEEN]))
            or more_changed
        ) and self._attacked(king, occupied, own)
        self.key = key
        if piece == _PAWN and target - origin in (16, -16):
            self._note_double_step(target, king)

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
            attacks = KNIGHT_ATTACKS[target]
        elif piece == _KING:
            attacks = KING_ATTACKS[target]
        else:
            attacks = 0
            if piece != _ROOK:
                attacks = DIAG_ATTACKS[target][DIAG_MASKS[target] & occupied]
            if piece != _BISHOP:
                attacks |= (
                    RANK_ATTACKS[target][RANK_MASKS[target] & occupied]
                    | FILE_ATTACKS[target][FILE_MASKS[target] & occupied]
                )
        return attacks & self.boards[piece]

    def _pawn_origins(self, target: int, promotion: int | None, own: int) -> int:
        """Where own pawns stand that may move or capture to `target`, pins left aside."""
        if (8 <= target < 56) != (promotion is None):
            return 0
        pawns, turn = self.boards[_PAWN] & own, self.turn
        if self.other & _SQUARES[target] or target == self.ep_square:
            return PAWN_ATTACKS[not turn][target] & pawns
        step = target - 8 if turn else target + 8
        if own & _SQUARES[target] or step < 0 or step > 63:
            return 0
        if pawns & _SQUARES[step]:
            return _SQUARES[step]
        if target >> 3 == (3 if turn else 4) and not self.occupied >> step & 1:
            return pawns & 1 << (target - 16 if turn else target + 16)
        return 0

    def _legal(self, piece: int, origin: int, target: int) -> bool:
        """Whether a move that the piece can make leaves the own king safe."""
        from_bit, to_bit = 1 << origin, 1 << target
        occupied = self.occupied
        other = self.other
        if piece == _KING:
            return not self._attacked(target, occupied ^ from_bit, other & ~to_bit)
        king = self.king
        if piece == _PAWN and target == self.ep_square:
            to_bit_taken = 1 << (target - 8 if self.turn else target + 8)
            return not self._attacked(
                king, (occupied ^ from_bit ^ to_bit_taken) | to_bit, other ^ to_bit_taken
            )
        if not self.in_check and not self._may_be_pinned(origin):
            return True
        return not self._attacked(king, (occupied ^ from_bit) | to_bit, other & ~to_bit)

    def _attacked(self, square: int, occupied: int, attackers: int) -> bool:
        """Whether one of `attackers`, of the side not to move, sees `square` on an occupancy."""
        boards = self.boards
        if KNIGHT_ATTACKS[square] & boards[_KNIGHT] & attackers:
            return True
        diagonals = (boards[_BISHOP] | boards[_QUEEN]) & attackers
        if (
            BISHOP_RAYS[square] & diagonals
            and DIAG_ATTACKS[square][DIAG_MASKS[square] & occupied] & diagonals
        ):
            return True
        lines = (boards[_ROOK] | boards[_QUEEN]) & attackers
        if ROOK_RAYS[square] & lines and lines & (
            RANK_ATTACKS[square][RANK_MASKS[square] & occupied]
            | FILE_ATTACKS[square][FILE_MASKS[square] & occupied]
        ):
            return True
        if KING_ATTACKS[square] & attackers & (boards[_KING] | boards[_PAWN]):
            if KING_ATTACKS[square] & attackers & boards[_KING]:
                return True
            return bool(PAWN_ATTACKS[self.turn][square] & boards[_PAWN] & attackers)
        return False

    def _note_double_step(self, target: int, king: int) -> None:
        """Set the en-passant square behind `target` if a capture there would be legal."""
        # The side to move is the one that may capture now.
        middle = target + 8 if self.turn else target - 8
        takers = PAWN_ATTACKS[not self.turn][middle] & self.boards[_PAWN] & self.own
        left = self.other ^ 1 << target
        while takers:
            taker = takers & -takers
            takers ^= taker
            occupied = (self.occupied ^ taker ^ 1 << target) | 1 << middle
            if not self._attacked(king, occupied, left):
                self.ep_square = middle
                self.key ^= EN_PASSANT_KEYS[middle & 7]
                return

    def _may_be_pinned(self, origin: int) -> bool:
        """Whether a line piece of the opponent stands on one line with `origin` and the king."""
        line = _LINES[self.king][origin] & self.other
        return bool(line and self._holds_lines(line))

    def _holds_lines(self, squares: int) -> bool:
        """Whether a bishop, rook or queen of either side stands on one of `squares`."""
        boards = self.boards
        return bool(squares & (boards[_BISHOP] | boards[_ROOK] | boards[_QUEEN]))

    def _legal_among(self, candidates: int, piece: int, target: int) -> int:
        """Those of the candidates whose move leaves the own king safe."""
        legal = 0
        while candidates:
            bit = candidates & -candidates
            candidates ^= bit
            if self._legal(piece, bit.bit_length() - 1, target):
                legal |= bit
        return legal

    def _king_can_step(self) -> bool:
        own = self.own
        king = self.king
        targets = KING_ATTACKS[king] & ~own
        while targets:
            bit = targets & -targets
            targets ^= bit
            if self._legal(_KING, king, bit.bit_length() - 1):
                return True
        return False
