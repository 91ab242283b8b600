"""Critical moments of a game: where one move was much better than the rest, where a mistake
changed the class of the evaluation. Found with a bounded number of nodes."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import chess

from trainer.engine.evaluation import Evaluation, Score, Standing
from trainer.engine.evaluator import Evaluate

#: Nodes for a whole game where nobody says.
TOTAL_NODES: Final = 4_000_000
#: Centipawns by which the best move must be better than the next one to be called the only one.
ONLY_MOVE: Final = 150
#: Centipawns that a move must lose to be called a mistake.
MISTAKE: Final = 100
#: Fewer nodes a position than this say nothing.
_LEAST: Final = 2_000
#: The shares of all nodes for the first look, for the second best move and for the mistakes.
_FIRST, _SECOND, _THIRD = 0.5, 0.3, 0.2
_DECIDED: Final = 800
#: A mate in so many moves is worth finding where nothing else wins.
_NEAR_MATE: Final = 3


class MomentKind(StrEnum):
    """Why a moment is critical."""

    #: One move was much better than every other.
    ONLY_MOVE = "only move"
    #: A mistake changed the class of the evaluation.
    TURN = "turn"


@dataclass(frozen=True)
class Moment:
    """A critical moment of a game, before the half-move `ply` (from 1) is made on `fen`.

    `played` and `best` are in UCI, as `line` is, the engine's best moves. `before` is the score
    of the best move and `after` that of the move that was played, both for its side; `second` is
    the score of the next best move where it was looked at. `loss` is in centipawns.
    """

    ply: int
    fen: str
    kind: MomentKind
    side: chess.Color
    played: str
    best: str
    line: tuple[str, ...]
    before: Score
    after: Score
    second: Score | None
    loss: int

    @property
    def found(self) -> bool:
        """Whether the best move was played."""
        return self.played == self.best


def find_moments(
    start: chess.Board,
    moves: Sequence[chess.Move],
    evaluate: Evaluate,
    *,
    total_nodes: int = TOTAL_NODES,
    first_ply: int = 1,
    told: Callable[[float], None] = lambda _share: None,
) -> tuple[Moment, ...]:
    """The critical moments of a game of legal `moves` from `start`, in their order.

    All searches together take about `total_nodes` nodes, and never fewer than 2,000 a position:
    a first look at every position; where it hints at a moment, a second look at two lines; and a
    third at what was played. Moments before the half-move `first_ply` are not looked for (what is
    known by heart is nobody's decision). `told` gets the share that is done.

    Raises `EngineError` as `evaluate` does; the evaluations until then are not lost to a cache.
    """
    boards = _boards(start, moves)
    looked = range(max(0, first_ply - 1), len(moves))
    if not looked:
        return ()
    count = len(looked) + 1
    nodes = max(_LEAST, round(total_nodes * _FIRST / count))
    scores: dict[int, Evaluation] = {}
    for done, ply in enumerate(range(looked[0], len(moves) + 1), start=1):
        scores[ply] = evaluate(boards[ply], nodes=nodes)
        told(_FIRST * done / count)
    suspects = [ply for ply in looked if _is_suspect(boards[ply], moves[ply], scores, ply)]
    more = max(_LEAST, round(total_nodes * (_SECOND + _THIRD) / max(1, 2 * len(suspects))))
    more = min(more, 4 * nodes)
    found = []
    for done, ply in enumerate(suspects, start=1):
        moment = _judge(boards, moves, ply, evaluate, more)
        if moment is not None:
            found.append(moment)
        told(_FIRST + (1 - _FIRST) * done / len(suspects))
    return tuple(found)


def _boards(start: chess.Board, moves: Sequence[chess.Move]) -> list[chess.Board]:
    trial = start.copy(stack=False)
    boards = [trial.copy(stack=False)]
    for move in moves:
        trial.push(move)
        boards.append(trial.copy(stack=False))
    return boards


def _is_suspect(
    board: chess.Board, played: chess.Move, scores: dict[int, Evaluation], ply: int
) -> bool:
    """Whether the first look hints at a moment: something was lost, or something is at stake.

    At stake means here: the best move takes, gives check or promotes, or the side is in check, and
    there is more than one legal move; quiet positions seldom have an only move, and where the
    player went wrong in one, the loss shows it.
    """
    if board.legal_moves.count() < 2:
        return False
    best = scores[ply].best
    after = scores[ply + 1].score.turned()
    if best.move is not None and played != best.move:
        loss = _clipped(best.score) - _clipped(after)
        if loss >= MISTAKE // 2:
            return True
    sharp = best.move is not None and (
        board.is_capture(best.move) or board.gives_check(best.move) or bool(best.move.promotion)
    )
    mate = best.score.mate
    open_game = abs(best.score.value) < _DECIDED or (mate is not None and 0 < mate <= _NEAR_MATE)
    return (sharp or board.is_check()) and open_game


def _judge(
    boards: Sequence[chess.Board],
    moves: Sequence[chess.Move],
    ply: int,
    evaluate: Evaluate,
    nodes: int,
) -> Moment | None:
    board, played = boards[ply], moves[ply]
    both = evaluate(board, nodes=nodes, lines=2)
    best, second = both.lines[0], both.lines[1] if len(both.lines) > 1 else None
    if best.move is None:
        return None
    mine = next((line for line in both.lines if line.move == played), None)
    if mine is None:
        mine = evaluate(board, nodes=nodes, moves=[played]).best
    loss = max(0, _clipped(best.score) - _clipped(mine.score))
    other = None if second is None else second.score
    kind = _kind(best.score, mine.score, other, loss)
    # To take back on the square just taken on is nobody's discovery.
    retaking = ply > 0 and (
        boards[ply - 1].is_capture(moves[ply - 1])
        and moves[ply - 1].to_square == best.move.to_square
    )
    if kind is None or (kind is MomentKind.ONLY_MOVE and retaking and best.move == played):
        return None
    return Moment(
        ply=ply + 1,
        fen=board.fen(en_passant="legal"),
        kind=kind,
        side=board.turn,
        played=played.uci(),
        best=best.move.uci(),
        line=tuple(move.uci() for move in best.moves),
        before=best.score,
        after=mine.score,
        second=other,
        loss=loss,
    )


def _kind(before: Score, after: Score, second: Score | None, loss: int) -> MomentKind | None:
    if loss >= MISTAKE and after.standing < before.standing:
        return MomentKind.TURN
    if second is None or second.standing is Standing.WON:
        return None
    lead = _clipped(before) - _clipped(second)
    return (
        MomentKind.ONLY_MOVE if lead >= ONLY_MOVE and second.standing < before.standing else None
    )


def _clipped(score: Score) -> int:
    return max(-_DECIDED, min(_DECIDED, score.value))
