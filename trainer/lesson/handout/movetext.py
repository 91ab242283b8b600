"""Moves with variations as running text, in the order in which PGN and books print them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum, auto
from typing import NamedTuple

import chess

from trainer.lesson.handout.model import Lines
from trainer.notation.nags import glyphs


class Kind(Enum):
    """What a piece of running text is."""

    MOVE = auto()
    NOTE = auto()
    OPEN = auto()
    CLOSE = auto()


@dataclass(frozen=True)
class Word:
    """A move with its number and signs, a note, or a bracket.

    `depth` is 0 in the main line; `step` is the number of a move's step.
    """

    kind: Kind
    text: str
    depth: int
    step: int = -1


def words(lines: Lines) -> Iterator[Word]:
    """The words of `lines`; moves carry their numbers where a reader needs them."""
    children = lines.children()
    boards = lines.boards()
    first = children.get(None, [])
    todo: list[_Pending] = []
    if first:
        todo.append(_Pending(Kind.MOVE, 0, first[0], numbered=True, variations=tuple(first[1:])))
    while todo:
        now = todo.pop()
        if now.kind is not Kind.MOVE:
            yield Word(now.kind, "(" if now.kind is Kind.OPEN else ")", now.depth)
            continue
        step = lines.steps[now.number]
        for note in step.before:
            yield Word(Kind.NOTE, note, now.depth)
        before = lines.board if step.parent is None else boards[step.parent]
        text = _numbered(before, step.san, wanted=now.numbered or bool(step.before))
        signs = glyphs(step.nags)
        if signs:
            text += signs if signs[0] in "!?" else f" {signs}"
        yield Word(Kind.MOVE, text, now.depth, now.number)
        for note in step.comments:
            yield Word(Kind.NOTE, note, now.depth)
        onward = children.get(now.number, [])
        if onward:
            again = bool(step.comments or now.variations)
            todo.append(_Pending(Kind.MOVE, now.depth, onward[0], again, tuple(onward[1:])))
        # Variations stand behind the move they replace; the last pushed is written first.
        for other in reversed(now.variations):
            todo.append(_Pending(Kind.CLOSE, now.depth + 1))
            todo.append(_Pending(Kind.MOVE, now.depth + 1, other, numbered=True))
            todo.append(_Pending(Kind.OPEN, now.depth + 1))


class _Pending(NamedTuple):
    """What is still to be written; `numbered` where the move needs its number."""

    kind: Kind
    depth: int
    number: int = -1
    numbered: bool = False
    variations: tuple[int, ...] = ()


def _numbered(board: chess.Board, san: str, *, wanted: bool) -> str:
    if board.turn:
        return f"{board.fullmove_number} {san}"
    return f"{board.fullmove_number}…{san}" if wanted else san
