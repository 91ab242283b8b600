"""Motifs: what can be said of a position by rule, each a pure function.

They claim too little rather than too much: a piece is called trapped only where every square it
can go to costs material and its attacker cannot be taken, a double attack only where both
targets are really to be won. None of them changes the board that it is given.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import chess

from trainer.engine.exchange import threatened, value_at
from trainer.exchange import exchange_gain, legal_exchange, taken_by


@dataclass(frozen=True)
class Pin:
    """A piece on `square` that stands before one on `behind`, seen by a line piece on `by`."""

    square: chess.Square
    by: chess.Square
    behind: chess.Square


def with_turn(board: chess.Board, color: chess.Color) -> chess.Board | None:
    """The position with `color` to move; None where that side is not to move and the other is
    in check, which cannot be passed by."""
    trial = board.copy(stack=False)
    if trial.turn != color:
        if trial.is_check():
            return None
        trial.push(chess.Move.null())
    return trial


def undefended(board: chess.Board, color: chess.Color) -> list[chess.Square]:
    """Pieces of `color` that are attacked and that nothing defends, the most valuable first.

    Attacked and defended mean: by a legal capture, and by a legal capture of what captured.
    """
    trial = with_turn(board, not color)
    if trial is None:
        return []
    found = []
    for square in chess.scan_forward(board.occupied_co[color] & ~board.kings):
        target = chess.BB_SQUARES[square]
        captures = list(trial.generate_legal_captures(to_mask=target))
        if captures and any(not _retaken(trial, capture) for capture in captures):
            found.append(square)
    return sorted(found, key=lambda square: -value_at(board, square))


def _retaken(board: chess.Board, capture: chess.Move) -> bool:
    after = board.copy(stack=False)
    after.push(capture)
    return any(after.generate_legal_captures(to_mask=chess.BB_SQUARES[capture.to_square]))


def is_trapped(board: chess.Board, square: chess.Square) -> bool:
    """Whether the piece on `square` is attacked and lost: wherever it goes, material is lost.

    Common practice, no source: each of its moves must lose more by exchange than it takes,
    staying must lose, and no attacker of it may be taken without loss by another piece. Looked
    at with the piece's own side to move. Pawns and kings are never called trapped.
    """
    piece = board.piece_at(square)
    if piece is None or piece.piece_type in (chess.PAWN, chess.KING):
        return False
    own, other = with_turn(board, piece.color), with_turn(board, not piece.color)
    if own is None or other is None or threatened(other, square) <= 0:
        return False
    attackers = own.attackers(not piece.color, square)
    for move in list(own.legal_moves):
        if move.from_square == square:
            if _keeps(own, move):
                return False
        elif move.to_square in attackers and legal_exchange(own, move) >= 0:
            return False
    return True


def _keeps(board: chess.Board, move: chess.Move) -> bool:
    """Whether a move loses no material by exchange on the square it goes to."""
    after = board.copy(stack=False)
    after.push(move)
    return threatened(after, move.to_square) <= taken_by(board, move)


def pins(board: chess.Board, color: chess.Color) -> list[Pin]:
    """Pieces of `color` that are pinned: to the king, or to a piece worth more than both.

    A pin to the king is that of FIDE Laws 3.9.2. For the other kind the piece behind must be
    worth more than the pinned one and than the line piece (common practice, no source).
    """
    found = []
    for origin in chess.scan_forward(
        board.occupied_co[not color] & (board.bishops | board.rooks | board.queens)
    ):
        for square in board.attacks(origin) & chess.SquareSet(board.occupied_co[color]):
            behind = _behind(board, origin, square)
            if behind is None or board.color_at(behind) != color:
                continue
            worth = value_at(board, behind)
            if worth > value_at(board, square) and worth > value_at(board, origin):
                found.append(Pin(square, origin, behind))
    return found


def _behind(board: chess.Board, origin: chess.Square, square: chess.Square) -> chess.Square | None:
    """The next man on the line from `origin` through `square`, None where there is none."""
    beyond = chess.SquareSet(chess.ray(origin, square)) & ~chess.SquareSet(
        chess.between(origin, square)
    )
    further = [
        other
        for other in beyond
        if other not in (origin, square)
        and chess.between(origin, other) & chess.BB_SQUARES[square]
        and board.piece_type_at(other)
    ]
    return min(further, key=lambda other: chess.square_distance(square, other), default=None)


def double_attack(board: chess.Board, square: chess.Square) -> list[chess.Square]:
    """Two or more enemy men that the man on `square` attacks at once and would win; else nothing.

    A king in check counts; another man counts where this very man can take it with gain. The
    man itself must stand safely. The most valuable target comes first.
    """
    piece = board.piece_at(square)
    if piece is None:
        return []
    passed = board.copy(stack=False)
    passed.turn = not piece.color
    passed.ep_square = None
    if threatened(passed, square) > 0:
        return []
    mine = board.copy(stack=False)
    mine.turn = piece.color
    mine.ep_square = None
    others = chess.SquareSet(board.occupied_co[not piece.color])
    targets = [
        target for target in board.attacks(square) & others if _to_be_won(mine, square, target)
    ]
    targets.sort(key=lambda target: -value_at(board, target))
    return targets if len(targets) > 1 else []


@dataclass(frozen=True)
class Discovery:
    """A line piece on `by` that attacks `target` since a man of its own side stepped aside."""

    by: chess.Square
    target: chess.Square


def discovered_attacks(board: chess.Board, move: chess.Move) -> list[Discovery]:
    """What the legal `move` uncovers: attacks of a piece that stood behind the man that moved.

    The king counts, as a discovered check; another man counts where the uncovered piece can take
    it with gain were it its turn again. The most valuable target comes first. A line that opens
    because something was taken en passant, or by castling, is not counted.
    """
    if board.is_castling(move):
        return []
    mine = board.copy(stack=False)
    mine.push(move)
    mine.turn = board.turn
    mine.ep_square = None
    theirs = chess.SquareSet(mine.occupied_co[not board.turn])
    left = chess.BB_SQUARES[move.from_square]
    lines = mine.occupied_co[board.turn] & (mine.bishops | mine.rooks | mine.queens)
    found = [
        Discovery(by, target)
        for by in chess.scan_forward(lines & ~chess.BB_SQUARES[move.to_square])
        for target in mine.attacks(by) & theirs
        if chess.between(by, target) & left and _to_be_won(mine, by, target)
    ]
    return sorted(found, key=lambda one: -value_at(mine, one.target))


def _to_be_won(board: chess.Board, by: chess.Square, target: chess.Square) -> bool:
    """Whether the man on `by`, whose side is to move, takes the one on `target` with gain.

    A king is attacked, which is enough.
    """
    if board.piece_type_at(target) == chess.KING:
        return True
    captures = board.generate_pseudo_legal_moves(chess.BB_SQUARES[by], chess.BB_SQUARES[target])
    return any(_pays(board, move) for move in list(captures))


def _pays(board: chess.Board, capture: chess.Move) -> bool:
    """Whether a capture wins material, though it may not be this side's turn in truth.

    Where the other side is in check it will have met that first, and take back as it likes.
    """
    if board.was_into_check():
        return exchange_gain(board, capture) > 0
    return legal_exchange(board, capture) > 0


def unguarded_by(board: chess.Board, move: chess.Move) -> list[chess.Square]:
    """Enemy men that the capture `move` leaves to be won, since it takes a man that guarded them.

    Each of them was attacked already, by another man than the one that takes; that taking it did
    not pay before the guard was gone, and pays afterwards were it the same side's turn again. The
    most valuable one comes first.
    """
    if not board.is_capture(move) or board.is_en_passant(move):
        return []
    mine = board.copy(stack=False)
    mine.push(move)
    mine.turn = board.turn
    mine.ep_square = None
    theirs = chess.SquareSet(board.occupied_co[not board.turn] & ~board.kings)
    found = []
    for target in board.attacks(move.to_square) & theirs:
        captures = board.generate_legal_captures(to_mask=chess.BB_SQUARES[target])
        others = [one for one in list(captures) if one.from_square != move.from_square]
        if any(legal_exchange(board, one) > 0 for one in others):
            continue
        if any(mine.is_legal(one) and _pays(mine, one) for one in others):
            found.append(target)
    return sorted(found, key=lambda target: -value_at(board, target))


def is_back_rank_weak(board: chess.Board, color: chess.Color) -> bool:
    """Whether the king of `color` stands on its first rank and cannot step off it.

    Every square before it is held by its own men or seen by the other side's, which has a rook or
    a queen to come with (common practice, no source).
    """
    king = board.king(color)
    rank = 0 if color else 7
    if king is None or chess.square_rank(king) != rank:
        return False
    heavy = (board.rooks | board.queens) & board.occupied_co[not color]
    before = chess.SquareSet(chess.BB_KING_ATTACKS[king] & chess.BB_RANKS[1 if color else 6])
    own = before & chess.SquareSet(board.occupied_co[color])
    return (
        bool(heavy)
        and bool(own)
        and all(square in own or board.is_attacked_by(not color, square) for square in before)
    )


def is_back_rank_mate(board: chess.Board) -> bool:
    """Whether the side to move is mated on its first rank by a rook or queen along it."""
    king = board.king(board.turn)
    if king is None or not board.is_checkmate():
        return False
    rank = 0 if board.turn else 7
    along = chess.SquareSet(chess.BB_RANKS[rank])
    heavy = chess.SquareSet(board.rooks | board.queens)
    return (
        chess.square_rank(king) == rank
        and is_back_rank_weak(board, board.turn)
        and all(checker in along and checker in heavy for checker in board.checkers())
    )


def promotions(line: Sequence[chess.Move]) -> list[int]:
    """The places in a line, from 0, of promotions whose piece is not taken by the next move."""
    found = []
    for number, move in enumerate(line):
        answer = line[number + 1] if number + 1 < len(line) else None
        if move.promotion and (answer is None or answer.to_square != move.to_square):
            found.append(number)
    return found


def piece_name(board: chess.Board, square: chess.Square) -> str:
    """`queen`, `knight` … of what stands on a square."""
    return chess.piece_name(board.piece_type_at(square) or chess.PAWN)
