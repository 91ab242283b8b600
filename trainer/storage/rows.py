"""How answers lie in the progress database."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from trainer.position import signed_key, unsigned_key
from trainer.storage.answers import (
    Answer,
    AnswerKind,
    Grade,
    from_milliseconds,
    to_milliseconds,
)

ANSWER_COLUMNS: Final = (
    "id, repertoire_id, key, move, played, grade, kind, at, seconds, session_id, entered_from, "
    "entered_by, hints, retracts"
)
INSERT_ANSWER: Final = f"INSERT INTO answers ({ANSWER_COLUMNS}) VALUES ({', '.join('?' * 14)})"

_GRADES: Final[dict[str | None, Grade | None]] = {
    None: None,
    **{str(grade): grade for grade in Grade},
}
_KINDS: Final = {str(kind): kind for kind in AnswerKind}


def row_of(answer: Answer) -> tuple[object, ...]:
    """The values of `ANSWER_COLUMNS` for a new row."""
    return (
        None,
        answer.repertoire_id,
        signed_key(answer.key),
        answer.move,
        answer.played,
        None if answer.grade is None else answer.grade.value,
        answer.kind.value,
        to_milliseconds(answer.at),
        answer.seconds,
        answer.session_id,
        None if answer.entered_from is None else signed_key(answer.entered_from),
        answer.entered_by,
        answer.hints,
        answer.retracts,
    )


def answer_of(row: Sequence[Any]) -> Answer:
    """The answer of a row with the values of `ANSWER_COLUMNS`.

    Raises `ValueError`, `TypeError` or `OverflowError` where the row makes no sense.
    """
    if row[5] not in _GRADES or row[6] not in _KINDS:
        raise ValueError(f"answer {row[0]} has no known grade or kind")
    return Answer(
        id=row[0],
        repertoire_id=row[1],
        key=unsigned_key(row[2]),
        move=row[3],
        played=row[4],
        grade=_GRADES[row[5]],
        kind=_KINDS[row[6]],
        at=from_milliseconds(row[7]),
        seconds=row[8],
        session_id=row[9],
        entered_from=None if row[10] is None else unsigned_key(row[10]),
        entered_by=row[11],
        hints=row[12],
        retracts=row[13],
    )
