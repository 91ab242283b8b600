"""What the engine says, as the player reads it: words first, figures behind them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.notation.display import numbered, shown_san, shown_text
from trainer.notation.numbers import count

if TYPE_CHECKING:
    import chess

    from trainer.engine.evaluation import Evaluation, Line
    from trainer.engine.why_not import WhyNot
    from trainer.notation.display import Notation

#: Half-moves of a line that are shown.
SHOWN = 12

SILENT = "A question of the drill is open; the engine is silent until it is answered."

#: Told once, before the first look.
FAIR_PLAY = (
    "An engine is for preparation and for after the game. Any help during a game breaks the Laws "
    "of Chess (FIDE Laws 11.3)."
)


def verdict(evaluation: Evaluation, turn: chess.Color) -> str:
    """The evaluation of a position in words."""
    return f"{evaluation.score.words(turn)}."


def figures(evaluation: Evaluation, turn: chess.Color, side: chess.Color) -> str:
    """The figure from the side of `side`, and how deep the engine has looked."""
    score = evaluation.score if turn == side else evaluation.score.turned()
    who = "White" if side else "Black"
    depth = f", {count(evaluation.depth, 'half-move')} deep" if evaluation.depth else ""
    return f"{score.figure()} for {who}{depth}"


def line_words(
    board: chess.Board, line: Line, side: chess.Color, notation: Notation, number: int
) -> str:
    """What a line comes to, in words and for `side`, then its moves, numbered from `number`."""
    from trainer.engine.evaluation import line_sans

    sans = line_sans(board, line.moves[:SHOWN])
    moves = numbered(sans, turn=board.turn, number=number, notation=notation)
    score = line.score if board.turn == side else line.score.turned()
    first = shown_san(sans[0], notation)
    # Castling is not broken off at the end of a line.
    moves = moves.replace("-", "\N{NON-BREAKING HYPHEN}")
    return f"{first}: {_inside(line.score.words(board.turn))} ({score.figure()})\n{moves}"


def _inside(sentence: str) -> str:
    """A sentence as it stands inside another; the names of the sides keep their capitals."""
    return sentence[0].lower() + sentence[1:] if sentence.startswith("The ") else sentence


def why_not_words(found: WhyNot, notation: Notation, number: int) -> str:
    """What speaks against a move: the answers, then the point and the verdict."""
    sentences = [shown_text(sentence, notation) for sentence in found.sentences]
    if not found.sans or (
        len(found.sentences) == 1 and found.kind.value == "none" and not found.loss
    ):
        return " ".join(sentences)
    turn = found.board.turn
    line = numbered((found.san, *found.sans), turn=turn, number=number, notation=notation)
    better = ""
    if found.best_san and found.best_san != found.san and found.loss:
        better = f" The engine would play {shown_san(found.best_san, notation)}."
    if any("would play" in sentence for sentence in sentences):
        better = ""
    return f"{line}\n{' '.join(sentences)}{better}"
