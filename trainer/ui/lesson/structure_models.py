"""The games of the reference base in which the structure on the board stood longest."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QTimer, Signal

if TYPE_CHECKING:
    from trainer.ui.lesson.model_games import Looked, ModelGame, ModelGames
    from trainer.ui.lesson.structures_panel import Shown, StructuresPanel


class StructureModels(QObject):
    """Lists model games below a structure and shows one."""

    #: Games were found for the first time: their list stands below what was seen until now.
    listed = Signal()

    def __init__(self, panel: StructuresPanel, models: ModelGames | None) -> None:
        super().__init__(panel)
        self._panel = panel
        self._models = models
        self.games: list[ModelGame] = []
        #: For which structure games are listed.
        self._of: Shown | None = None
        panel.page.model_games_wanted.connect(self._find)
        panel.page.game_wanted.connect(self._show)

    def forget(self) -> None:
        """Another structure is shown."""
        # A search goes on: it is for all structures, and the next one will be told at once.
        self.games = []
        self._of = None
        self._panel.page.show_model_games((), "")

    def _find(self) -> None:
        """Look through the reference base for games with this structure, or stop looking."""
        panel, models = self._panel, self._models
        structures, shown = panel.structures, panel.shown
        if structures is None or shown is None or models is None:
            return
        if models.looking and self._of is shown:
            models.stop()
            return
        self._of = shown
        name = shown.share.found.name

        def told(looked: Looked) -> None:
            if self._of is not panel.shown:
                return
            first = not self.games
            self.games = list(looked.games)
            panel.page.show_model_games(
                [one.title for one in looked.games], looked.sentence(name), looking=not looked.over
            )
            if first and self.games:
                QTimer.singleShot(0, self, self.listed.emit)

        def failed(sentence: str) -> None:
            panel.page.show_model_games((), sentence)

        panel.page.show_model_games((), "Looking through the reference base …", looking=True)
        models.look(shown.share.found.key, structures.book, told, failed)

    def _show(self, row: int) -> None:
        if self._models is not None and 0 <= row < len(self.games):
            self._models.show(self.games[row])
