"""Random legal games by the thousand: a board for each, moved on at once by numpy.

Playing games one by one costs Python some milliseconds each; this plays one half-move of all of
them with the same few hundred array operations. The rules are held to python-chess in
`tests/unit/test_many_games.py`. What is played in a position depends on the position and a number
only, so positions that come again are gone on with as before, as in real games.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Any, Final

import chess
import numpy as np
from numpy.typing import NDArray

Array = NDArray[Any]

NONE: Final = 64  # no square, no piece in this slot, no move
_U: Final = np.uint64
_KNIGHT, _BISHOP, _ROOK, _QUEEN, _KING = range(2, 7)
#: How many moves are thought of at once until one fits; of the first few one is looked at.
_TRIES: Final = (3, 6, 16, 64, 128)
_FEW: Final = 8
_PAWNS_WAIT: Final = 6


def _table(rows: Sequence[int]) -> Array:
    return np.array([*rows, chess.BB_ALL], _U)


#: Of square 64 all are set, so that whatever is asked of it fails.
_BIT: Final = _table(chess.BB_SQUARES)
_BETWEEN: Final = np.full((65, 65), chess.BB_ALL, _U)
_BETWEEN[:64, :64] = [[chess.between(a, b) for b in range(64)] for a in range(64)]
#: Whether two squares, by 65 · one + other, are the same, in one line or one diagonal.
_IN_LINE: Final = np.ones((65, 65), bool)
_IN_LINE[:64, :64] = [[a == b or chess.ray(a, b) != 0 for b in range(64)] for a in range(64)]
_KNIGHT_FROM: Final = _table(chess.BB_KNIGHT_ATTACKS)
_KING_FROM: Final = _table(chess.BB_KING_ATTACKS)
#: From where pawns of a colour, white first, attack a square.
_PAWNS_FROM: Final = [_table(chess.BB_PAWN_ATTACKS[color]) for color in (False, True)]
_DIAGONALS: Final = _table([masks[0] for masks in chess.BB_DIAG_ATTACKS])
_STRAIGHTS: Final = _table(
    [chess.BB_RANK_ATTACKS[s][0] | chess.BB_FILE_ATTACKS[s][0] for s in range(64)]
)
_REACH: Final = {
    _KNIGHT: _KNIGHT_FROM,
    _BISHOP: _DIAGONALS,
    _ROOK: _STRAIGHTS,
    _QUEEN: _DIAGONALS | _STRAIGHTS,
}
_CORNERS: Final = chess.BB_CORNERS
#: The castling rights (as squares of rooks) that a move from or to a square leaves.
_KEPT: Final = _table(
    [
        _CORNERS & ~(chess.BB_SQUARES[s] | {4: chess.BB_RANK_1, 60: chess.BB_RANK_8}.get(s, 0))
        for s in range(64)
    ]
)
#: Where the rook of a castling king comes from and goes to, by the king's target.
_ROOK_FROM: Final = np.full(65, NONE)
_ROOK_TO: Final = np.full(65, NONE)
_ROOK_FROM[[6, 2, 62, 58]] = [7, 0, 63, 56]
_ROOK_TO[[6, 2, 62, 58]] = [5, 3, 61, 59]
_HASHES: Final = np.random.default_rng(7).integers(0, 1 << 63, (2, 7, 65), _U) * _U(2) + _U(1)


def _rays() -> list[tuple[bool, bool, Array]]:
    """For each direction: whether it rises, whether it is straight, its squares by origin."""
    found = []
    for file, rank in ((0, 1), (1, 0), (1, 1), (-1, 1), (0, -1), (-1, 0), (-1, -1), (1, -1)):
        rows = []
        for square in range(64):
            x, y, mask = square % 8 + file, square // 8 + rank, 0
            while 0 <= x < 8 and 0 <= y < 8:
                mask |= 1 << 8 * y + x
                x, y = x + file, y + rank
            rows.append(mask)
        found.append((8 * rank + file > 0, not file or not rank, _table(rows)))
    return found


_RAYS: Final = _rays()


def _targets() -> tuple[Array, Array]:
    """Where a piece may try to go, and how many such squares: [kind][origin][nth].

    Kind 0 are black pawns. Some squares stand several times, as they are to be tried more often.
    """
    table = np.full((7, 65, 32), NONE)
    counts = np.ones((7, 65), _U)
    for kind in range(7):
        for origin in range(64):
            squares = (
                _pawn_targets(origin, kind == 1) if kind < 2 else _piece_targets(kind, origin)
            )
            table[kind, origin, : len(squares)] = squares
            counts[kind, origin] = max(1, len(squares))
    return table, counts


def _pawn_targets(origin: int, white: bool) -> list[int]:
    step = 8 if white else -8
    if not 0 <= origin + step < 64:
        return []
    double = origin + 2 * step if origin // 8 == (1 if white else 6) else NONE
    takes = list(chess.scan_forward(chess.BB_PAWN_ATTACKS[white][origin]))
    # Tries that fail: pieces often have something in their way, and pawns would run ahead of them.
    return [origin + step] * 3 + [double] + takes + [NONE] * _PAWNS_WAIT


def _piece_targets(kind: int, origin: int) -> list[int]:
    if kind == _KING:
        castling = {4: [2, 6], 60: [58, 62]}.get(origin, [])
        return list(chess.scan_forward(chess.BB_KING_ATTACKS[origin])) + castling
    return list(chess.scan_forward(int(_REACH[kind][origin])))


_TARGETS, _COUNTS = _targets()


def mixed(values: Array) -> Array:
    """The finaliser of SplitMix64 (Steele, Lea and Flood, 2014): each bit depends on all."""
    values = (values ^ values >> _U(30)) * _U(0xBF58476D1CE4E5B9)
    values = (values ^ values >> _U(27)) * _U(0x94D049BB133111EB)
    return values ^ values >> _U(31)


def _highest(bits: Array) -> Array:
    """The highest bit of each number, by the exponent that a float of it has."""
    # Without the bit below the highest, rounding cannot reach the next power of two.
    power = (bits & ~(bits >> _U(1))).astype(np.float64).view(np.int64) >> 52
    return _BIT_BY_EXPONENT.take(power)


#: No bit for nought, whose exponent is 0; else the exponent is 1023 more than the bit's number.
_BIT_BY_EXPONENT: Final = np.zeros(1023 + 64, _U)
_BIT_BY_EXPONENT[1023:] = _BIT[:64]


class ManyGames:
    """So many games from the usual beginning, all with the same side to move.

    `play` makes a half-move in some of them. Arrays are indexed by game; a piece has a slot,
    white ones 0 to 15.
    """

    def __init__(self, count: int) -> None:
        start = chess.Board()
        self.side = 0
        self.squares = np.full((count, 32), NONE)
        self.kinds = np.ones((count, 32), np.int64)
        self.slots = np.full((count, 65), -1)
        self.pieces = np.zeros((2, 7, count), _U)
        self.sides = np.zeros((2, count), _U)
        self.kings = np.zeros((2, count), np.int64)
        self.rights = np.full(count, _CORNERS, _U)
        self.passed = np.full(count, NONE)
        self.checked = np.zeros(count, bool)
        self.turns = np.zeros(count, np.int64)
        self.keys = np.zeros(count, _U)
        for slot, (square, piece) in enumerate(
            sorted(start.piece_map().items(), key=lambda item: not item[1].color)
        ):
            side, kind = int(not piece.color), piece.piece_type
            self.squares[:, slot], self.kinds[:, slot] = square, kind
            self.slots[:, square] = slot
            self.pieces[side, kind] |= _BIT[square]
            self.sides[side] |= _BIT[square]
            if kind == _KING:
                self.kings[side] = square

    def board(self, game: int) -> chess.Board:
        """The position of one game, as python-chess has it."""
        board = chess.Board(None)
        for slot in range(32):
            if (square := int(self.squares[game, slot])) != NONE:
                piece = chess.Piece(int(self.kinds[game, slot]), slot < 16)
                board.set_piece_at(square, piece)
        board.turn = not self.turns[game]
        board.castling_rights = int(self.rights[game])
        passed = int(self.passed[game])
        board.ep_square = None if passed == NONE else passed
        return board

    # -- choosing ----------------------------------------------------------------------------

    def choose(self, games: Array, numbers: Array) -> tuple[Array, Array]:
        """A legal move in each of `games`, origins and targets: the one of that number there.

        Both are 64 where the game is over. Numbers may share a move.
        """
        seeds = mixed(self.keys[games] + numbers.astype(_U) * _U(2) + _U(self.side))
        origins, targets = np.full(len(games), NONE), np.full(len(games), NONE)
        left, before = np.arange(len(games)), 0
        for tries in _TRIES:
            whom, whence, to = self._tried(games[left], seeds[left], before, tries)
            safe = self._safe(games[left[whom]], whence, to)
            whom, first = np.unique(whom[safe], return_index=True)
            origins[left[whom]] = whence[safe][first]
            targets[left[whom]] = to[safe][first]
            left, before = np.delete(left, whom), before + tries
            if not len(left):
                break
        for place in left.tolist():
            moves = list(self.board(int(games[place])).legal_moves)
            moves = [move for move in moves if move.promotion in (None, chess.QUEEN)]
            if moves:
                move = moves[int(seeds[place]) % len(moves)]
                origins[place], targets[place] = move.from_square, move.to_square
        return origins, targets

    def _tried(
        self, games: Array, seeds: Array, before: int, tries: int
    ) -> tuple[Array, Array, Array]:
        """Moves that pieces can make, the king's safety left aside: of whom, whence, where.

        They are the first that fits of so few `tries` that it will do, else all that fit.
        """
        own, other = self.sides[self.side, games], self.sides[1 - self.side, games]
        steps = np.arange(before + 1, before + tries + 1, dtype=_U) * _U(0x9E3779B97F4A7C15)
        chance = mixed(seeds[:, None] + steps)
        slots = (chance & _U(15)).astype(np.int64)
        if self.side:
            slots += 16
        origins = self.squares[games[:, None], slots]
        kinds = self.kinds[games[:, None], slots]
        pawns = kinds == 1
        tables = (np.where(pawns, 0, kinds) if self.side else kinds) * 65 + origins
        nth = (chance >> _U(40)) * _COUNTS.take(tables) >> _U(24)
        targets = _TARGETS.take(tables * 32 + nth.astype(np.int64))
        bits = _BIT[targets]
        fits = (_BETWEEN.take(origins * 65 + targets) & (own | other)[:, None]) == 0
        fits &= (bits & own[:, None]) == 0
        whom, lane = np.nonzero(fits & pawns)
        some, to = origins[whom, lane], targets[whom, lane]
        takes = (_BIT[to] & other[whom]) != 0
        straight = (some ^ to) & 7 == 0
        fits[whom, lane] = np.where(straight, ~takes, takes | (to == self.passed[games[whom]]))
        whom, lane = np.nonzero(fits & (kinds == _KING))
        fits[whom, lane] &= self._may_castle(games[whom], origins[whom, lane], targets[whom, lane])
        if tries > _FEW:
            whom, lane = np.nonzero(fits)
        else:
            lane = fits.argmax(axis=1)
            whom = np.flatnonzero(fits[np.arange(len(games)), lane])
            lane = lane[whom]
        return whom, origins[whom, lane], targets[whom, lane]

    def _may_castle(self, games: Array, origins: Array, targets: Array) -> Array:
        """Whether kings that castle have the right to and nothing between them and the rook."""
        castles = np.abs(origins - targets) == 2
        rooks = _ROOK_FROM[np.where(castles, targets, NONE)]
        may = (_BIT[rooks] & self.rights[games]) != 0
        may &= (_BETWEEN[origins, rooks] & (self.sides[0, games] | self.sides[1, games])) == 0
        return ~castles | (may & ~self.checked[games])

    def _safe(self, games: Array, origins: Array, targets: Array) -> Array:
        """Whether the own king is safe behind a move, and on the way where it castles."""
        kings = self.kings[self.side, games]
        moves_king = origins == kings
        passing = targets == self.passed[games]
        # A piece that is in no line with its king uncovers nothing.
        doubtful = _IN_LINE.take(kings * 65 + origins) | self.checked[games] | passing
        some = np.flatnonzero(doubtful)
        safe = np.ones(len(games), bool)
        games, origins, targets, kings = games[some], origins[some], targets[some], kings[some]
        moves_king, passing = moves_king[some], passing[some]
        taken = _BIT[targets]
        passing &= (self.pieces[self.side, 1, games] & _BIT[origins]) != 0
        behind = np.where(passing, _BIT[np.where(passing, targets ^ 8, NONE)], _U(0))
        occupied = self.sides[0, games] | self.sides[1, games]
        occupied = (occupied & ~_BIT[origins] & ~behind) | taken
        kings = np.where(moves_king, targets, kings)
        attacked = self._attacked(games, kings, 1 - self.side, occupied, taken | behind)
        castles = np.flatnonzero(moves_king & (np.abs(origins - targets) == 2))
        if len(castles):
            way = (origins[castles] + targets[castles]) // 2
            attacked[castles] |= self._attacked(
                games[castles], way, 1 - self.side, occupied[castles], taken[castles]
            )
        safe[some] = ~attacked
        return safe

    def _attacked(
        self, games: Array, squares: Array, side: int, occupied: Array, taken: Array
    ) -> Array:
        """Whether pieces of a side that do not stand on `taken` see a square of each game."""
        pieces = self.pieces[side][:, games] & ~taken
        found = (_KNIGHT_FROM[squares] & pieces[_KNIGHT]) | (_KING_FROM[squares] & pieces[_KING])
        found |= _PAWNS_FROM[side][squares] & pieces[1]
        lines = (pieces[_BISHOP] | pieces[_QUEEN], pieces[_ROOK] | pieces[_QUEEN])
        near = (_DIAGONALS[squares] & lines[0]) | (_STRAIGHTS[squares] & lines[1])
        some = np.flatnonzero(near)
        squares, occupied = squares[some], occupied[some]
        by = (lines[0][some], lines[1][some])
        seen = np.zeros(len(some), _U)
        for rises, straight, table in _RAYS:
            ray = table[squares] & occupied
            seen |= (ray & -ray if rises else _highest(ray)) & by[straight]
        found[some] |= seen
        return found != 0

    # -- making ------------------------------------------------------------------------------

    def play(self, games: Array, origins: Array, targets: Array) -> Array:
        """Make a legal move in some games (pawns become queens); their texts as `san` numbers.

        In the other games nothing can be played any more.
        """
        side, bits = self.side, _BIT[targets]
        slots = self.slots[games, origins]
        kinds = self.kinds[games, slots]
        takes = (self.sides[1 - side, games] & bits) != 0
        castles = (kinds == _KING) & (np.abs(origins - targets) == 2)
        whence = self._whence(games, origins, targets, kinds)
        pawn = kinds == 1
        slant = pawn & ((origins ^ targets) & 7 != 0)
        takes |= slant
        passing = slant & (self.slots[games, targets] < 0)
        self._take(games[takes], np.where(passing, targets ^ 8, targets)[takes])
        self._lift(games, slots, origins, side)
        self.kinds[games, slots] = np.where(pawn & ((targets < 8) | (targets > 55)), _QUEEN, kinds)
        self._put(games, slots, targets, side)
        if castles.any():
            some, to = games[castles], targets[castles]
            rooks = self.slots[some, _ROOK_FROM[to]]
            self._lift(some, rooks, _ROOK_FROM[to], side)
            self._put(some, rooks, _ROOK_TO[to], side)
        kings = kinds == _KING
        self.kings[side, games[kings]] = targets[kings]
        self.rights[games] &= _KEPT[origins] & _KEPT[targets]
        double = pawn & (np.abs(origins - targets) == 16)
        self.passed[games] = np.where(double, (origins + targets) // 2, NONE)
        self.side = self.turns[games] = 1 - side
        checks = self._checks(games, origins, targets, kinds, passing)
        self.checked[games] = checks
        texts = ((kinds * 81 + whence) * 2 + takes) * 64 + targets
        texts = np.where(castles, targets, texts)
        return texts * 2 + checks

    def _checks(
        self, games: Array, origins: Array, targets: Array, kinds: Array, passing: Array
    ) -> Array:
        """Whether the moves just made give check, by the piece that moved or one behind it."""
        kings = self.kings[self.side, games]
        may = _IN_LINE.take(kings * 65 + origins) | _IN_LINE.take(kings * 65 + targets)
        some = np.flatnonzero(may | (kinds == _KNIGHT) | (kinds == _KING) | passing)
        games = games[some]
        occupied = self.sides[0, games] | self.sides[1, games]
        checks = np.zeros(len(kings), bool)
        nothing = np.zeros(len(games), _U)
        checks[some] = self._attacked(games, kings[some], 1 - self.side, occupied, nothing)
        return checks

    def _take(self, games: Array, squares: Array) -> None:
        slots = self.slots[games, squares]
        self._lift(games, slots, squares, 1 - self.side)
        self.squares[games, slots] = NONE

    def _lift(self, games: Array, slots: Array, squares: Array, side: int) -> None:
        self._turn(games, slots, squares, side)
        self.slots[games, squares] = -1

    def _put(self, games: Array, slots: Array, squares: Array, side: int) -> None:
        self._turn(games, slots, squares, side)
        self.slots[games, squares] = slots
        self.squares[games, slots] = squares

    def _turn(self, games: Array, slots: Array, squares: Array, side: int) -> None:
        """A piece comes to a square, or leaves it."""
        kinds, bits = self.kinds[games, slots], _BIT[squares]
        self.pieces[side, kinds, games] ^= bits
        self.sides[side, games] ^= bits
        self.keys[games] ^= _HASHES[side, kinds, squares]

    def _whence(self, games: Array, origins: Array, targets: Array, kinds: Array) -> Array:
        """What a move's text says of its origin: 0, 1 + file, 9 + rank, or 17 + square."""
        found = np.where((kinds == 1) & ((origins ^ targets) & 7 != 0), 1 + (origins & 7), 0)
        for kind, reach in _REACH.items():
            mine = np.flatnonzero(kinds == kind)
            rivals = self.pieces[self.side, kind, games[mine]] & reach[targets[mine]]
            rivals &= ~_BIT[origins[mine]]
            some = mine[rivals != 0]
            if not len(some):
                continue
            rivals = self._real(games[some], rivals[rivals != 0], targets[some])
            file, rank = origins[some] & 7, origins[some] >> 3
            on_file = (rivals & np.array(chess.BB_FILES, _U)[file]) != 0
            on_rank = (rivals & np.array(chess.BB_RANKS, _U)[rank]) != 0
            words = np.where(on_rank, 17 + origins[some], 9 + rank)
            found[some] = np.where(rivals == 0, 0, np.where(on_file, words, 1 + file))
        return found

    def _real(self, games: Array, rivals: Array, targets: Array) -> Array:
        """Those of the pieces that could legally go to the target too."""
        real = np.zeros(len(games), _U)
        left = np.arange(len(games))
        while len(left):
            lowest = rivals[left] & -rivals[left]
            rivals[left] ^= lowest
            whence = np.bitwise_count(lowest - _U(1)).astype(np.int64)
            occupied = self.sides[0, games[left]] | self.sides[1, games[left]]
            free = (_BETWEEN[whence, targets[left]] & occupied) == 0
            free &= self._safe(games[left], whence, targets[left])
            real[left] |= np.where(free, lowest, _U(0))
            left = left[rivals[left] != 0]
        return real


@cache
def san(number: int) -> str:
    """The text of a move as `ManyGames.play` numbers it (PGN Standard, 8.2.3)."""
    number, check = divmod(number, 2)
    number, target = divmod(number, 64)
    number, takes = divmod(number, 2)
    kind, whence = divmod(number, 81)
    sign = "+" if check else ""
    if not kind:
        return ("O-O" if target & 7 == 6 else "O-O-O") + sign
    name = chess.SQUARE_NAMES[target]
    if kind == 1 and not 8 <= target < 56:
        name += "=Q"
    origin = ["", *chess.FILE_NAMES, *chess.RANK_NAMES, *chess.SQUARE_NAMES][whence]
    return f"{'..NBRQK'[kind]}".strip(".") + origin + ("x" if takes else "") + name + sign
