"""The reference base beside a game of the player's, with what was new, and in the workshop."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject

from trainer.ui.base.panel import PositionPanel

if TYPE_CHECKING:
    import chess

    from trainer.games.base.store import ReferenceBase
    from trainer.ui.base.desk import BaseDesk
    from trainer.ui.games.entries import GameEntry
    from trainer.ui.games.page import GamePage
    from trainer.ui.tasks import TaskControl
    from trainer.ui.workshop.page import WorkshopPage


class BaseBesideGame(QObject):
    """Puts a panel into the page of one game and keeps it at the position on the board."""

    def __init__(self, desk: BaseDesk, page: GamePage) -> None:
        super().__init__(page)
        self._desk, self._page = desk, page
        self._entry: GameEntry | None = None
        self._task: TaskControl | None = None
        self.panel = PositionPanel(desk)
        page.base_slot.addWidget(self.panel)
        page.stepped.connect(self._stepped)
        desk.changed.connect(lambda: self._tell_novelty(page.entry))

    def _stepped(self, board: chess.Board, entry: GameEntry) -> None:
        self.panel.show_position(board)
        # The page forgets the sentence when it shows the game anew, which begins with a step.
        if entry is not self._entry or not self._page.novelty.count():
            self._tell_novelty(entry)

    def _tell_novelty(self, entry: GameEntry | None) -> None:
        if self._task is not None:
            self._task.cancel()
            self._task = None
        self._entry = entry
        if entry is None:
            return

        notation = self._desk.look.notation

        def sentence(base: ReferenceBase) -> str:
            from trainer.games.novelty import look_for_novelty
            from trainer.games.sentences import novelty_sentences

            told = novelty_sentences(look_for_novelty(base, entry.game), notation)
            return "\n".join(told)

        def say(words: object) -> None:
            self._task = None
            self._page.show_novelty(entry, str(words))

        self._task = self._desk.ask(sentence, say, say)


class BaseInWorkshop(QObject):
    """What the base played in the position that is edited; a move of it can be taken over.

    Without a base nothing is shown: the page is for what the player writes.
    """

    def __init__(self, desk: BaseDesk, page: WorkshopPage) -> None:
        super().__init__(page)
        self._desk, self._page = desk, page
        self._board: chess.Board | None = None
        #: Built when there is a base to show.
        self.panel: PositionPanel | None = None
        page.shown.connect(self._show)
        desk.changed.connect(self._renew)

    def _show(self, board: chess.Board) -> None:
        self._board = board
        self._renew()

    def _renew(self) -> None:
        if self.panel is None:
            if not self._desk.has_base:
                return
            self.panel = PositionPanel(self._desk, self._page)
            self._page.suggestions.addWidget(self.panel)
            self.panel.move_chosen.connect(self._page.played)
        self.panel.setVisible(self._desk.has_base)
        if self._desk.has_base:
            self.panel.show_position(self._board)
