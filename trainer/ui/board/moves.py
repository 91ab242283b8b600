"""What a pair of squares means as a move, which pieces a change of position moves, and how a
position is read aloud. Pure functions over python-chess, without Qt.
"""

from __future__ import annotations

from dataclasses import dataclass

import chess

_MOST_MOVERS = 2  # a castling; a change of more pieces is a jump and is not animated
_PROMOTED = (chess.QUEEN, chess.ROOK, chess.BISHOP, chess.KNIGHT)


@dataclass(frozen=True)
class Glide:
    """One piece on its way between two squares."""

    piece: chess.Piece
    start: chess.Square
    end: chess.Square


@dataclass(frozen=True)
class Transition:
    """The pieces that travel between two positions, and those that are taken meanwhile."""

    glides: tuple[Glide, ...]
    taken: tuple[tuple[chess.Square, chess.Piece], ...]


STILL = Transition((), ())
"""Nothing travels."""


def matching_moves(
    board: chess.Board, start: chess.Square, end: chess.Square
) -> tuple[chess.Move, ...]:
    """Return the legal moves meant by going from `start` to `end`.

    Several only for a promotion. The king castles by going two squares or onto his own rook.
    """
    found = []
    for move in board.generate_legal_moves(from_mask=chess.BB_SQUARES[start]):
        if end == move.to_square or (board.is_castling(move) and end in _castling_ends(move)):
            found.append(move)
    return tuple(found)


def _castling_ends(move: chess.Move) -> tuple[chess.Square, chess.Square]:
    rank = chess.square_rank(move.from_square)
    kingside = chess.square_file(move.to_square) > chess.square_file(move.from_square)
    king, rook = (6, 7) if kingside else (2, 0)
    return (chess.square(king, rank), chess.square(rook, rank))


def targets(board: chess.Board, start: chess.Square) -> frozenset[chess.Square]:
    """Return the squares to which the piece on `start` may legally go."""
    return frozenset(
        move.to_square for move in board.generate_legal_moves(from_mask=chess.BB_SQUARES[start])
    )


def changed_squares(old: chess.Board, new: chess.Board) -> chess.SquareSet:
    """Return the squares on which the two positions have different pieces."""
    mask = old.occupied_co[chess.WHITE] ^ new.occupied_co[chess.WHITE]
    mask |= old.occupied_co[chess.BLACK] ^ new.occupied_co[chess.BLACK]
    for piece_type in chess.PIECE_TYPES:
        mask |= old.pieces_mask(piece_type, chess.WHITE) ^ new.pieces_mask(piece_type, chess.WHITE)
        mask |= old.pieces_mask(piece_type, chess.BLACK) ^ new.pieces_mask(piece_type, chess.BLACK)
    return chess.SquareSet(mask)


def transition(old: chess.Board, new: chess.Board) -> Transition:
    """Return what travels when the board changes from `old` to `new`, forwards or backwards.

    Empty when more pieces change than one move can change.
    """
    gone: dict[chess.Square, chess.Piece] = {}
    come: dict[chess.Square, chess.Piece] = {}
    for square in changed_squares(old, new):
        before, after = old.piece_at(square), new.piece_at(square)
        if before is not None:
            gone[square] = before
        if after is not None:
            come[square] = after
    if len(come) > _MOST_MOVERS + 1 or len(gone) > _MOST_MOVERS + 1:
        return STILL
    glides = []
    for end, piece in come.items():
        start = _origin(piece, gone)
        if start is not None:
            glides.append(Glide(gone.pop(start), start, end))
    if len(glides) > _MOST_MOVERS:
        return STILL
    return Transition(tuple(glides), tuple(gone.items()))


def _origin(piece: chess.Piece, gone: dict[chess.Square, chess.Piece]) -> chess.Square | None:
    for square, other in gone.items():
        if other == piece:
            return square
    for square, other in gone.items():
        if other.color == piece.color and _is_promotion(other.piece_type, piece.piece_type):
            return square
    return None


def _is_promotion(one: chess.PieceType, other: chess.PieceType) -> bool:
    return (one == chess.PAWN and other in _PROMOTED) or (other == chess.PAWN and one in _PROMOTED)


def spoken_square(board: chess.Board, square: chess.Square) -> str:
    """Return a square as it is read aloud, such as `e4, white pawn`."""
    piece = board.piece_at(square)
    what = (
        "empty"
        if piece is None
        else f"{chess.COLOR_NAMES[piece.color]} {chess.piece_name(piece.piece_type)}"
    )
    return f"{chess.square_name(square)}, {what}"


def spoken_position(board: chess.Board, last_move: chess.Move | None) -> str:
    """Return a position as it is read aloud: who moves, the last move, all pieces by kind."""
    parts = [f"{'White' if board.turn else 'Black'} to move."]
    if last_move is not None and last_move:
        start, end = (
            chess.square_name(last_move.from_square),
            chess.square_name(last_move.to_square),
        )
        mover = board.piece_at(last_move.to_square)
        name = f"{chess.piece_name(mover.piece_type)} " if mover is not None else ""
        parts.append(f"Last move: {name}{start} to {end}.")
    for color in chess.COLORS:
        kinds = []
        for piece_type in reversed(chess.PIECE_TYPES):
            squares = [chess.square_name(square) for square in board.pieces(piece_type, color)]
            if squares:
                plural = "s" if len(squares) > 1 else ""
                kinds.append(f"{chess.piece_name(piece_type)}{plural} {' '.join(squares)}")
        parts.append(f"{chess.COLOR_NAMES[color].capitalize()}: {', '.join(kinds)}.")
    return " ".join(parts)
