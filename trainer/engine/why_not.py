"""Why not this move? The engine's answer to it, cut where the point is made."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import chess

from trainer.engine.evaluation import Score, line_sans
from trainer.engine.evaluator import Evaluate
from trainer.engine.point import PointKind, find_point

#: A move that loses less than this, in centipawns, has nothing against it.
HARMLESS: Final = 40
#: A line shorter than this, in half-moves, is asked on.
_ENOUGH: Final = 7
_ASK_ON: Final = 3


@dataclass(frozen=True)
class WhyNot:
    """What speaks against a move.

    `san` is the move and `best_san` the engine's; `score` is the position behind the move and
    `loss` what it gives away, in centipawns, both seen from the side that makes it. `line` are
    the answers, `sans` the same in SAN; `sentences` are plain and complete.
    """

    board: chess.Board
    move: chess.Move
    san: str
    best_san: str
    score: Score
    loss: int
    line: tuple[chess.Move, ...]
    sans: tuple[str, ...]
    kind: PointKind
    sentences: tuple[str, ...]


def why_not(
    board: chess.Board, move: chess.Move, evaluate: Evaluate, *, nodes: int = 400_000
) -> WhyNot:
    """What speaks against the legal `move` on `board`, by so many nodes a question.

    Raises `EngineError` as `evaluate` does.
    """
    best = evaluate(board, nodes=nodes)
    mine = best if best.best.move == move else evaluate(board, nodes=nodes, moves=[move])
    score = mine.score
    loss = max(0, best.score.value - score.value)
    after = board.copy(stack=False)
    after.push(move)
    line = _long_enough(after, mine.best.moves[1:], evaluate, nodes)
    san = board.san(move)
    best_move = best.best.move
    best_san = board.san(best_move) if best_move is not None else ""
    point = find_point(board, move, line)
    harmless = loss < HARMLESS
    cut = point.moves
    sentences = _verdict(board, san, best_san, score, harmless=harmless)
    return WhyNot(
        board=board.copy(stack=False),
        move=move,
        san=san,
        best_san=best_san,
        score=score,
        loss=loss,
        line=cut,
        sans=line_sans(after, cut),
        kind=PointKind.NONE if harmless else point.kind,
        sentences=sentences if harmless else (*point.sentences, *sentences),
    )


def _long_enough(
    after: chess.Board, line: tuple[chess.Move, ...], evaluate: Evaluate, nodes: int
) -> tuple[chess.Move, ...]:
    """The line, asked on where the engine's own ends before a point can be made."""
    for _ in range(_ASK_ON):
        if len(line) >= _ENOUGH:
            break
        trial = after.copy(stack=False)
        for move in line:
            trial.push(move)
        more = evaluate(trial, nodes=nodes).best.moves
        if not more:
            break
        line = (*line, *more)
    return line


def _verdict(
    board: chess.Board, san: str, best_san: str, score: Score, *, harmless: bool
) -> tuple[str, ...]:
    words = score.words(board.turn)
    if harmless:
        if best_san == san:
            return (f"{san} is the engine's move as well. {words}.",)
        return (f"Nothing speaks against {san}. {words}; the engine would play {best_san}.",)
    return (f"After {san}: {words[0].lower() + words[1:] if words.startswith('The') else words}.",)
