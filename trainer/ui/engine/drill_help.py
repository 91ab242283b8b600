"""The engine in a drill: offered once the answer is recorded, silent while a question is open.

After a wrong answer it says what speaks against the move. After a stranger was noticed the player
may look for an answer of his own, which is judged within a margin; nothing of that is graded.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import chess
from PySide6.QtCore import QObject

from trainer.memory.drill import Prompt, Verdict, VerdictKind
from trainer.notation.display import shown_san
from trainer.notation.typed import TypedMoveError, parse_typed
from trainer.ui.drill.controller import Stage
from trainer.ui.engine import words

if TYPE_CHECKING:
    from trainer.engine.why_not import WhyNot
    from trainer.ui.drill.controller import DrillController
    from trainer.ui.drill.view import DrillView
    from trainer.ui.engine.adviser import Adviser
    from trainer.ui.engine.worker import Request

_WRONG = (VerdictKind.MISSED, VerdictKind.NOT_YET)
#: An answer to a stranger that loses less than this, in centipawns, is a good one.
_MARGIN = 50


@dataclass(frozen=True)
class _Case:
    """What can be asked about: a position, and the wrong move; None where one is to be found."""

    board: chess.Board
    move: chess.Move | None
    number: int


class DrillHelp(QObject):
    """Stands between the drill and the engine."""

    def __init__(self, controller: DrillController, view: DrillView, adviser: Adviser) -> None:
        super().__init__(controller)
        self._controller = controller
        self._view = view
        self._panel = view.panel
        self._adviser = adviser
        self._request: Request | None = None
        self._case: _Case | None = None
        self._finding = False
        controller.asked.connect(self._question_opened)
        controller.judged.connect(self._judged)
        controller.ended.connect(self._ended)
        controller.why_wanted.connect(self._help)
        view.panel.why_not.clicked.connect(lambda _checked=False: self._help())
        view.answered.connect(self._played)
        view.typed.connect(self._typed)

    def _question_opened(self, _prompt: Prompt) -> None:
        """The player is to find it alone."""
        self._forget()
        self._adviser.set_silent(True)

    def _judged(self, verdict: Verdict) -> None:
        prompt = verdict.prompt
        if verdict.kind in _WRONG and verdict.played is not None:
            self._case = _Case(
                prompt.board.copy(stack=False), verdict.played, self._controller.number_of(prompt)
            )
        elif verdict.kind is VerdictKind.STRANGER_NOTICED:
            self._case = _Case(
                prompt.board.copy(stack=False), None, self._controller.number_of(prompt)
            )
        elif verdict.kind is not VerdictKind.CORRECTED:
            self._case = None
        if verdict.goes_on or self._case is not None:
            self._adviser.set_silent(False)
        self._offer()

    def _offer(self) -> None:
        case = self._case
        if case is None:
            return
        if case.move is None:
            self._panel.offer_why_not("Find an answer  [Y]")
        else:
            self._panel.offer_why_not(f"Why not {self._san(case.board, case.move)}?  [Y]")

    def _san(self, board: chess.Board, move: chess.Move) -> str:
        return shown_san(board.san(move), self._controller.notation)

    def _help(self) -> None:
        """The drill waits for the player from here on."""
        case = self._case
        if case is None or self._adviser.silent:
            return
        self._controller.wait_for_player()
        if case.move is not None:
            self._ask(case.board, case.move, "The engine looks for what speaks against it …")
        elif self._controller.stage is Stage.READING:
            self._finding = True
            self._view.let_try(case.board.turn)
            self._panel.show_against("Play your answer to the stranger; it is not graded.")

    def _typed(self, text: str) -> None:
        if not self._finding or self._case is None:
            return
        try:
            move = parse_typed(self._case.board, text)
        except TypedMoveError as error:
            self._panel.show_against(str(error))
            return
        self._played(move)

    def _played(self, move: chess.Move) -> None:
        """An answer to a stranger was tried on the board."""
        case = self._case
        if not self._finding or case is None or self._controller.stage is not Stage.READING:
            return
        if not case.board.is_legal(move):
            return
        after = case.board.copy(stack=False)
        after.push(move)
        self._finding = False
        self._view.close_question()
        self._view.show_position(after, move, animate=True)
        self._ask(case.board, move, "The engine looks at your answer …")

    def _ask(self, board: chess.Board, move: chess.Move, meanwhile: str) -> None:
        self._panel.show_against(meanwhile)
        self._adviser.give_up(self._request)
        self._request = self._adviser.why_not(
            board, move, done=self._answered, failed=self._panel.show_against
        )

    def _answered(self, found: WhyNot) -> None:
        case = self._case
        if case is None:
            return
        notation = self._controller.notation
        if case.move is None and found.loss < _MARGIN:
            same = found.san == found.best_san
            other = (
                "" if same else f" The engine would play {shown_san(found.best_san, notation)}."
            )
            self._panel.show_against(f"{shown_san(found.san, notation)} is a good answer.{other}")
        else:
            self._panel.show_against(words.why_not_words(found, notation, case.number))

    def _forget(self) -> None:
        self._adviser.give_up(self._request)
        self._request = None
        self._case = None
        self._finding = False
        self._panel.clear_against()

    def _ended(self, _summary: object) -> None:
        self._forget()
        self._adviser.set_silent(False)
