"""How well the memory model predicts the player, how fast he is, and what he misses again."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import median
from typing import Final

from trainer.memory.days import StudyDays
from trainer.memory.fitting import Prediction, histories, log_loss, predictions
from trainer.memory.forecast import noted
from trainer.memory.grading import REVIEWS, effective, found_unhinted
from trainer.memory.today import NotedDecision
from trainer.repertoire.graph import Repertoire
from trainer.repertoire.near_misses import NearMiss
from trainer.storage.answers import Answer, Grade

#: Bounds of the bins of predicted recall. Most predictions are high, so bins are narrow there.
BOUNDS: Final = (0.0, 0.5, 0.7, 0.8, 0.85, 0.9, 0.94, 0.97, 1.0)
#: A decision missed so often is missed again and again.
AGAIN: Final = 2
MOST_LISTED: Final = 20
_LATELY: Final = 50


@dataclass(frozen=True)
class Bin:
    """Answers whose predicted recall lay from `low` to `high`: its mean, and the share right."""

    low: float
    high: float
    predicted: float
    actual: float
    count: int


@dataclass(frozen=True)
class Pace:
    """Seconds over right answers: the median at first, and lately; None with too few."""

    first: float | None
    lately: float | None
    slow_share: float


@dataclass(frozen=True, eq=False)
class Calibration:
    """All that the player's answers tell about his memory.

    `bins` leave out empty ones. `log_loss` is NaN without a prediction. `again` are the decisions
    that he missed again and again, most often first.
    """

    bins: tuple[Bin, ...]
    predicted: int
    log_loss: float
    pace: Pace
    again: tuple[NotedDecision, ...]


def calibration(
    repertoire: Repertoire,
    answers: Sequence[Answer],
    days: StudyDays,
    parameters: Sequence[float],
    near_misses: Sequence[NearMiss] = (),
) -> Calibration:
    """What the answers of one repertoire tell, with these parameters of the model."""
    predicted = predictions(histories(answers, days), parameters)
    return Calibration(
        bins=bins_of(predicted),
        predicted=len(predicted),
        log_loss=log_loss(predicted),
        pace=pace_of(answers),
        again=missed_again(repertoire, answers, near_misses),
    )


def bins_of(predicted: Iterable[Prediction]) -> tuple[Bin, ...]:
    """The predictions in bins of recall, lowest first; a bound belongs to the bin above it."""
    held: list[list[Prediction]] = [[] for _ in BOUNDS[1:]]
    for one in predicted:
        number = sum(one.recall >= bound for bound in BOUNDS[1:-1])
        held[number].append(one)
    return tuple(
        Bin(
            BOUNDS[number],
            BOUNDS[number + 1],
            sum(one.recall for one in members) / len(members),
            sum(one.right for one in members) / len(members),
            len(members),
        )
        for number, members in enumerate(held)
        if members
    )


def pace_of(answers: Iterable[Answer]) -> Pace:
    """How long right answers took, from the first ones to the last."""
    kept = [answer for answer in effective(answers) if found_unhinted(answer)]
    if len(kept) < 5:
        return Pace(None, None, 0.0)
    slow = sum(answer.grade is Grade.SLOW for answer in kept)
    return Pace(
        median(answer.seconds for answer in kept[:_LATELY]),
        median(answer.seconds for answer in kept[-_LATELY:]),
        slow / len(kept),
    )


def missed_again(
    repertoire: Repertoire, answers: Iterable[Answer], near_misses: Sequence[NearMiss] = ()
) -> tuple[NotedDecision, ...]:
    """The decisions missed again and again, with a look-alike that may explain it.

    A look-alike explains a miss best where the move that was played is the one prepared there.
    """
    missed: Counter[tuple[int, str]] = Counter()
    asked: Counter[tuple[int, str]] = Counter()
    played: dict[tuple[int, str], Counter[str]] = {}
    for answer in effective(answers):
        if answer.kind not in REVIEWS or answer.grade is None:
            continue
        place = (answer.key, answer.move)
        asked[place] += 1
        if answer.grade is Grade.MISSED:
            missed[place] += 1
            played.setdefault(place, Counter())[answer.played] += 1
    found = []
    for place, times in missed.most_common():
        node = repertoire.nodes.get(place[0])
        if times < AGAIN or node is None or not repertoire.is_decision(node):
            continue
        if node.edges[0].move.uci() != place[1]:
            continue
        remark = f"missed {times} of {asked[place]} times"
        reason = _look_alike(node.key, played[place], near_misses)
        found.append(noted(repertoire, node, remark + reason))
        if len(found) == MOST_LISTED:
            break
    return tuple(found)


def _look_alike(key: int, played: Counter[str], near_misses: Sequence[NearMiss]) -> str:
    """A near miss of the position in words, empty where there is none."""
    others = [
        pair.second if pair.first.key == key else pair.first
        for pair in near_misses
        if key in (pair.first.key, pair.second.key)
    ]
    for other in others:
        times = played[other.edges[0].move.uci()]
        if times:
            return f"; {times} times by {other.edges[0].san}, which a look-alike has"
    if others:
        return f"; a look-alike has {others[0].edges[0].san}"
    return ""
