"""Identity of a position.

Two positions are the same when the same pieces stand on the same squares, the same side is to
move and the same moves are possible for both sides (FIDE Laws of Chess 2023, article 9.2):
castling rights count, the en-passant square counts only if an en-passant capture is legal, and
move counters do not count.

The key is a Zobrist key over exactly that, on the published random numbers that python-chess
ships as `chess.polyglot.POLYGLOT_RANDOM_ARRAY`. It differs from the key those numbers were
published for only in the en-passant term, which is added here when the capture is *legal*
rather than whenever a pawn stands beside.
"""

from __future__ import annotations

import struct
from typing import Final

import chess
import chess.polyglot

RANDOM: Final = tuple(chess.polyglot.POLYGLOT_RANDOM_ARRAY)

#: Number of the first castling, en-passant and turn entry in `RANDOM`.
CASTLING_OFFSET: Final = 768
EN_PASSANT_OFFSET: Final = 772
TURN_OFFSET: Final = 780

#: `PIECE_KEYS[color][piece_type][square]`: the term of one piece on one square.
PIECE_KEYS: Final = tuple(
    (
        (0,) * 64,
        *(
            tuple(RANDOM[64 * (2 * (piece_type - 1) + color) + square] for square in range(64))
            for piece_type in chess.PIECE_TYPES
        ),
    )
    for color in (0, 1)
)

TURN_KEY: Final = RANDOM[TURN_OFFSET]
EN_PASSANT_KEYS: Final = RANDOM[EN_PASSANT_OFFSET:TURN_OFFSET]

_CASTLING_ROOKS: Final = (chess.H1, chess.A1, chess.H8, chess.A8)
#: The layout of a packed position: eight bitboards, the side to move, the en-passant square.
PACKED: Final = struct.Struct("<8Q2B")

#: What stands for the en-passant square in the packed form where there is none.
NO_SQUARE: Final = 64


def castling_key(rights: int) -> int:
    """The castling term for a bitboard of the rooks that may still castle."""
    key = 0
    for number, square in enumerate(_CASTLING_ROOKS):
        if rights & chess.BB_SQUARES[square]:
            key ^= RANDOM[CASTLING_OFFSET + number]
    return key


def legal_ep_square(board: chess.Board) -> int | None:
    """The en-passant square if a capture on it is legal, else None."""
    if board.ep_square is not None and board.has_legal_en_passant():
        return board.ep_square
    return None


def position_key(board: chess.Board) -> int:
    """64-bit identity of the position on `board` (unsigned)."""
    key = castling_key(board.clean_castling_rights())
    for color in (chess.BLACK, chess.WHITE):
        own = board.occupied_co[color]
        tables = PIECE_KEYS[color]
        for piece_type in chess.PIECE_TYPES:
            table = tables[piece_type]
            for square in chess.scan_forward(board.pieces_mask(piece_type, color) & own):
                key ^= table[square]
    if board.turn == chess.WHITE:
        key ^= TURN_KEY
    ep_square = legal_ep_square(board)
    if ep_square is not None:
        key ^= EN_PASSANT_KEYS[chess.square_file(ep_square)]
    return key


def position_epd(board: chess.Board) -> str:
    """The identity in text: EPD with the en-passant square only where the capture is legal."""
    return board.epd(en_passant="legal")


def signed_key(key: int) -> int:
    """The key as SQLite stores integers (signed 64-bit)."""
    return key - (1 << 64) if key >= 1 << 63 else key


def unsigned_key(key: int) -> int:
    """The inverse of `signed_key`."""
    return key + (1 << 64) if key < 0 else key


def pack_position(board: chess.Board) -> bytes:
    """The identity in 66 bytes: equal exactly when two positions are the same."""
    ep_square = legal_ep_square(board)
    return PACKED.pack(
        board.pawns,
        board.knights,
        board.bishops,
        board.rooks,
        board.queens,
        board.kings,
        board.occupied_co[chess.WHITE],
        board.clean_castling_rights(),
        board.turn,
        NO_SQUARE if ep_square is None else ep_square,
    )


def unpack_position(packed: bytes) -> chess.Board:
    """A fresh board with the position packed by `pack_position`, move counters 0 and 1."""
    pawns, knights, bishops, rooks, queens, kings, white, castling, turn, ep_square = (
        PACKED.unpack(packed)
    )
    board = chess.Board(None)
    board.pawns, board.knights, board.bishops = pawns, knights, bishops
    board.rooks, board.queens, board.kings = rooks, queens, kings
    occupied = pawns | knights | bishops | rooks | queens | kings
    board.occupied = occupied
    board.occupied_co[chess.WHITE] = white
    board.occupied_co[chess.BLACK] = occupied & ~white
    board.castling_rights = castling
    board.turn = bool(turn)
    board.ep_square = None if ep_square == NO_SQUARE else ep_square
    return board
