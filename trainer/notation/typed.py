"""Moves as a player types them: SAN or UCI, forgiving about case, dashes and signs."""

from __future__ import annotations

import re
from typing import Final

import chess

from trainer.errors import StemlineError
from trainer.notation.display import FIGURINE_LETTERS

_CASTLING: Final = {"ooo": "O-O-O", "000": "O-O-O", "oo": "O-O", "00": "O-O"}
_COORDINATES: Final = re.compile(r"^([a-h][1-8])[-x:]?([a-h][1-8])(?:=?([qrbnQRBN]))?$")
_DECORATION: Final = re.compile(r"[\s+#!?()]|e\.?p\.?$")


class TypedMoveError(StemlineError):
    """What was typed is not one legal move here."""


def parse_typed(board: chess.Board, text: str) -> chess.Move:
    """The legal move that `text` means on `board`.

    Small piece letters are understood (`nf3`); where a small b could be the pawn or the bishop,
    the pawn is meant. A promotion must name its piece.

    Raises `TypedMoveError` when no legal move, or more than one, fits.
    """
    cleaned = _DECORATION.sub("", text.strip().translate(FIGURINE_LETTERS))
    if not cleaned:
        raise TypedMoveError("Type a move, for example Nf3 or g1f3.")
    for candidate in _spellings(cleaned):
        try:
            return _parse(board, candidate)
        except chess.AmbiguousMoveError:
            raise TypedMoveError(f"“{text.strip()}” fits more than one move here.") from None
        except ValueError:
            continue
    raise TypedMoveError(f"“{text.strip()}” is not a legal move here.")


def _spellings(text: str) -> list[str]:
    castling = _CASTLING.get(text.lower().replace("-", ""))
    if castling is not None:
        return [castling]
    spellings = [text]
    if text[0] in "nbrqk":
        spellings.append(text[0].upper() + text[1:])
    return spellings


def _parse(board: chess.Board, text: str) -> chess.Move:
    coordinates = _COORDINATES.match(text)
    if coordinates:
        origin, target, promotion = coordinates.groups()
        move = board.parse_uci(origin + target + (promotion or "").lower())
    else:
        move = board.parse_san(text.replace(":", "x"))
    if not move:
        raise chess.IllegalMoveError("a null move is no move to play")
    return move
