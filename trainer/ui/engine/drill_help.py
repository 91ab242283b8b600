"""Why not? in a drill: offered once the answer is recorded, silent while a question is open."""

from __future__ import annotations

from typing import TYPE_CHECKING

import chess
from PySide6.QtCore import QObject

from trainer.memory.drill import Prompt, Verdict, VerdictKind
from trainer.notation.display import shown_san
from trainer.ui.engine import words

if TYPE_CHECKING:
    from trainer.engine.why_not import WhyNot
    from trainer.ui.drill.controller import DrillController
    from trainer.ui.drill.view import DrillView
    from trainer.ui.engine.adviser import Adviser
    from trainer.ui.engine.worker import Request

_WRONG = (VerdictKind.MISSED, VerdictKind.NOT_YET)
_ONWARDS = (VerdictKind.CORRECTED,)


class DrillHelp(QObject):
    """Stands between the drill and the engine."""

    def __init__(self, controller: DrillController, view: DrillView, adviser: Adviser) -> None:
        super().__init__(controller)
        self._controller = controller
        self._panel = view.panel
        self._adviser = adviser
        self._request: Request | None = None
        self._wrong: tuple[chess.Board, chess.Move] | None = None
        self._number = 1
        controller.asked.connect(self._question_opened)
        controller.judged.connect(self._judged)
        controller.ended.connect(self._ended)
        controller.why_wanted.connect(self._explain)
        view.panel.why_not.clicked.connect(lambda _checked=False: self._explain())

    def _question_opened(self, _prompt: Prompt) -> None:
        """The player is to find it alone."""
        self._forget()
        self._adviser.set_silent(True)

    def _judged(self, verdict: Verdict) -> None:
        if verdict.kind in _WRONG and verdict.played is not None:
            self._wrong = (verdict.prompt.board.copy(stack=False), verdict.played)
            passed = len(verdict.prompt.order) + (0 if verdict.prompt.origin.turn else 1)
            self._number = 1 + passed // 2
        elif verdict.kind not in _ONWARDS:
            self._wrong = None
        if verdict.goes_on or self._wrong is not None:
            self._adviser.set_silent(False)
        if self._wrong is not None:
            board, move = self._wrong
            san = shown_san(board.san(move), self._controller.notation)
            self._panel.offer_why_not(f"Why not {san}?  [Y]")

    def _explain(self) -> None:
        """Ask the engine; the drill waits for the player from here on."""
        if self._wrong is None or self._adviser.silent:
            return
        board, move = self._wrong
        self._controller.wait_for_player()
        self._panel.show_against("The engine looks for what speaks against it …")
        self._request = self._adviser.why_not(
            board, move, done=self._answered, failed=self._panel.show_against
        )

    def _answered(self, found: WhyNot) -> None:
        text = words.why_not_words(found, self._controller.notation, self._number)
        self._panel.show_against(text)

    def _forget(self) -> None:
        self._adviser.give_up(self._request)
        self._request = None
        self._wrong = None
        self._panel.clear_against()

    def _ended(self, _summary: object) -> None:
        self._forget()
        self._adviser.set_silent(False)
