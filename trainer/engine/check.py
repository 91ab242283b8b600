"""The engine's test of a repertoire: every prepared move, every reply, every end of a line.

What games reach most comes first. Nothing is said on the strength of one search: a move that
seems to lose is looked at again, side by side with the better one and with twice the nodes. The
evaluations are kept, so a test that was stopped goes on where it was.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

import chess

from trainer.engine.evaluation import Evaluation, Line, Score, Standing
from trainer.engine.evaluator import Evaluate
from trainer.errors import EngineStoppedError
from trainer.position import position_key
from trainer.repertoire.arrays import RepertoireArrays
from trainer.repertoire.graph import Edge, Node, Repertoire
from trainer.repertoire.reach import Weigh, reach

#: Nodes a position, and what a prepared move may lose, in centipawns, where nobody says.
NODES: Final = 100_000
MARGIN: Final = 100


class FindingKind(StrEnum):
    """What the engine has against a repertoire."""

    #: A prepared move that loses at least the margin against the best move.
    LOSES = "loses"
    #: A prepared move that loses half the margin and spoils an advantage, or equality.
    BETTER = "better"
    #: An opponent's reply for which nothing is prepared, which costs at least the margin against
    #: the strongest one that is answered, and after which the other side is better by it.
    HOLE = "hole"
    #: A line that ends where the other side is better by at least the margin.
    END = "end"


@dataclass(frozen=True, eq=False)
class Finding:
    """One thing found, at `node`.

    `move` is the prepared move, or the opponent's reply of a hole; None for the end of a line.
    `loss` in centipawns is what the move loses against the best one; for a hole what the reply
    costs the player against the strongest one that is answered; for an end, and for a reply that
    the file has without an answer, how much better the other side is. `best` is the better move,
    of a hole the player's best answer. `line` are moves from the position of `node`: `move` and
    the engine's answers to it; for BETTER the better move and what follows. `score` is the
    position at the end of that, for the player, who has `side`.
    """

    node: Node
    kind: FindingKind
    move: chess.Move | None
    best: chess.Move | None
    loss: int
    line: tuple[chess.Move, ...]
    reach: float
    score: Score
    side: chess.Color

    @property
    def weight(self) -> float:
        """Centipawns that it costs in an average game."""
        return self.reach * self.loss

    @property
    def remedy(self) -> tuple[chess.Move, ...]:
        """Moves from the position of `node` that would mend it, were they in the repertoire.

        The better move, or the reply of a hole and the answer to it; nothing where a line ends
        badly, which has to be mended further up.
        """
        if self.best is None or self.kind is FindingKind.END:
            return ()
        if self.kind is FindingKind.HOLE and self.move is not None:
            return (self.move, self.best)
        return (self.best,)


@dataclass(frozen=True)
class CheckSettings:
    """Nodes a position; the margin in centipawns; how many positions, None for all."""

    nodes: int = NODES
    margin: int = MARGIN
    positions: int | None = None


@dataclass(frozen=True)
class CheckResult:
    """What was found, what costs most first, in `done` of `total` positions."""

    findings: tuple[Finding, ...]
    done: int
    total: int

    @property
    def complete(self) -> bool:
        """Whether every position was looked at."""
        return self.done == self.total


@dataclass(frozen=True)
class CheckProgress:
    """So many positions of all are done; `found` is what the last one showed."""

    done: int
    total: int
    found: tuple[Finding, ...]


def check_repertoire(
    repertoire: Repertoire,
    evaluate: Evaluate,
    settings: CheckSettings | None = None,
    *,
    weigh: Weigh = lambda _arrays: None,
    told: Callable[[CheckProgress], None] = lambda _progress: None,
) -> CheckResult:
    """Test a repertoire, what is reached most first, replies being as likely as `weigh` says.

    `told` is called after each position. Where `evaluate` raises `EngineStoppedError` the result
    has what was found until then; other errors of the engine are raised.
    """
    wanted = settings or CheckSettings()
    order = by_reach(repertoire, weigh)
    if wanted.positions is not None:
        order = order[: wanted.positions]
    judge = _Judge(repertoire, evaluate, wanted)
    findings: list[Finding] = []
    done = 0
    for node, share in order:
        try:
            found = tuple(judge.look_at(node, share))
        except EngineStoppedError:
            break
        done += 1
        findings += found
        told(CheckProgress(done, len(order), found))
    findings.sort(key=lambda finding: -finding.weight)
    return CheckResult(tuple(findings), done, len(order))


def by_reach(
    repertoire: Repertoire, weigh: Weigh = lambda _arrays: None
) -> list[tuple[Node, float]]:
    """All positions with their reach, what is reached most first."""
    arrays = RepertoireArrays.compile(repertoire)
    shares = reach(arrays, weigh(arrays)).tolist()
    both = list(zip(arrays.nodes, shares, strict=True))
    return sorted(both, key=lambda pair: -pair[1])


class _Judge:
    """Looks at one position after the other."""

    def __init__(self, repertoire: Repertoire, evaluate: Evaluate, wanted: CheckSettings) -> None:
        self._repertoire = repertoire
        self._evaluate = evaluate
        self._nodes = wanted.nodes
        self._margin = wanted.margin

    def look_at(self, node: Node, share: float) -> Iterator[Finding]:
        board = node.board()
        if not board.is_valid():
            # A section may begin at a study's position that no game can reach; no engine takes it.
            return
        if not node.edges:
            yield from self._end(node, board, share)
        elif node.turn == self._repertoire.side:
            yield from self._prepared(node, board, share)
        else:
            yield from self._replies(node, board, share)

    # -- the player's moves ------------------------------------------------------------------

    def _prepared(self, node: Node, board: chess.Board, share: float) -> Iterator[Finding]:
        best = self._evaluate(board, nodes=self._nodes).best
        for edge in node.edges:
            if edge.move == best.move or best.move is None:
                continue
            mine = self._evaluate(board, nodes=self._nodes, moves=[edge.move]).best
            if _gap(best, mine) < self._margin // 2:
                continue
            finding = self._compare(node, board, share, edge, best.move)
            if finding is not None:
                yield finding

    def _compare(
        self, node: Node, board: chess.Board, share: float, edge: Edge, better: chess.Move
    ) -> Finding | None:
        """The second look at a prepared move: beside the better one, with twice the nodes."""
        best, mine = self._both(board, better, edge.move)
        loss = _gap(best, mine)
        finding = Finding(
            node,
            FindingKind.LOSES,
            edge.move,
            better,
            loss,
            mine.moves,
            share,
            mine.score,
            node.turn,
        )
        if loss >= self._margin:
            return finding
        if loss >= self._margin // 2 and _spoils(best.score, mine.score):
            return replace(finding, kind=FindingKind.BETTER, line=best.moves, score=best.score)
        return None

    # -- the opponent's ----------------------------------------------------------------------

    def _replies(self, node: Node, board: chess.Board, share: float) -> Iterator[Finding]:
        best = self._evaluate(board, nodes=self._nodes).best
        known = [edge.move for edge in node.edges]
        if best.move is None or best.move in known or self._is_answered(board, best.move):
            return
        met = self._evaluate(board, nodes=self._nodes, moves=known).best
        if met.move is None or _gap(best, met) < self._margin:
            return
        strong, answered = self._both(board, best.move, met.move)
        loss = _gap(strong, answered)
        # A reply is strong where the other side is better for it; that the replies which the file
        # knows are bad ones is no fault of the player's.
        if loss < self._margin or strong.score.value < self._margin:
            return
        answer = strong.moves[1] if len(strong.moves) > 1 else None
        score = strong.score.turned()
        yield Finding(
            node,
            FindingKind.HOLE,
            best.move,
            answer,
            loss,
            strong.moves,
            share,
            score,
            not node.turn,
        )

    def _is_answered(self, board: chess.Board, move: chess.Move) -> bool:
        """Whether a reply that is not listed leads to a position for which something is."""
        after = board.copy(stack=False)
        after.push(move)
        known = self._repertoire.nodes.get(position_key(after))
        return known is not None and bool(known.edges)

    def _end(self, node: Node, board: chess.Board, share: float) -> Iterator[Finding]:
        found = self._evaluate(board, nodes=self._nodes)
        if _for_player(found, node, self._repertoire.side).value > -self._margin:
            return
        found = self._evaluate(board, nodes=2 * self._nodes)
        score = _for_player(found, node, self._repertoire.side)
        loss = _clipped(-score.value)
        if loss < self._margin:
            return
        line, best = found.best.moves, found.best.move
        entry = next((one for one in node.entries), None)
        if node.turn == self._repertoire.side and entry is not None:
            line = (entry.move, *line)
            yield Finding(
                entry.parent,
                FindingKind.HOLE,
                entry.move,
                best,
                loss,
                line,
                share,
                score,
                node.turn,
            )
        else:
            side = self._repertoire.side
            yield Finding(node, FindingKind.END, None, best, loss, line, share, score, side)

    def _both(self, board: chess.Board, one: chess.Move, other: chess.Move) -> tuple[Line, Line]:
        """Two moves in one search, or in two where the engine shows one line only."""
        nodes = 2 * self._nodes
        both = self._evaluate(board, nodes=nodes, lines=2, moves=[one, other])
        first, second = _line_of(both, one), _line_of(both, other)
        return (
            first or self._evaluate(board, nodes=nodes, moves=[one]).best,
            second or self._evaluate(board, nodes=nodes, moves=[other]).best,
        )


#: Beyond this, in centipawns, a game is decided, and more or less of it is no matter.
_DECIDED: Final = 1_000


def _clipped(value: int) -> int:
    return max(-_DECIDED, min(_DECIDED, value))


def _gap(best: Line, other: Line) -> int:
    """Centipawns between two lines of one position; both are the mover's."""
    return _clipped(best.score.value) - _clipped(other.score.value)


def _spoils(best: Score, mine: Score) -> bool:
    """Whether a move gives up an advantage, or equality."""
    return mine.standing < best.standing and mine.standing <= Standing.EVEN


def _line_of(evaluation: Evaluation, move: chess.Move) -> Line | None:
    return next((line for line in evaluation.lines if line.move == move), None)


def _for_player(evaluation: Evaluation, node: Node, side: chess.Color) -> Score:
    score = evaluation.score
    return score if node.turn == side else score.turned()
