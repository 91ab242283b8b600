"""Near misses: pairs of decisions that look almost the same.

All have the player to move. Only what stands on the board is compared; castling and en-passant
rights may differ as well.

- *pawn step*: one pawn stands one step further in one of the two.
- *tempo*: one side has made one move more: a man that in one position stands where it starts the
  game has made one move in the other, which the lines on the board allow, or the king has castled.
  (A pawn's single step counts as a pawn step.)
- *piece*: one man stands elsewhere in any other way.
- *rights*: the men stand alike, and only castling or en passant differs.

Pairs are found by their signatures (`trainer.repertoire.signatures`), not by comparing all.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from enum import Enum
from itertools import combinations
from typing import Final, NamedTuple

import chess
import numpy as np

from trainer.repertoire.graph import Node
from trainer.repertoire.order_graph import OrderGraph
from trainer.repertoire.signatures import (
    BLACK_CODES,
    CASTLING_FILES,
    MAN_KEYS,
    Placements,
    SearchCancelledError,
    code_of,
)

#: Groups of look-alikes examined between two looks at `cancelled`.
_BATCH: Final = 2_000

_START: Final = chess.Board()


class Difference(Enum):
    """What tells two positions apart."""

    TEMPO = "tempo"
    PAWN_STEP = "pawn step"
    PIECE = "piece"
    RIGHTS = "rights"


@dataclass(frozen=True)
class NearMiss:
    """Two decisions that look almost the same; `first` was read before `second`.

    `color` and `piece` are those of the man that stands on `first_square` in the one and on
    `second_square` in the other: the king where it has castled in one, None and no squares where
    only rights differ. `same_move` tells that the main prepared moves go between the same
    squares. `weight` is the smaller reach of the two: both must come up to be confused.
    """

    first: Node
    second: Node
    difference: Difference
    color: chess.Color | None
    piece: chess.PieceType | None
    first_square: chess.Square | None
    second_square: chess.Square | None
    same_move: bool
    weight: float


def find_near_misses(
    graph: OrderGraph,
    *,
    progress: Callable[[float], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> list[NearMiss]:
    """All near misses, those with different prepared moves first, then the most reached.

    `progress` is called with the share done, 0 to 1. Raises `SearchCancelledError` where
    `cancelled` says so.
    """
    decisions = graph.repertoire.decisions()
    if not decisions:
        return []
    reach = [float(graph.reach[graph.arrays.number(node)]) for node in decisions]
    placements = Placements.of(decisions)
    found: list[NearMiss] = []
    for pair in _looked_at(_look_alikes(placements), progress, cancelled):
        apart = _apart(decisions, placements, *pair)
        if apart is not None:
            first, second = decisions[pair[0]], decisions[pair[1]]
            same = first.edges[0].move == second.edges[0].move
            found.append(NearMiss(first, second, *apart, same, min(reach[n] for n in pair)))
    return sorted(found, key=lambda pair: (pair.same_move, -pair.weight))


def _looked_at(
    groups: list[list[int]],
    progress: Callable[[float], None] | None,
    cancelled: Callable[[], bool] | None,
) -> Iterator[tuple[int, int]]:
    seen: set[tuple[int, int]] = set()
    for number, group in enumerate(groups):
        if number % _BATCH == 0:
            if cancelled is not None and cancelled():
                raise SearchCancelledError("The search for near misses was cancelled.")
            if progress is not None:
                progress(number / len(groups))
        for pair in combinations(sorted(set(group)), 2):
            if pair not in seen:
                seen.add(pair)
                yield pair
    if progress is not None:
        progress(1.0)


def _look_alikes(placements: Placements) -> list[list[int]]:
    """Groups of numbers of placements that share a signature, or may differ by castling."""
    number, square = np.nonzero(placements.codes)
    keys = placements.keys[number] ^ MAN_KEYS[placements.codes[number, square], square]
    # Not castled yet or castled: looked up as a placement of its own.
    for color in chess.COLORS:
        king, rook = code_of(color, chess.KING), code_of(color, chess.ROOK)
        first = chess.A1 if color else chess.A8
        for king_to, rook_from, rook_to in CASTLING_FILES:
            castled = np.flatnonzero(
                (placements.codes[:, first + king_to] == king)
                & (placements.codes[:, first + rook_to] == rook)
            )
            change = np.bitwise_xor.reduce(
                [
                    MAN_KEYS[king, first + king_to],
                    MAN_KEYS[king, first + 4],
                    MAN_KEYS[rook, first + rook_from],
                    MAN_KEYS[rook, first + rook_to],
                ]
            )
            number = np.concatenate((number, castled))
            keys = np.concatenate((keys, placements.keys[castled] ^ change))
    number = np.concatenate((number, np.arange(len(placements.keys))))
    keys = np.concatenate((keys, placements.keys))
    order = np.argsort(keys, kind="stable")
    ordered = keys[order]
    begin = np.flatnonzero(np.concatenate(([True], ordered[1:] != ordered[:-1])))
    length = np.diff(np.concatenate((begin, [len(ordered)])))
    many = length > 1
    members = number[order].tolist()
    return [
        members[at : at + count]
        for at, count in zip(begin[many].tolist(), length[many].tolist(), strict=True)
    ]


class _Apart(NamedTuple):
    """The middle fields of `NearMiss`."""

    difference: Difference
    color: chess.Color | None = None
    piece: chess.PieceType | None = None
    first_square: chess.Square | None = None
    second_square: chess.Square | None = None


def _apart(
    decisions: Sequence[Node], placements: Placements, first: int, second: int
) -> _Apart | None:
    """What tells two placements apart; None where it is more than a near miss."""
    here, there = placements.codes[first], placements.codes[second]
    squares = np.flatnonzero(here != there).tolist()
    if not squares:
        return _Apart(Difference.RIGHTS)
    left = {square: int(here[square]) for square in squares if here[square]}
    come = {square: int(there[square]) for square in squares if there[square]}
    if left.keys() & come.keys() or sorted(left.values()) != sorted(come.values()):
        return None
    if len(left) == 2:
        return _castled(left, come)
    if len(left) != 1:
        return None
    ((origin, code),) = left.items()
    (target,) = come
    color, piece = code <= BLACK_CODES, (code - 1) % BLACK_CODES + 1
    if piece == chess.PAWN and abs(origin - target) == 8:
        difference = Difference.PAWN_STEP
    elif _has_moved_once(decisions[first], origin, target) or _has_moved_once(
        decisions[second], target, origin
    ):
        difference = Difference.TEMPO
    else:
        difference = Difference.PIECE
    return _Apart(difference, color, piece, origin, target)


def _has_moved_once(node: Node, origin: chess.Square, target: chess.Square) -> bool:
    """Whether the man on `origin` stands where it starts the game and can go to `target`."""
    board = node.board()
    piece = board.piece_at(origin)
    if piece is None or _START.piece_at(origin) != piece:
        return False
    if piece.piece_type != chess.PAWN:
        return bool(board.attacks_mask(origin) & chess.BB_SQUARES[target])
    middle = (origin + target) // 2
    return abs(origin - target) == 16 and board.piece_type_at(middle) is None


def _castled(left: dict[int, int], come: dict[int, int]) -> _Apart | None:
    """The pair where the king has castled in one and not in the other."""
    for color, first in ((chess.WHITE, chess.A1), (chess.BLACK, chess.A8)):
        king, rook = code_of(color, chess.KING), code_of(color, chess.ROOK)
        for king_to, rook_from, rook_to in CASTLING_FILES:
            home = {first + 4: king, first + rook_from: rook}
            castled = {first + king_to: king, first + rook_to: rook}
            if (left, come) == (home, castled):
                squares = (first + 4, first + king_to)
            elif (left, come) == (castled, home):
                squares = (first + king_to, first + 4)
            else:
                continue
            return _Apart(Difference.TEMPO, color, chess.KING, *squares)
    return None
