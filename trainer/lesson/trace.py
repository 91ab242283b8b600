"""From a sentence of a draft back to what was computed: in values, and drawn on a board."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import chess

from trainer.lesson.facts import (
    BreakFact,
    DepartureFact,
    EndFact,
    Fact,
    KeptFact,
    MomentFact,
    NoveltyFact,
    OpeningFact,
    ReentryFact,
    StructureFact,
    TrickFact,
)
from trainer.lesson.game import LessonGame
from trainer.notation.display import sentence_list

_AGREES = {None: "no engine was asked", True: "the engine agrees", False: "the engine disagrees"}


@dataclass(frozen=True, eq=False)
class Trace:
    """What a fact is: `text` says where it comes from and its values; `board` is the position that
    it was seen on, with `arrows` and `marks` for the moves and squares in it."""

    text: str
    board: chess.Board
    arrows: tuple[tuple[chess.Square, chess.Square], ...] = ()
    marks: tuple[chess.Square, ...] = ()


def trace_of(  # noqa: PLR0911 - one for each kind of fact
    game: LessonGame, ply: int, fact: Fact | None
) -> Trace:
    """What stands behind a sentence at the half-move `ply`; None is the coach's own."""
    board = game.boards[ply]
    before = game.boards[max(0, ply - 1)]
    played = game.moves[ply - 1] if ply else None
    arrow = () if played is None else ((played.from_square, played.to_square),)
    match fact:
        case None:
            return Trace("Your own words.", board)
        case OpeningFact():
            text = f"The opening table has this position as {fact.opening}"
            return Trace(f"{text}, whatever the order of moves.", board)
        case StructureFact():
            return _structure(fact, board if fact.began else before)
        case BreakFact():
            return _break(fact, before)
        case TrickFact():
            return _trick(game, fact)
        case DepartureFact():
            known = sentence_list(fact.known) if fact.known else "no move"
            return Trace(f"In the position before, the repertoire has {known}.", before, arrow)
        case ReentryFact():
            return Trace("The repertoire has this position, by another order of moves.", board)
        case NoveltyFact():
            text = (
                f"{fact.games} games of the reference base that are certainly earlier had the "
                "position before this move, and none the one after it."
            )
            return Trace(text, board, arrow)
        case MomentFact():
            best = fact.better.best
            names = sentence_list(before.san(move) for move in best)
            drawn = tuple((move.from_square, move.to_square) for move in best)
            return Trace(f"An engine preferred {names}. {fact.better.why}".strip(), before, drawn)
        case EndFact():
            return Trace(f"The result in the file is {fact.result}.", board)
        case KeptFact():
            return Trace(
                f"When this was written, it was computed: {fact.told} It was not found again now.",
                board,
            )


def _names(squares: Iterable[chess.Square]) -> str:
    return sentence_list(map(chess.square_name, squares))


def _structure(fact: StructureFact, board: chess.Board) -> Trace:
    structure = fact.found.structure
    white, black = (
        list(chess.scan_forward(board.pawns & board.occupied_co[color]))
        for color in (chess.WHITE, chess.BLACK)
    )
    verb = "came about" if fact.began else "stood here and is gone after the next move"
    text = (
        f"The definition “{structure.id}” ({structure.source}) {verb}, with pawns on "
        f"{_names(white)} against {_names(black)}."
    )
    marks = tuple(fact.found.pawns_on(board))
    return Trace(text, board, marks=marks)


def _break(fact: BreakFact, board: chess.Board) -> Trace:
    one = fact.played
    text = (
        f"The pawn goes to {chess.square_name(one.target)}, from where it attacks the pawns on "
        f"{_names(one.challenges)}; {one.support} guard that square and {one.opposition} attack "
        f"it, and by exchange it loses {one.loses}."
    )
    return Trace(text, board, ((one.start, one.target),), one.challenges)


def _trick(game: LessonGame, fact: TrickFact) -> Trace:
    trick = fact.trick
    moves = [move for move in (trick.taking, trick.answer) if move is not None]
    until = fact.until
    last = game.numbered(until) if until else "the beginning"
    text = f"Kind: {trick.kind}; it stood until {last}; {_AGREES[trick.confirmed]}."
    drawn = tuple((move.from_square, move.to_square) for move in moves)
    # Where the taker stands in the end is drawn by the first arrow already.
    marks = tuple(at for at in trick.squares if not moves or at != moves[0].to_square)
    return Trace(text, trick.board, drawn, marks)
