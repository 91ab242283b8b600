"""Whether a tactical claim that rules made bears out: what the engine says of it."""

from __future__ import annotations

from typing import Final

import chess

from trainer.engine.evaluator import Evaluate

#: Centipawns that a capture must cost for it to be called a mistake.
_COSTS: Final = 50
#: Centipawns that a threat must be worth, and that it may be worse than the best move.
_THREATENS: Final = 80
_BESIDE: Final = 100
#: From so many centipawns on it does not matter which move wins.
_WINS: Final = 400
#: Centipawns by which a move may be worse than the best one and still be as good.
_AS_GOOD: Final = 30
_MOST_AS_GOOD: Final = 4
#: Nodes for each of the two or three questions.
NODES: Final = 100_000


def bears_out(
    board: chess.Board,
    taking: chess.Move | None,
    answer: chess.Move,
    evaluate: Evaluate,
    *,
    nodes: int = NODES,
) -> bool:
    """Whether `answer` makes `taking` on `board` a mistake; without `taking`, whether it wins.

    A capture is a mistake where the position behind `answer` is worse for who took by 50
    centipawns or more than his best move. A threat of the side to move is one where `answer` is
    the best move or nearly, or wins, and gains 80 centipawns against passing the move. Raises
    `EngineError` as `evaluate` does.
    """
    if taking is not None:
        best = evaluate(board, nodes=nodes).score
        after = board.copy(stack=False)
        after.push(taking)
        reached = evaluate(after, nodes=nodes, moves=[answer]).score
        return (reached.mate or 0) > 0 or best.value + reached.value >= _COSTS
    made = evaluate(board, nodes=nodes, moves=[answer]).score
    if made.mate is not None and made.mate > 0:
        return True
    if made.value < _WINS and evaluate(board, nodes=nodes).score.value - made.value > _BESIDE:
        return False
    passed = board.copy(stack=False)
    passed.turn = not board.turn
    passed.ep_square = None
    if not passed.is_valid():
        return True
    return made.value + evaluate(passed, nodes=nodes).score.value >= _THREATENS


def as_good(
    board: chess.Board, best: chess.Move, evaluate: Evaluate, *, nodes: int = 2 * NODES
) -> tuple[chess.Move, ...]:
    """`best` and those of the engine's four first moves that are within 30 centipawns of its best.

    Where that mates, moves that mate are as good. Raises `EngineError` as `evaluate` does.
    """
    lines = evaluate(board, nodes=nodes, lines=_MOST_AS_GOOD).lines
    top = lines[0].score
    found = [best]
    for line in lines:
        mates = (top.mate or 0) > 0 and (line.score.mate or 0) > 0
        near = top.mate is None and top.value - line.score.value <= _AS_GOOD
        if line.move is not None and line.move not in found and (mates or near):
            found.append(line.move)
    return tuple(found)
