"""What the place Lesson asks the engine: moments of a game, and whether a trick holds."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import chess
from PySide6.QtCore import QObject

if TYPE_CHECKING:
    from trainer.engine.moments import Moment
    from trainer.lesson.game import LessonGame
    from trainer.lesson.moments import Better
    from trainer.lesson.tricks import Trick
    from trainer.ui.engine.adviser import Adviser


class EngineSide(QObject):
    """Turns values of the engine into those of a lesson; one question of each kind at a time."""

    def __init__(self, adviser: Adviser, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._adviser = adviser
        self._searching: Any = None
        self._judging: Any = None

    def find_moments(
        self,
        game: LessonGame,
        *,
        done: Callable[[list[Better]], None],
        failed: Callable[[str], None],
        told: Callable[[float], None],
    ) -> None:
        """The critical moments of a game, as what would have been better."""
        self.stop_moments()

        def found(moments: Sequence[Moment]) -> None:
            better = better_moves(moments)
            if not better:
                done(better)
                return

            def widened(moves: list[tuple[chess.Move, ...]]) -> None:
                done([replace(one, best=best) for one, best in zip(better, moves, strict=True)])

            # Where two moves are as good, neither is a wrong answer.
            self._searching = self._adviser.as_good(
                [(game.boards[one.ply - 1], one.best[0]) for one in better],
                done=widened,
                failed=failed,
            )

        self._searching = self._adviser.moments(
            game.boards[0], game.moves, done=found, failed=failed, told=told
        )

    def stop_moments(self) -> None:
        """Nobody waits for moments any more."""
        self._adviser.give_up(self._searching)
        self._searching = None

    def judge(
        self,
        tricks: Sequence[Trick],
        *,
        told: Callable[[list[Trick]], None],
        failed: Callable[[str], None],
        done: Callable[[list[Trick]], None] | None = None,
        beside: bool = False,
        background: bool = False,
    ) -> None:
        """Ask of each trick with an answer whether it holds; `told` after each, `done` in the end.

        Tricks that were asked before keep their word. `failed` gets a sentence where there is no
        engine, or it broke. What was asked before is given up, unless this is asked `beside` it;
        in the `background` it makes room for every other question.
        """
        if not beside:
            self.stop_judging()
        judged = list(tricks)
        waiting = [
            number
            for number, one in enumerate(judged)
            if one.answer is not None and one.confirmed is None
        ]

        def ask() -> None:
            if not waiting:
                if done is not None:
                    done(judged)
                return
            number = waiting.pop(0)
            trick = judged[number]
            assert trick.answer is not None

            def answered(holds: bool) -> None:
                judged[number] = replace(trick, confirmed=holds)
                told(list(judged))
                ask()

            request = self._adviser.bears_out(
                trick.board,
                trick.taking,
                trick.answer,
                done=answered,
                failed=failed,
                background=background,
            )
            if not beside:
                self._judging = request

        ask()

    def stop_judging(self) -> None:
        """Nobody waits for the word on tricks any more."""
        self._adviser.give_up(self._judging)
        self._judging = None


def better_moves(moments: Sequence[Moment]) -> list[Better]:
    """The moments of the engine as a lesson takes them."""
    from trainer.lesson.moments import Better

    found = []
    for one in moments:
        why = "" if one.found else f"{one.after.words(one.side)} after it."
        found.append(Better(one.ply, (chess.Move.from_uci(one.best),), why))
    return found
