"""What an engine says of a position: values only."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from typing import Final

import chess

#: The value of "mated now" in centipawns; a mate in n moves is worth n less.
MATE_VALUE: Final = 10_000

#: From so many centipawns on an advantage is slight, moderate, decisive (common practice, no
#: source; the three words are those of the PGN standard, section 10, NAGs 14 to 19).
_SLIGHT, _MODERATE, _DECISIVE = 40, 100, 250


class Standing(IntEnum):
    """The class of an evaluation, for the side that it is seen from."""

    LOST = -3
    WORSE = -2
    SLIGHTLY_WORSE = -1
    EVEN = 0
    SLIGHTLY_BETTER = 1
    BETTER = 2
    WON = 3


@dataclass(frozen=True)
class Score:
    """An evaluation for one side: centipawns, or a mate in so many moves.

    `mate` is positive where that side mates, negative where it is mated, 0 where it is mated
    already; it is None where there is no mate in sight. `cp` is then the evaluation.
    """

    cp: int = 0
    mate: int | None = None

    @property
    def value(self) -> int:
        """Centipawns, with a mate beyond every evaluation: -10,000 to 10,000."""
        if self.mate is None:
            return max(-MATE_VALUE + 1_000, min(MATE_VALUE - 1_000, self.cp))
        return MATE_VALUE - self.mate if self.mate > 0 else -MATE_VALUE - self.mate

    def turned(self) -> Score:
        """The same for the other side (for a mate on the board: as near as can be said)."""
        if self.mate is None:
            return Score(-self.cp)
        return Score(mate=-self.mate or 1)

    @property
    def standing(self) -> Standing:
        """The class of the evaluation."""
        size = abs(self.value)
        grade = sum(size >= bound for bound in (_SLIGHT, _MODERATE, _DECISIVE))
        return Standing(grade if self.value > 0 else -grade)

    def figure(self) -> str:
        """The figure for this side: `+0.35`, `-1.20`, `mate in 3`, `mated in 2`."""
        if self.mate is None:
            return f"{self.cp / 100:+.2f}".replace("-", "−")
        if self.mate == 0:
            return "mate"
        return f"mate in {self.mate}" if self.mate > 0 else f"mated in {-self.mate}"

    def words(self, side: chess.Color) -> str:
        """The evaluation in words; it is `side`'s own."""
        who = "White" if side == (self.value >= 0) else "Black"
        if self.mate == 0:
            return f"{who} has mated"
        if self.mate is not None:
            return f"{who} mates in {abs(self.mate)}"
        grade = abs(self.standing)
        if not grade:
            return "The position is even"
        return f"{who} has a {('slight', 'moderate', 'decisive')[grade - 1]} advantage"


@dataclass(frozen=True)
class Line:
    """One line of an engine: legal moves from the position asked, the score of its mover."""

    moves: tuple[chess.Move, ...]
    score: Score

    @property
    def move(self) -> chess.Move | None:
        """The first move, None where the game is over."""
        return self.moves[0] if self.moves else None


@dataclass(frozen=True)
class Evaluation:
    """The lines of a position, the best one first; `depth` in half-moves, `nodes` searched.

    There is at least one line; where the game is over it has no moves.
    """

    lines: tuple[Line, ...]
    depth: int = 0
    nodes: int = 0

    @property
    def best(self) -> Line:
        """The best line."""
        return self.lines[0]

    @property
    def score(self) -> Score:
        """The score of the best line, for the side to move."""
        return self.lines[0].score


@dataclass(frozen=True)
class Limit:
    """How long an engine may think: nodes, or seconds, or both (what is reached first)."""

    nodes: int | None = None
    seconds: float | None = None

    def __post_init__(self) -> None:
        if not self.nodes and not self.seconds:
            raise ValueError("a limit needs nodes or seconds")


def finished(board: chess.Board) -> Evaluation | None:
    """The evaluation of a position in which the game is over, None where it goes on.

    Only mate and stalemate end a position for good; a dead draw is left to the engine.
    """
    if any(board.legal_moves):
        return None
    return Evaluation((Line((), Score(mate=0) if board.is_check() else Score(0)),))


def line_sans(board: chess.Board, moves: tuple[chess.Move, ...]) -> tuple[str, ...]:
    """A line in SAN, from the position on `board`, which stays as it is."""
    trial = board.copy(stack=False)
    sans = []
    for move in moves:
        sans.append(trial.san(move))
        trial.push(move)
    return tuple(sans)
