"""What the place Lesson asks the engine: moments of a game, and whether a trick holds."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import chess
from PySide6.QtCore import QObject

if TYPE_CHECKING:
    from trainer.engine.moments import Moment
    from trainer.engine.why_not import WhyNot
    from trainer.lesson.game import LessonGame
    from trainer.lesson.moments import Better
    from trainer.lesson.tricks import Trick
    from trainer.ui.engine.adviser import Adviser

#: A capture that loses so many centipawns may not be played: the trick holds.
_HOLDS = 100


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
        self._searching = self._adviser.moments(
            game.boards[0],
            game.moves,
            done=lambda found: done(better_moves(found)),
            failed=failed,
            told=told,
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
    ) -> None:
        """Ask of each trick that forbids a capture whether it holds; `told` after each answer."""
        self.stop_judging()
        judged = list(tricks)
        waiting = [number for number, one in enumerate(judged) if one.taking is not None]

        def ask() -> None:
            if not waiting:
                told(judged)
                return
            number = waiting.pop(0)
            trick = judged[number]
            assert trick.taking is not None

            def answered(found: WhyNot) -> None:
                judged[number] = replace(trick, confirmed=found.loss >= _HOLDS)
                told(list(judged))
                ask()

            self._judging = self._adviser.why_not(
                trick.board, trick.taking, done=answered, failed=failed
            )

        if waiting:
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
