"""Many positions as arrays: which pieces stand where, and keys of nothing but that.

A *placement key* is the part of `trainer.position.position_key` that comes from the pieces. The
key of a placement without one of its pieces is a *signature*: two placements that differ by one
piece standing elsewhere share one, and so does a placement with the one a quiet move leads to.
Looking signatures up finds such pairs without comparing all positions with each other. What is
found by key is always verified on the positions themselves.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, TypeAlias

import chess
import numpy as np
import numpy.typing as npt

from trainer.errors import StemlineError
from trainer.position import PIECE_KEYS
from trainer.repertoire.graph import Node

Keys: TypeAlias = npt.NDArray[np.uint64]
Codes: TypeAlias = npt.NDArray[np.uint8]
Numbers: TypeAlias = npt.NDArray[np.int64]

#: A code of a man: 0 none, 1 to 6 the white piece types, 7 to 12 the black ones.
BLACK_CODES: Final = 6

#: `MAN_KEYS[code, square]`: the term of one man on one square; 0 where there is none.
MAN_KEYS: Final[Keys] = np.array(
    [PIECE_KEYS[chess.WHITE][0], *PIECE_KEYS[chess.WHITE][1:], *PIECE_KEYS[chess.BLACK][1:]],
    np.uint64,
)

#: For castling on either side: the files (0 to 7) of the king after it, and of the rook before
#: and after it.
CASTLING_FILES: Final = ((6, 7, 5), (2, 0, 3))

_FILTER_BITS_MOST: Final = 25


class SearchCancelledError(StemlineError):
    """The caller asked to stop; nothing was found."""


def code_of(color: chess.Color, piece_type: chess.PieceType) -> int:
    """The code of a man."""
    return piece_type if color else piece_type + BLACK_CODES


@dataclass(frozen=True, eq=False)
class Placements:
    """n placements: `codes` (n, 64) of the men by square, and their placement keys (n)."""

    codes: Codes
    keys: Keys

    @classmethod
    def of(cls, nodes: Sequence[Node]) -> Placements:
        """The placements of `nodes`, in their order."""
        count = len(nodes)
        packed = np.frombuffer(b"".join(node.packed for node in nodes), np.uint8)
        boards = packed.reshape(count, 66)[:, :56].reshape(count, 7, 8)
        bits = np.unpackbits(boards, axis=2, bitorder="little")
        codes = np.zeros((count, 64), np.uint8)
        for piece_type in chess.PIECE_TYPES:
            codes += bits[:, piece_type - 1] * np.uint8(piece_type)
        codes[(codes > 0) & (bits[:, 6] == 0)] += np.uint8(BLACK_CODES)
        keys = np.zeros(count, np.uint64)
        for square in chess.SQUARES:
            keys ^= MAN_KEYS[codes[:, square], square]
        return cls(codes, keys)

    def of_color(self, color: chess.Color) -> npt.NDArray[np.bool_]:
        """Where men of one colour stand (n, 64)."""
        black = self.codes > BLACK_CODES
        return (self.codes > 0) & ~black if color else black


class KeyTable:
    """Keys with the number of each, to be looked up many at a time."""

    def __init__(self, keys: Keys) -> None:
        self._order: Numbers = np.argsort(keys, kind="stable").astype(np.int64)
        self._sorted: Keys = keys[self._order]
        # Most keys looked up are not there; a table of a few bits of each tells that at once.
        bits = min(_FILTER_BITS_MOST, max(10, len(keys).bit_length() + 3))
        self._shift = np.uint64(64 - bits)
        self._filter = np.zeros(1 << bits, np.bool_)
        self._filter[keys >> self._shift] = True

    def find(self, wanted: Keys) -> tuple[Numbers, Numbers]:
        """All pairs (index into `wanted`, number of a key) where the two are equal."""
        maybe = np.flatnonzero(self._filter[wanted >> self._shift])
        begin = np.searchsorted(self._sorted, wanted[maybe], "left")
        end = np.searchsorted(self._sorted, wanted[maybe], "right")
        length = end - begin
        within = np.arange(int(length.sum())) - np.repeat(np.cumsum(length) - length, length)
        return np.repeat(maybe, length), self._order[np.repeat(begin, length) + within]
