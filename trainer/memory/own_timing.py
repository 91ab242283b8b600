"""What questions take this player, from his own answers: a right one, a missed one, a jump.

A question takes the time until its answer, and the time from there until the next one is asked:
looking at what came of it, playing the right move after a miss, and half a move of the program on
average. That is taken off, and so is the jump where one was made, as plans count those. Means are
smoothed by as many imagined answers of the usual time as `IMAGINED` says, so that the first ones
do not throw plans about. What a jump takes is how much longer right answers take at positions
that come from nowhere than on a line that is on the board, by medians.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice, zip_longest
from statistics import median
from typing import Final

from trainer.memory.grading import found_unhinted
from trainer.memory.plan import Timing
from trainer.repertoire.graph import Repertoire
from trainer.storage.answers import Answer, AnswerKind, Grade

#: Only so many of the last answers count: a player gets faster.
LATELY: Final = 400
IMAGINED: Final = 20
#: Whoever takes longer than this, in seconds, has done something else in between.
PAUSE: Final = 60.0
_ASKED: Final = frozenset({AnswerKind.DRILL, AnswerKind.REPEAT})


@dataclass(frozen=True)
class _Taken:
    """An answer, the seconds that it took in all, and whether it began cold; None if unknown."""

    answer: Answer
    seconds: float | None
    cold: bool | None


def own_timing(answers: Sequence[Answer], repertoire: Repertoire) -> Timing:
    """The timing of the player who gave these answers to a repertoire, in order of time.

    Without answers it is the usual one.
    """
    usual = Timing()
    given = (answer for answer in reversed(answers) if answer.kind is not AnswerKind.GAME)
    taken = list(_taken(list(islice(given, LATELY))[::-1], repertoire))
    jump = _jump(taken)
    right: list[float] = []
    wrong: list[float] = []
    for one in taken:
        if one.seconds is not None and not one.answer.hints:
            kind = wrong if one.answer.grade is Grade.MISSED else right
            counted = usual.move / 2 + (jump if one.cold else 0.0)
            kind.append(max(0.0, one.seconds - counted))
    return Timing(
        right=_smoothed(right, usual.right),
        wrong=_smoothed(wrong, usual.wrong),
        move=usual.move,
        jump=jump,
    )


def _taken(answers: Sequence[Answer], repertoire: Repertoire) -> Iterator[_Taken]:
    before: Answer | None = None
    trail: set[int] = set()
    for answer, after in zip_longest(answers, answers[1:]):
        if answer.kind in _ASKED:
            follows = _goes_on(before, answer)
            cold = answer.entered_from not in trail if follows else None
            if cold is not False:
                trail = set()
            trail.update(_line_of(answer, repertoire))
            yield _Taken(answer, _seconds(answer, after), cold)
        before = answer


def _goes_on(before: Answer | None, answer: Answer) -> bool:
    """Whether a question followed another one, with nothing else in between."""
    return (
        before is not None
        and before.kind in _ASKED
        and answer.kind in _ASKED
        and before.session_id == answer.session_id
    )


def _seconds(answer: Answer, after: Answer | None) -> float | None:
    """Until the next question was asked; None at the end of a drill, or with a pause."""
    if after is None or not _goes_on(answer, after) or answer.seconds > PAUSE:
        return None
    between = (after.at - answer.at).total_seconds() - after.seconds
    return answer.seconds + between if 0 <= between <= PAUSE else None


def _line_of(answer: Answer, repertoire: Repertoire) -> Iterator[int]:
    """The opponent's positions on the board around an answer: the one before, and behind."""
    if answer.entered_from is not None:
        yield answer.entered_from
    node = repertoire.nodes.get(answer.key)
    if node is not None:
        yield from (edge.child.key for edge in node.edges if edge.move.uci() == answer.move)


def _jump(taken: Iterable[_Taken]) -> float:
    cold: list[float] = []
    on_the_line: list[float] = []
    for one in taken:
        answer = one.answer
        if found_unhinted(answer) and one.cold is not None and answer.seconds <= PAUSE:
            (cold if one.cold else on_the_line).append(answer.seconds)
    few = min(len(cold), len(on_the_line))
    if not few:
        return 0.0
    longer = max(0.0, median(cold) - median(on_the_line))
    return longer * few / (few + IMAGINED)


def _smoothed(seconds: Sequence[float], usual: float) -> float:
    return (IMAGINED * usual + sum(seconds)) / (IMAGINED + len(seconds))
