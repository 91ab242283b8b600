"""Many positions at once: one move made on each of them, with numpy.

A large file holds thousands of positions at the same depth, and one operation on an array costs
little more than one on a number. The rules are those of `fastboard.FastBoard`, which stays the
measure: `tests/unit/test_boards_in_rows.py` holds both, and python-chess, to the same moves, keys
and positions. What is not a plain legal move (unreadable, illegal, ambiguous, or given by squares
alone) is left to `FastBoard`, which knows what to say about it.

Bitboards are unsigned 64-bit numbers; rows are positions.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import chess
import numpy as np
import numpy.typing as npt

from trainer.notation.fastboard import RIGHTS_KEPT, FastBoard
from trainer.notation.many_attacks import (
    BETWEEN,
    KINGS,
    LINES,
    ONE,
    PAWNS,
    RAYS,
    SQUARES,
    ZERO,
    Bitboards,
    Bools,
    Rows,
    attacked,
    bitboards,
    lowest,
    square_of,
)
from trainer.notation.many_moves import Moves, Spellings
from trainer.notation.san import CASTLE_LONG, CASTLE_SHORT
from trainer.position import (
    EN_PASSANT_KEYS,
    NO_SQUARE,
    PACKED,
    PIECE_KEYS,
    TURN_KEY,
    castling_key,
)

_PAWN: Final = chess.PAWN
_KING: Final = chess.KING
_PIECE_KEYS: Final = bitboards(PIECE_KEYS)
#: By file; the last stands for no en-passant square.
_EP_KEYS: Final = bitboards([*EN_PASSANT_KEYS, 0])
_TURN: Final = np.uint64(TURN_KEY)
_RIGHTS_KEPT: Final = bitboards(RIGHTS_KEPT)
_CORNERS: Final = (chess.A1, chess.H1, chess.A8, chess.H8)
_CORNER_KEYS: Final = bitboards([castling_key(chess.BB_SQUARES[square]) for square in _CORNERS])
#: The layout of `trainer.position.PACKED`, for arrays.
PACKED_ROW: Final = np.dtype([("boards", "<u8", 8), ("turn", "u1"), ("ep_square", "u1")])
assert PACKED_ROW.itemsize == PACKED.size


#: What a `ManyBoards` holds in one number a row, in order.
_COLUMNS: Final = (
    "own",
    "other",
    "castling",
    "ep_square",
    "king",
    "other_king",
    "key",
    "in_check",
)


@dataclass(eq=False)
class ManyBoards:
    """n positions with the same side to move.

    `pieces` (7, n) are bitboards of both colours by piece type, `own` and `other` (n) the pieces
    of the side to move and of the opponent, `castling` the rooks that may still castle,
    `ep_square` the square of a legal en-passant capture or `NO_SQUARE`, `king` and `other_king`
    squares, `key` the `trainer.position.position_key`, `in_check` whether the side to move is.
    """

    turn: chess.Color
    pieces: Bitboards
    own: Bitboards
    other: Bitboards
    castling: Bitboards
    ep_square: Rows
    king: Rows
    other_king: Rows
    key: Bitboards
    in_check: Bools

    @classmethod
    def of(cls, board: FastBoard) -> ManyBoards:
        """One row: the position on `board`."""
        return cls(
            board.turn,
            bitboards(board.boards)[:, None],
            bitboards([board.own]),
            bitboards([board.other]),
            bitboards([board.castling]),
            np.array([board.ep_square], np.intp),
            np.array([board.king], np.intp),
            np.array([board.other_king], np.intp),
            bitboards([board.key]),
            np.array([board.in_check], np.bool_),
        )

    @classmethod
    def joined(cls, parts: Sequence[ManyBoards]) -> ManyBoards:
        """The rows of one or more parts, one after the other."""
        if len(parts) == 1:
            return parts[0]
        return cls(
            parts[0].turn,
            np.concatenate([part.pieces for part in parts], axis=1),
            *(np.concatenate([getattr(part, name) for part in parts]) for name in _COLUMNS),
        )

    def __len__(self) -> int:
        return len(self.key)

    def __getitem__(self, rows: Rows) -> ManyBoards:
        """Copies of some rows, in any order and any number of times."""
        return ManyBoards(
            self.turn, self.pieces[:, rows], *(getattr(self, name)[rows] for name in _COLUMNS)
        )

    def packed(self) -> npt.NDArray[np.void]:
        """Each position in 66 bytes, as `trainer.position.pack_position` gives it (n)."""
        found = np.empty(len(self), PACKED_ROW)
        boards = found["boards"]
        boards[:, :6] = self.pieces[1:].T
        boards[:, 6] = self.own if self.turn else self.other
        boards[:, 7] = self.castling
        found["turn"] = self.turn
        found["ep_square"] = self.ep_square
        return found

    # -- finding -----------------------------------------------------------------------------

    def find(self, spellings: Spellings) -> tuple[Rows, Moves]:
        """The rows in which exactly one legal move fits the spelling, and these moves."""
        castling = spellings.piece > _KING
        piece = np.where(castling, _KING, spellings.piece)
        target = spellings.target.copy()
        candidates = np.where(castling, ZERO, self._candidates(spellings))
        legal = self._legal_among(candidates, piece, target)
        chosen = legal & spellings.origins
        self._castle(np.flatnonzero(castling), spellings.piece, chosen, target)
        single = (chosen != 0) & ((chosen & (chosen - ONE)) == 0)
        rows = np.flatnonzero(single)
        return rows, Moves(
            piece[rows],
            square_of(chosen[rows]),
            target[rows],
            spellings.promotion[rows],
            (legal & ~chosen)[rows],
            castling[rows],
        )

    def _candidates(self, spellings: Spellings) -> Bitboards:
        """Where pieces stand that may go to the target, pins left aside; pawns by origin too."""
        piece, target = np.maximum(spellings.piece, 0), spellings.target
        piece = np.where(piece > _KING, 0, piece)
        at_target = SQUARES[target]
        found = RAYS[piece, target] & self.pieces[piece, np.arange(len(self))] & self.own
        found[(spellings.promotion != 0) | ((self.own & at_target) != 0)] = 0
        self._cut_blocked(found, piece, target)
        pawns = np.flatnonzero(spellings.piece == _PAWN)
        if len(pawns):
            found[pawns] = self._pawn_origins(
                pawns, target[pawns], spellings.promotion[pawns] != 0
            )
            found[pawns] &= spellings.origins[pawns]
        return found

    def _cut_blocked(self, found: Bitboards, piece: Rows, target: Rows) -> None:
        """Leave out line pieces that something stands in the way of."""
        left = np.where((piece >= chess.BISHOP) & (piece <= chess.QUEEN), found, ZERO)
        rows = np.flatnonzero(left)
        occupied = self.own | self.other
        while len(rows):
            bit = lowest(left[rows])
            left[rows] ^= bit
            blocked = (BETWEEN[target[rows], square_of(bit)] & occupied[rows]) != 0
            found[rows[blocked]] ^= bit[blocked]
            rows = rows[left[rows] != 0]

    def _pawn_origins(self, rows: Rows, target: Rows, promotes: Bools) -> Bitboards:
        own, other = self.own[rows], self.other[rows]
        pawns, at_target = self.pieces[_PAWN, rows] & own, SQUARES[target]
        takes = ((other & at_target) != 0) | (target == self.ep_square[rows])
        behind = -8 if self.turn else 8
        step = target + behind
        on_board = (step >= 0) & (step < 64)
        one = SQUARES[np.where(on_board, step, 0)]
        occupied = own | other
        first = target >> 3 == (3 if self.turn else 4)
        two = SQUARES[np.where(first, target + 2 * behind, 0)]
        quiet = np.where(
            (pawns & one) != 0,
            one,
            np.where(first & ((occupied & one) == 0), pawns & two, ZERO),
        )
        quiet[~on_board | ((occupied & at_target) != 0)] = 0
        found = np.where(takes, PAWNS[int(not self.turn)][target] & pawns, quiet)
        inside = (target >= 8) & (target < 56)
        found[inside == promotes] = 0
        result: Bitboards = found
        return result

    def _legal_among(self, candidates: Bitboards, piece: Rows, target: Rows) -> Bitboards:
        """Those of the candidates whose move leaves the own king safe."""
        legal, left = np.zeros_like(candidates), candidates.copy()
        rows = np.flatnonzero(left)
        while len(rows):
            bit = lowest(left[rows])
            left[rows] ^= bit
            safe = self._safe(rows, piece[rows], square_of(bit), target[rows])
            legal[rows[safe]] |= bit[safe]
            rows = rows[left[rows] != 0]
        return legal

    def _safe(self, rows: Rows, piece: Rows, origin: Rows, target: Rows) -> Bools:
        """Whether moves that the pieces can make leave the own king safe."""
        other, king = self.other[rows], self.king[rows]
        by_king = piece == _KING
        en_passant = (piece == _PAWN) & (target == self.ep_square[rows])
        lines = self.pieces[3, rows] | self.pieces[4, rows] | self.pieces[5, rows]
        pinned = (LINES[king, origin] & other & lines) != 0
        doubtful = np.flatnonzero(self.in_check[rows] | by_king | en_passant | pinned)
        safe = np.ones(len(rows), np.bool_)
        if not len(doubtful):
            return safe
        by_king, en_passant = by_king[doubtful], en_passant[doubtful]
        start, end = SQUARES[origin[doubtful]], SQUARES[target[doubtful]]
        square = np.where(by_king, target[doubtful], king[doubtful])
        behind = target[doubtful] + (-8 if self.turn else 8)
        taken = np.where(en_passant, SQUARES[np.where(en_passant, behind, 0)], end)
        here = rows[doubtful]
        occupied = (self.own[here] | self.other[here]) & ~(start | taken) | end
        occupied = np.where(by_king, occupied & ~end, occupied)
        safe[doubtful] = ~self._attacked(here, square, occupied, other[doubtful] & ~taken)
        return safe

    def _attacked(
        self, rows: Rows, square: Rows, occupied: Bitboards, attackers: Bitboards
    ) -> Bools:
        """Whether one of `attackers`, of the side not to move, sees `square` on an occupancy."""
        return attacked(self.pieces[:, rows], self.turn, square, occupied, attackers)

    def _castle(self, rows: Rows, piece: Rows, chosen: Bitboards, target: Rows) -> None:
        """Put the king's square and target in where castling is legal."""
        king = chess.E1 if self.turn else chess.E8
        for kind, rook, to, between in (
            (CASTLE_SHORT, king + 3, king + 2, 0b11 << king + 1),
            (CASTLE_LONG, king - 4, king - 2, 0b111 << king - 3),
        ):
            here = rows[piece[rows] == kind]
            occupied = self.own[here] | self.other[here]
            may = (self.castling[here] & SQUARES[rook]) != 0
            may &= (occupied & np.uint64(between)) == 0
            here = here[may & ~self.in_check[here]]
            for square in ((king + to) >> 1, to):
                seen = self._attacked(
                    here,
                    np.full(len(here), square),
                    self.own[here] | self.other[here],
                    self.other[here],
                )
                here = here[~seen]
            chosen[here] = SQUARES[king]
            target[here] = to

    # -- making ------------------------------------------------------------------------------

    def make(self, moves: Moves) -> ManyBoards:
        """The positions after one legal move in each row."""
        turn = self.turn
        piece, origin, target, promotion = (
            moves.piece,
            moves.origin,
            moves.target,
            moves.promotion,
        )
        every = np.arange(len(self))
        start, end = SQUARES[origin], SQUARES[target]
        pieces = self.pieces.copy()
        keys, others = _PIECE_KEYS[int(turn)], _PIECE_KEYS[int(not turn)]
        key = self.key ^ _TURN ^ keys[piece, origin]
        other = self.other
        taken = SQUARES[target] & other
        for kind in range(_PAWN, _KING):
            hit = pieces[kind] & taken
            pieces[kind] ^= hit
            key ^= np.where(hit != 0, others[kind][target], ZERO)
        other = other ^ taken
        placed = np.where(promotion != 0, promotion, piece)
        pieces[piece, every] ^= start
        pieces[placed, every] |= end
        key ^= keys[placed, target]
        own = (self.own ^ start) | end
        # Squares other than the two that the move empties or fills.
        more = np.zeros_like(own)
        key ^= _EP_KEYS[np.where(self.ep_square == NO_SQUARE, 8, self.ep_square & 7)]
        here = np.flatnonzero((piece == _PAWN) & (target == self.ep_square))
        if len(here):
            square = target[here] + (-8 if turn else 8)
            pieces[_PAWN, here] ^= SQUARES[square]
            other[here] ^= SQUARES[square]
            more[here] = SQUARES[square]
            key[here] ^= others[_PAWN][square]
        here = np.flatnonzero(moves.castling)
        if len(here):
            self._move_rooks(here, target[here], pieces, own, more, key)
        kept = self.castling & _RIGHTS_KEPT[origin] & _RIGHTS_KEPT[target]
        for corner, corner_key in zip(_CORNERS, _CORNER_KEYS, strict=True):
            lost = ((self.castling ^ kept) & SQUARES[corner]) != 0
            key ^= np.where(lost, corner_key, ZERO)
        after = ManyBoards(
            not turn,
            pieces,
            own=other,
            other=own,
            castling=kept,
            ep_square=np.full(len(self), NO_SQUARE),
            king=self.other_king,
            other_king=np.where(piece == _KING, target, self.king),
            key=key,
            in_check=np.zeros(len(self), np.bool_),
        )
        after._note_checks(placed, origin, end, more)
        after._note_double_steps(
            np.flatnonzero((piece == _PAWN) & (abs(target - origin) == 16)), target
        )
        return after

    def _move_rooks(
        self,
        rows: Rows,
        target: Rows,
        pieces: Bitboards,
        own: Bitboards,
        more: Bitboards,
        key: Bitboards,
    ) -> None:
        short = (target & 7) == 6
        start = np.where(short, target + 1, target - 2)
        end = np.where(short, target - 1, target + 1)
        changed = SQUARES[start] | SQUARES[end]
        rook_keys = _PIECE_KEYS[int(self.turn)][chess.ROOK]
        pieces[chess.ROOK, rows] ^= changed
        own[rows] ^= changed
        more[rows] = changed
        key[rows] ^= rook_keys[start] ^ rook_keys[end]

    def _note_checks(self, placed: Rows, origin: Rows, end: Bitboards, more: Bitboards) -> None:
        """Find where the side now to move is in check.

        A check comes from the piece that moved, or from one behind a square it left.
        """
        king, pieces = self.king, self.pieces
        sees = RAYS[placed, king]
        sees = np.where(placed == _PAWN, PAWNS[int(self.turn)][king], sees)
        lines = (pieces[3] | pieces[4] | pieces[5]) & self.other
        may = ((sees & end) | (LINES[king, origin] & lines) | more) != 0
        rows = np.flatnonzero(may)
        self.in_check[rows] = self._attacked(
            rows, king[rows], (self.own | self.other)[rows], self.other[rows]
        )

    def _note_double_steps(self, rows: Rows, target: Rows) -> None:
        """Set the en-passant square behind a double step where a capture there is legal."""
        stepped = target[rows]
        middle = stepped + (8 if self.turn else -8)
        takers = PAWNS[int(not self.turn)][middle] & self.pieces[_PAWN, rows] & self.own[rows]
        while (left := np.flatnonzero(takers)).size:
            here, taker = rows[left], lowest(takers[left])
            gone = SQUARES[stepped[left]]
            occupied = ((self.own[here] | self.other[here]) ^ taker ^ gone) | SQUARES[middle[left]]
            safe = ~self._attacked(here, self.king[here], occupied, self.other[here] ^ gone)
            self.ep_square[here[safe]] = middle[left[safe]]
            self.key[here[safe]] ^= _EP_KEYS[middle[left[safe]] & 7]
            takers[left] = np.where(safe, ZERO, takers[left] ^ taker)

    # -- writing -----------------------------------------------------------------------------

    def sans(self, moves: Moves, after: ManyBoards) -> list[str]:
        """SAN of these moves (PGN Standard, 8.2.3); `after` are the positions they lead to."""
        takes = (self.other & SQUARES[moves.target]) != 0
        # A pawn that leaves its file takes, en passant as well.
        takes |= (moves.piece == _PAWN) & ((moves.origin ^ moves.target) & 7 != 0)
        return moves.texts(takes, after._check_signs())

    def _check_signs(self) -> Rows:
        """0 where the side to move is not in check, 1 for check, 2 for mate."""
        signs = self.in_check.astype(np.intp)
        rows = np.flatnonzero(self.in_check)
        stuck = rows[~self._king_can_step(rows)]
        if len(stuck):
            held = self[stuck]
            keys, packed = held.key.tolist(), held.packed()
            for place, row in enumerate(stuck.tolist()):
                board = FastBoard(packed[place].tobytes(), keys[place], in_check=True)
                signs[row] = 2 if board.check_sign() == "#" else 1
        return signs

    def _king_can_step(self, rows: Rows) -> Bools:
        """Whether the king of the side to move has a safe square to go to."""
        king = self.king[rows]
        steps = KINGS[king] & ~self.own[rows]
        can = np.zeros(len(rows), np.bool_)
        while (left := np.flatnonzero(steps)).size:
            bit, here = lowest(steps[left]), rows[left]
            steps[left] ^= bit
            occupied = (self.own[here] | self.other[here]) ^ SQUARES[king[left]]
            seen = self._attacked(here, square_of(bit), occupied, self.other[here] & ~bit)
            can[left[~seen]] = True
            steps[left[~seen]] = 0
        return can
