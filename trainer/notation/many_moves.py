"""Moves of many positions at once: what words say, and how moves are written."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Final

import chess
import numpy as np

from trainer.notation.fastboard import shared_move
from trainer.notation.many_attacks import Bitboards, Bools, Rows, bitboards
from trainer.notation.san import Spelling

_FILES: Final = bitboards(chess.BB_FILES)
_RANKS: Final = bitboards(chess.BB_RANKS)
#: `[origin, target]`: the shared objects.
_MOVES: Final = np.array(
    [[shared_move(origin, target) for target in chess.SQUARES] for origin in chess.SQUARES], object
)


@dataclass(eq=False)
class Spellings:
    """What words say, one row a word; `piece` is -1 for what is left to `FastBoard`."""

    piece: Rows
    target: Rows
    origins: Bitboards
    promotion: Rows

    @classmethod
    def of(cls, spellings: Sequence[Spelling | None]) -> Spellings:
        """The rows of what `read_spelling` found."""
        plain = [one if one is not None and one.piece else _UNREADABLE for one in spellings]
        return cls(
            np.array([one.piece for one in plain], np.intp),
            np.array([one.target for one in plain], np.intp),
            bitboards([one.origins for one in plain]),
            np.array([one.promotion or 0 for one in plain], np.intp),
        )

    def __getitem__(self, rows: Rows) -> Spellings:
        return Spellings(
            self.piece[rows], self.target[rows], self.origins[rows], self.promotion[rows]
        )


_UNREADABLE: Final = Spelling(-1, 0, 0, None)


@dataclass(eq=False)
class Moves:
    """One legal move in each row; `rivals` are other pieces of its kind that could go there too.

    `castling` tells castling moves, whose `piece` is the king.
    """

    piece: Rows
    origin: Rows
    target: Rows
    promotion: Rows
    rivals: Bitboards
    castling: Bools

    def objects(self) -> list[chess.Move]:
        """The moves as shared objects."""
        found: list[chess.Move] = _MOVES[self.origin, self.target].tolist()
        for row in np.flatnonzero(self.promotion).tolist():
            move = found[row]
            found[row] = shared_move(move.from_square, move.to_square, int(self.promotion[row]))
        return found

    def texts(self, takes: Bools, signs: Rows) -> list[str]:
        """SAN of the moves (PGN Standard, 8.2.3), the same object for the same text.

        `takes` tells captures, `signs` is 1 where a move gives check and 2 where it mates.
        """
        by_pawn = self.piece == chess.PAWN
        whence = np.where(by_pawn & takes, (self.origin & 7) + 1, 0)
        rows = np.flatnonzero(self.rivals)
        if len(rows):
            whence[rows] = _whence(self.origin[rows], self.rivals[rows])
        code = whence * 2 + takes
        code = code * 7 + np.where(self.castling, 0, self.piece)
        code = (code * 64 + self.target) * 7 + self.promotion
        return list(map(_text, (code * 3 + signs).tolist()))


def _whence(origin: Rows, rivals: Bitboards) -> Rows:
    """How the origin is told: 1 to 8 its file, 9 to 16 its rank, 17 and more the square itself.

    In this order of preference (PGN Standard, 8.2.3.4).
    """
    by_file = (rivals & _FILES[origin & 7]) == 0
    by_rank = (rivals & _RANKS[origin >> 3]) == 0
    found: Rows = np.where(
        by_file, (origin & 7) + 1, np.where(by_rank, (origin >> 3) + 9, origin + 17)
    )
    return found


@cache
def _text(code: int) -> str:
    """The text of a move, one object for all of the same text."""
    code, sign = divmod(code, 3)
    code, promotion = divmod(code, 7)
    code, target = divmod(code, 64)
    code, piece = divmod(code, 7)
    whence, takes = divmod(code, 2)
    if not piece:
        text = "O-O" if target & 7 == 6 else "O-O-O"
    else:
        letter = "" if piece == chess.PAWN else chess.piece_symbol(piece).upper()
        text = f"{letter}{_WHENCE[whence]}{'x' * takes}{chess.SQUARE_NAMES[target]}"
        if promotion:
            text += f"={chess.piece_symbol(promotion).upper()}"
    return text + ("", "+", "#")[sign]


_WHENCE: Final = ("", *chess.FILE_NAMES, *chess.RANK_NAMES, *chess.SQUARE_NAMES)
