"""Tricks as exercises: the capture was made, find what it overlooked."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import chess

from trainer.lesson.breaks import to_move
from trainer.lesson.moments import Moment, hints_for
from trainer.lesson.trick_text import trick_sentence
from trainer.lesson.tricks import Trick, forbidden_captures
from trainer.repertoire.graph import Node


def tricks_of(
    nodes: Iterable[Node],
    side: chess.Color,
    *,
    most: int,
    cancelled: Callable[[], bool] | None = None,
) -> list[Trick]:
    """Up to `most` tricks in favour of `side` in some positions, each once.

    Where `side` itself is to move the turn is passed. A trick that stands in several positions is
    asked in the first.
    """
    found: list[Trick] = []
    seen: set[tuple[object, ...]] = set()
    for node in nodes:
        if len(found) >= most or (cancelled is not None and cancelled()):
            break
        board = to_move(node.board(), not side)
        if board is None or board.is_check():
            continue
        for trick in forbidden_captures(board):
            key = (trick.kind, trick.taking, trick.answer)
            if key not in seen and len(found) < most:
                seen.add(key)
                found.append(trick)
    return found


def trick_moment(trick: Trick) -> Moment:
    """A trick that forbids a capture, after that capture was made."""
    assert trick.taking is not None
    assert trick.answer is not None
    board = trick.board.copy(stack=False)
    taken = f"{'…' if not board.turn else ''}{board.san(trick.taking)}"
    board.push(trick.taking)
    return Moment(
        board,
        (trick.answer,),
        hints_for(board, trick.answer),
        source=f"{taken} was played",
        solution=trick_sentence(trick),
    )


def note_of(trick: Trick) -> str:
    """The trick as a paragraph of a note of the file."""
    return f"Trick: {trick_sentence(trick)}"
