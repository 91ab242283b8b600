"""Tricks in plain sentences."""

from __future__ import annotations

from typing import Final

import chess

from trainer.lesson.replies import MATE
from trainer.lesson.tricks import Trick, TrickKind
from trainer.notation.display import sentence_list

#: What the engine says of a trick, behind its sentence.
AGREES: Final = {
    None: "",
    True: " (The engine agrees.)",
    False: " (The engine does not agree.)",
}


def side_name(side: chess.Color) -> str:
    """`White` or `Black`."""
    return "White" if side else "Black"


def trick_sentence(trick: Trick) -> str:
    """What the trick is, in one sentence; moves in letters."""
    other = side_name(not trick.side)
    if trick.answer is None:
        return f"{other}'s king has no flight square: a check on the back rank may be mate."
    board = trick.board.copy(stack=False)
    if trick.taking is not None:
        begin = f"{other} cannot take on {chess.square_name(trick.taking.to_square)}: "
        moves = f"{_written(board, trick.taking)} is met by "
        board.push(trick.taking)
    else:
        begin = "" if board.turn == trick.side else f"{side_name(trick.side)} threatens: "
        moves = ""
    answer = board.san(trick.answer)
    return begin + moves + answer + _why(trick, board)


def _written(board: chess.Board, move: chess.Move) -> str:
    return ("" if board.turn else "…") + board.san(move)


def _why(trick: Trick, board: chess.Board) -> str:
    names = [chess.square_name(square) for square in trick.squares]
    pieces = [
        f"the {chess.piece_name(kind)} on {chess.square_name(square)}"
        for square in trick.squares
        if (kind := board.piece_type_at(square)) is not None
    ]
    match trick.kind:
        case TrickKind.TRAPPED:
            kind = board.piece_type_at(trick.squares[0]) or chess.PAWN
            why = f", and the {chess.piece_name(kind)} has no safe square."
        case TrickKind.FORK:
            why = f", which attacks {sentence_list(pieces)}."
        case TrickKind.BACK_RANK:
            why = ": mate on the back rank, where the king has no flight square."
        case TrickKind.MATE:
            why = ": mate."
        case TrickKind.LEFT_ITS_POST:
            why = f", since the taker no longer guards {names[0]}."
        case TrickKind.PINNED:
            why = f": {sentence_list(pieces[:-1])} guards {names[-1]} but is pinned."
        case TrickKind.OVERLOADED:
            why = f": {pieces[0]} has to guard both {names[1]} and {names[2]}."
    return why


def wins_text(trick: Trick) -> str:
    """What it wins, in a few words: `mate`, `3 pawns' worth`; empty for a mere weakness."""
    if trick.wins == MATE:
        return "mate"
    if trick.wins <= 0:
        return ""
    return "1 pawn's worth" if trick.wins == 1 else f"{trick.wins} pawns' worth"
