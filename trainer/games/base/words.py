"""Words of a movetext, each looked at once: what a move says in either colour's hand."""

from __future__ import annotations

import re
from typing import Final, TypeAlias

import chess

# Kinds of words. Pieces carry the numbers of python-chess.
DOUBT: Final = -1
RESULT: Final = 0
PUSH: Final = 1
KING: Final = 6
CAPTURE: Final = 7
SHORT: Final = 8
LONG: Final = 9
PROMOTION: Final = 10

#: Kind; target square; its bitboard; where a piece may come from, as a bitboard (of a pawn that
#: captures: White's and Black's square, 6 bits each); the move as an identity spells it.
Word: TypeAlias = tuple[int, int, int, int, str]

_WORD: Final = re.compile(
    r"(?:[0-9]+\.+)?"
    r"(?:([KQRBN])([a-h])?([1-8])?x?([a-h][1-8])|([a-h])x([a-h][2-7])|([a-h][2-7])"
    r"|((?:[a-h]x)?[a-h][18]=[QRBN])|(O-O-O|0-0-0)|(O-O|0-0))[+#]?[!?]{0,2}"
)
_PASSED_OVER: Final = re.compile(r"[0-9]*\.+|[1-9][0-9]{0,2}|\$[0-9]+|[!?]{1,2}")
_RESULTS: Final = frozenset({"1-0", "0-1", "1/2-1/2", "*"})
_SPELLING: Final = re.compile(
    r"([KQRBN])?([a-h])?[1-8]?[x:-]?([a-h])([1-8])(?:[=/]?\(?([QRBNqrbn])\)?)?.*", re.DOTALL
)
_FULL: Final = 1 << 16

#: What an identity has in the place of a result or of a doubtful word.
MARK: Final = "\0"
_DOUBTFUL: Final[Word] = (DOUBT, 0, 0, 0, MARK)


class Words(dict[str, Word | None]):
    """What each word says; None for one that is passed over, such as the number of a move.

    Words that are not spelt as the standard does are of the kind `DOUBT`: null moves, `e2-e4`,
    and everything that is no move at all.
    """

    def __missing__(self, text: str) -> Word | None:
        if len(self) > _FULL:
            self.clear()
        found = self[text] = _read(text)
        return found


def _read(text: str) -> Word | None:  # noqa: PLR0911
    if _PASSED_OVER.fullmatch(text):
        return None
    if text in _RESULTS:
        return (RESULT, 0, 0, 0, MARK)
    match = _WORD.fullmatch(text)
    if match is None:
        return _DOUBTFUL
    letter, file, rank, square, taker, taken, push, promotion, long, _ = match.groups()
    if letter:
        target = chess.parse_square(square)
        origins = chess.BB_ALL
        if file:
            origins &= chess.BB_FILES[chess.FILE_NAMES.index(file)]
        if rank:
            origins &= chess.BB_RANKS[int(rank) - 1]
        piece = chess.PIECE_SYMBOLS.index(letter.lower())
        return (piece, target, chess.BB_SQUARES[target], origins, letter + square)
    if taken:
        target, column = chess.parse_square(taken), chess.FILE_NAMES.index(taker)
        if abs(column - chess.square_file(target)) != 1:
            return _DOUBTFUL
        row = target & 56
        origins = (row - 8 + column) << 6 | (row + 8 + column)
        return (CAPTURE, target, chess.BB_SQUARES[target], origins, taker + taken)
    if push:
        target = chess.parse_square(push)
        return (PUSH, target, chess.BB_SQUARES[target], 0, push)
    if promotion:
        return (PROMOTION, 0, 0, 0, plain_spelling(promotion))
    return (LONG, 0, 0, 0, "O-O-O") if long else (SHORT, 0, 0, 0, "O-O")


def plain_spelling(word: str) -> str:
    """A move as an identity spells it: piece, target and promotion; of a pawn that captures, its
    file as well. Signs, and what tells rival pieces apart, are left out.
    """
    if word[:3] in ("O-O", "0-0", "o-o"):
        return "O-O-O" if word[3:5].lower() in ("-o", "-0") else "O-O"
    match = _SPELLING.fullmatch(word)
    if match is None:
        return word
    letter, file, column, row, promotion = match.groups()
    if letter:
        return f"{letter}{column}{row}"
    taker = file if file and file != column else ""
    return f"{taker}{column}{row}{(promotion or '').upper()}"
