"""The questions of the place Lesson as the panel asks them. No Qt."""

from __future__ import annotations

import chess

from trainer.lesson.break_drill import BreakRun, Kind
from trainer.lesson.moments import MomentRun, Tried
from trainer.lesson.plans import PlanNotes


def _found(found: int, closed: int) -> str:
    return f"Found {found} of {closed}." if closed else ""


class BreakAsking:
    """Structures, each with its break to be played; the player's own note is told with it."""

    def __init__(self, run: BreakRun, notes: PlanNotes) -> None:
        self._run = run
        self._notes = notes

    @property
    def board(self) -> chess.Board | None:
        """The position that is asked."""
        question = self._run.question
        return None if question is None else question.board

    @property
    def prompt(self) -> str:
        """The name of the structure."""
        question = self._run.question
        if question is None:
            return ""
        side = "White" if question.board.turn else "Black"
        return f"{question.found.name}. {side} to move: play the break."

    def hint(self) -> str:
        """The file to look at."""
        question = self._run.question
        return "" if question is None else question.hint()

    def answer(self, move: chess.Move) -> tuple[bool, str]:
        """Whether the move is a usual break."""
        question = self._run.question
        kind, sentence = self._run.answer(move)
        closes = kind is Kind.USUAL
        note = "" if question is None or not closes else self._notes.of(question.found)
        return closes, f"{sentence}\n\nPlan: {note}" if note else sentence

    def give_up(self) -> str:
        """The break in words."""
        return self._run.give_up()

    def score(self) -> str:
        """The share found."""
        return _found(self._run.found, self._run.closed)


class MomentAsking:
    """Moments of a game."""

    def __init__(self, run: MomentRun) -> None:
        self._run = run

    @property
    def board(self) -> chess.Board | None:
        """The position that is asked."""
        moment = self._run.moment
        return None if moment is None else moment.board

    @property
    def prompt(self) -> str:
        """Who is to move, and where it is from."""
        moment = self._run.moment
        return "" if moment is None else moment.prompt

    def hint(self) -> str:
        """The next of the three hints."""
        return self._run.hint()

    def answer(self, move: chess.Move) -> tuple[bool, str]:
        """Whether the move is accepted."""
        tried, sentence = self._run.answer(move)
        return tried is not Tried.WRONG, sentence

    def give_up(self) -> str:
        """The answer in words."""
        return self._run.give_up()

    def score(self) -> str:
        """The share found."""
        return _found(self._run.found, self._run.closed)
