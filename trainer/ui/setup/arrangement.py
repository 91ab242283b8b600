"""A position in the making: what stands where, and what the rules still miss. No Qt."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import chess

from trainer.errors import StemlineError

#: The rooks that castle, with how the player reads each right (SAN, PGN standard 8.2.3.3).
CASTLINGS: Final = (
    (chess.H1, "White O-O"),
    (chess.A1, "White O-O-O"),
    (chess.H8, "Black O-O"),
    (chess.A8, "Black O-O-O"),
)
_KING_HOMES: Final = {chess.WHITE: chess.E1, chess.BLACK: chess.E8}
_ALL_RIGHTS: Final = chess.BB_CORNERS

#: What is wrong and what to do, by the finding of python-chess, the first that applies.
_FAULTS: Final = (
    (chess.STATUS_EMPTY, "The board is empty; put both kings and the pieces on it."),
    (chess.STATUS_NO_WHITE_KING, "The white king is missing; put it on the board."),
    (chess.STATUS_NO_BLACK_KING, "The black king is missing; put it on the board."),
    (chess.STATUS_TOO_MANY_KINGS, "A side has more than one king; take the others off."),
    (
        chess.STATUS_PAWNS_ON_BACKRANK,
        "A pawn stands on the first or the eighth rank; move it or take it off.",
    ),
    (chess.STATUS_TOO_MANY_WHITE_PAWNS, "White has more than eight pawns; take some off."),
    (chess.STATUS_TOO_MANY_BLACK_PAWNS, "Black has more than eight pawns; take some off."),
    (chess.STATUS_TOO_MANY_WHITE_PIECES, "White has more than sixteen pieces; take some off."),
    (chess.STATUS_TOO_MANY_BLACK_PIECES, "Black has more than sixteen pieces; take some off."),
    (
        chess.STATUS_TOO_MANY_CHECKERS | chess.STATUS_IMPOSSIBLE_CHECK,
        "No move can have given this check; move one of the pieces that give it.",
    ),
)


class PositionTextError(StemlineError):
    """A text that is not a position."""


@dataclass
class Arrangement:
    """Pieces, side to move, and the rights that the player wants where they are possible.

    `rights` (a bitboard of rooks) and `ep_square` outlast a piece that is moved away and back.
    """

    pieces: chess.Board
    rights: int = _ALL_RIGHTS
    ep_square: chess.Square | None = None

    @classmethod
    def of(cls, board: chess.Board) -> Arrangement:
        """The arrangement that gives `board`."""
        found = cls(board.copy(stack=False), board.castling_rights, board.ep_square)
        found.pieces.castling_rights = chess.BB_EMPTY
        found.pieces.ep_square = None
        return found

    @classmethod
    def empty(cls) -> Arrangement:
        """No piece; kings and rooks that come home later may castle."""
        return cls(chess.Board(None))

    def put(self, square: chess.Square, piece: chess.Piece | None) -> bool:
        """Put a piece on a square, or take off what stands there; whether that changed it."""
        if self.pieces.piece_at(square) == piece:
            return False
        self.pieces.set_piece_at(square, piece)
        return True

    def move(self, start: chess.Square, end: chess.Square) -> bool:
        """Lift a piece to another square, where it replaces what stands there."""
        piece = self.pieces.piece_at(start)
        if piece is None or start == end:
            return False
        self.pieces.remove_piece_at(start)
        self.pieces.set_piece_at(end, piece)
        return True

    def set_turn(self, turn: chess.Color) -> None:
        """Choose who is to move."""
        self.pieces.turn = turn

    def want_right(self, rook: chess.Square, wanted: bool) -> None:
        """Give or take the right to castle with the rook that belongs on a corner."""
        self.rights = self.rights & ~chess.BB_SQUARES[rook]
        if wanted:
            self.rights |= chess.BB_SQUARES[rook]

    def possible_rights(self) -> int:
        """The rooks with which a side could still castle: both at home with their king."""
        rights = chess.BB_EMPTY
        for rook, _words in CASTLINGS:
            color = rook in (chess.H1, chess.A1)
            if (
                self.pieces.piece_at(rook) == chess.Piece(chess.ROOK, color)
                and self.pieces.king(color) == _KING_HOMES[color]
            ):
                rights |= chess.BB_SQUARES[rook]
        return rights

    def possible_ep_squares(self) -> list[chess.Square]:
        """The squares on which the side to move could legally capture a pawn in passing."""
        board = self.pieces.copy(stack=False)
        rank = 5 if board.turn == chess.WHITE else 2
        found = []
        for file in range(8):
            board.ep_square = chess.square(file, rank)
            sound = not board.status() & chess.STATUS_INVALID_EP_SQUARE
            if sound and board.has_legal_en_passant():
                found.append(board.ep_square)
        return found

    def board(self) -> chess.Board:
        """The position, with what is possible of the wanted rights; counters 0 and 1."""
        board = self.pieces.copy(stack=False)
        board.castling_rights = self.rights & self.possible_rights()
        if self.ep_square in self.possible_ep_squares():
            board.ep_square = self.ep_square
        board.halfmove_clock, board.fullmove_number = 0, 1
        return board

    def fault(self) -> str:
        """Why no game can be played from here, in one sentence; nothing where one can."""
        board = self.board()
        status = board.status()
        for flags, sentence in _FAULTS:
            if status & flags:
                return sentence
        if status & chess.STATUS_OPPOSITE_CHECK:
            mover, other = ("White", "Black") if board.turn else ("Black", "White")
            return (
                f"{mover} is to move and could take the king: let {other} move, or end the check."
            )
        if status != chess.STATUS_VALID:
            return "No game can come to this position; check the pieces."
        return ""


def read_position(text: str) -> chess.Board:
    """The board that a FEN or EPD describes, legal or not. Raises `PositionTextError`.

    Four fields or six, PGN standard 16.1; a board alone is taken with White to move.
    """
    text = " ".join(text.split())
    fields = text.split(" ")
    try:
        if len(fields) < 4:
            return chess.Board(" ".join([*fields, *("w", "-", "-")[len(fields) - 1 :]]))
        return chess.Board(" ".join(fields[:6] if _has_counters(fields) else fields[:4]))
    except (ValueError, IndexError):
        shown = text if len(text) <= 80 else f"{text[:79]}…"
        raise PositionTextError(
            f"“{shown}” is not a position in FEN; copy the whole line again."
            if text
            else "There is no text to paste; copy a FEN first."
        ) from None


def _has_counters(fields: list[str]) -> bool:
    return len(fields) >= 6 and fields[4].isdecimal() and fields[5].isdecimal()
