"""What a lesson to hand out is made of, before it is any file."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import TypeAlias

import chess

from trainer.errors import StemlineError


class HandoutError(StemlineError):
    """A handout that cannot be made or written as asked."""


class Paper(StrEnum):
    """The size of a sheet."""

    A4 = "A4"
    LETTER = "Letter"

    @property
    def size(self) -> tuple[float, float]:
        """Width and height in points (ISO 216; ANSI/ASME Y14.1)."""
        return (595.28, 841.89) if self is Paper.A4 else (612.0, 792.0)


@dataclass(frozen=True)
class Heading:
    """A heading inside a lesson."""

    text: str


@dataclass(frozen=True)
class Text:
    """A paragraph of plain text."""

    text: str


@dataclass(frozen=True, eq=False)
class Diagram:
    """A position with what is drawn on it; arrows are numbered when there are several."""

    board: chess.Board
    caption: str = ""
    arrows: tuple[tuple[chess.Square, chess.Square], ...] = ()
    marks: tuple[chess.Square, ...] = ()
    flipped: bool = False


@dataclass(frozen=True)
class Step:
    """One move of `Lines`: `parent` is the number of the step before it, None at the start.

    The first step with a given parent goes on with the line, others are variations.
    """

    move: chess.Move
    san: str
    parent: int | None
    nags: tuple[int, ...] = ()
    before: tuple[str, ...] = ()
    comments: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class Lines:
    """Moves with variations and notes from a position; a step stands behind its parent.

    `tags` are names and values for the head of a PGN game, where it is a game that was played.
    """

    board: chess.Board
    steps: tuple[Step, ...]
    flipped: bool = False
    tags: tuple[tuple[str, str], ...] = ()

    def boards(self) -> list[chess.Board]:
        """The position after each step."""
        boards: list[chess.Board] = []
        for step in self.steps:
            before = self.board if step.parent is None else boards[step.parent]
            after = before.copy(stack=False)
            after.push(step.move)
            boards.append(after)
        return boards

    def children(self) -> dict[int | None, list[int]]:
        """The steps that follow each step (None: the position at the start), in their order."""
        found: dict[int | None, list[int]] = {}
        for number, step in enumerate(self.steps):
            found.setdefault(step.parent, []).append(number)
        return found


@dataclass(frozen=True, eq=False)
class Question:
    """A position with something to find.

    `accepted` are the right moves, the main one first; `wrong` are moves that fail, with why.
    `hints` come in steps. `solution` is text that stands with the answer.
    """

    board: chess.Board
    prompt: str
    accepted: tuple[chess.Move, ...]
    hints: tuple[str, ...] = ()
    wrong: tuple[tuple[chess.Move, str], ...] = ()
    solution: str = ""
    flipped: bool = False

    def answer(self) -> str:
        """The answer in a sentence: the move, others that are right too, what fails and why."""
        sans = [self.board.san(move) for move in self.accepted]
        number = self.board.fullmove_number
        dots = " " if self.board.turn else "…"
        text = f"{number}{dots}{sans[0]}" if sans else "No move is given"
        if sans[1:]:
            text += f" (also {' or '.join(sans[1:])})"
        text += "."
        if self.solution:
            text += f" {self.solution}"
        for move, why in self.wrong:
            text += f" Not {self.board.san(move)}: {why}"
        return text


Item: TypeAlias = Heading | Text | Diagram | Lines | Question


@dataclass(frozen=True, eq=False)
class Lesson:
    """A lesson: its title, who gives it and when, and what is in it in order."""

    title: str
    items: tuple[Item, ...]
    coach: str = ""
    date: datetime.date | None = None

    @property
    def questions(self) -> list[Question]:
        """The questions, in order: their numbers run from 1."""
        return [item for item in self.items if isinstance(item, Question)]

    def diagrams(self) -> list[Diagram]:
        """Every position that a picture or an EPD line is made of, in order."""
        found: list[Diagram] = []
        for item in self.items:
            if isinstance(item, Diagram):
                found.append(item)
            elif isinstance(item, Question):
                found.append(Diagram(item.board, item.prompt, flipped=item.flipped))
        return found

    def day(self) -> str:
        """The date as it is printed, `25 November 2026`; empty without one."""
        if self.date is None:
            return ""
        return f"{self.date.day} {_MONTHS[self.date.month - 1]} {self.date.year}"


_MONTHS: Sequence[str] = (
    *("January", "February", "March", "April", "May", "June", "July", "August"),
    *("September", "October", "November", "December"),
)
