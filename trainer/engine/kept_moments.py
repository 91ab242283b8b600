"""Critical moments that were found once, kept with their game for later visits and for lessons."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from typing import Any

import chess

from trainer.engine.cache import EvaluationCache
from trainer.engine.evaluation import Score
from trainer.engine.moments import Moment, MomentKind

Moments = tuple[Moment, ...]


def keep_moments(
    cache: EvaluationCache, start: chess.Board, moves: Sequence[chess.Move], found: Moments
) -> None:
    """Keep the moments of a game of `moves` from `start`."""
    values = [_values(moment) for moment in found]
    cache.keep_moments(_name(start, moves), json.dumps(values, separators=(",", ":")))


def known_moments(
    cache: EvaluationCache, start: chess.Board, moves: Sequence[chess.Move]
) -> Moments | None:
    """The moments of that game; None where nobody has looked for them, or what is kept is broken.

    The engine is not asked.
    """
    text = cache.find_moments(_name(start, moves))
    if text is None:
        return None
    try:
        return tuple(_moment(values) for values in json.loads(text))
    except (ValueError, TypeError, KeyError):
        return None


def _name(start: chess.Board, moves: Sequence[chess.Move]) -> str:
    """A game by what was played, not by who played it or in which file it stands."""
    played = " ".join((start.epd(), *(move.uci() for move in moves)))
    return hashlib.sha256(played.encode()).hexdigest()


def _values(moment: Moment) -> dict[str, Any]:
    return {
        "ply": moment.ply,
        "fen": moment.fen,
        "kind": moment.kind.value,
        "side": moment.side,
        "played": moment.played,
        "best": moment.best,
        "line": list(moment.line),
        "before": _score_values(moment.before),
        "after": _score_values(moment.after),
        "second": None if moment.second is None else _score_values(moment.second),
        "loss": moment.loss,
    }


def _score_values(score: Score) -> list[int | None]:
    return [score.cp, score.mate]


def _moment(values: dict[str, Any]) -> Moment:
    """Raises `ValueError`, `TypeError` or `KeyError` where the values are no moment."""
    board = chess.Board(str(values["fen"]))
    second = values["second"]
    moment = Moment(
        ply=int(values["ply"]),
        fen=str(values["fen"]),
        kind=MomentKind(values["kind"]),
        side=bool(values["side"]),
        played=str(values["played"]),
        best=str(values["best"]),
        line=tuple(str(word) for word in values["line"]),
        before=_score(values["before"]),
        after=_score(values["after"]),
        second=None if second is None else _score(second),
        loss=int(values["loss"]),
    )
    for word in (moment.played, moment.best):
        board.parse_uci(word)
    return moment


def _score(values: list[int | None]) -> Score:
    cp, mate = values
    return Score(int(cp or 0), None if mate is None else int(mate))
