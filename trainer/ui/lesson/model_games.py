"""Games of the reference base with a structure, whatever their opening: the whole base.

What stood in which game is kept in the cache (`lesson/model_index.py`), so the base is looked
through once, in the background and for all structures; what is found is told as it is found.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from threading import Event
from typing import TYPE_CHECKING

import chess
from PySide6.QtCore import QObject

from trainer.storage.log import BugLog
from trainer.ui.tasks import TaskControl, TaskRunner

if TYPE_CHECKING:
    from trainer.games.base.figures import GameEntry
    from trainer.games.base.store import ReferenceBase
    from trainer.lesson.model_index import ModelIndex, StoodGame
    from trainer.lesson.structures import StructureBook
    from trainer.repertoire.openings import OpeningBook
    from trainer.ui.base.desk import BaseDesk

#: Games that are listed of those in which the structure stood longest.
MOST_SHOWN = 30


@dataclass(frozen=True, eq=False)
class ModelGame:
    """A game with the first position of the structure, in how many positions it stood, and the
    name of its opening ("" where it has none)."""

    entry: GameEntry
    board: chess.Board
    stood: int
    opening: str = ""

    @property
    def title(self) -> str:
        """Who against whom; in a second line its opening, from which move on and for how long."""
        opening = f"{self.opening}; " if self.opening else ""
        # The half-move that brought it about is the one before the board.
        since = self.board.fullmove_number - self.board.turn
        moves = (self.stood + 1) // 2
        return f"{self.entry.title()}\n{opening}from move {since}, for {moves} moves"


@dataclass(frozen=True)
class Looked:
    """What a search knows by now: `count` games of `looked` have the structure, `games` are the
    ones in which it stood longest; the base holds `total`. `over` says that nothing follows, and
    `faults` why some games could not be looked at."""

    games: tuple[ModelGame, ...]
    count: int
    looked: int
    total: int
    over: bool
    faults: tuple[str, ...] = ()
    unread: int = 0

    def sentence(self, name: str) -> str:
        """How far the search is and what it found."""
        gone = f" {self.unread:,} cannot be read: {' '.join(self.faults)}" if self.unread else ""
        if not self.over:
            return (
                f"Looking through the reference base: {self.looked:,} of {self.total:,} games, "
                f"{self.count:,} with this structure so far.{gone}"
            )
        part = "all " if self.looked >= self.total else ""
        seen = f"{self.looked:,}" if part else f"{self.looked:,} of {self.total:,}"
        if not self.count:
            return (
                f"None of {part}{seen} games of the reference base has the {name} for long.{gone}"
            )
        listed = "" if len(self.games) == self.count else f"; the {len(self.games)} longest"
        stopped = "" if part or self.unread else " “Model games” goes on."
        found = f"{self.count:,} of {part}{seen} games have it{listed}."
        return f"{found} Enter shows one.{stopped}{gone}"


class ModelGames(QObject):
    """Looks through the base with a thread of its own; one search at a time."""

    def __init__(
        self, desk: BaseDesk, log: BugLog, cache_folder: Path, parent: QObject | None = None
    ) -> None:
        super().__init__(parent)
        self._desk = desk
        self._runner = TaskRunner(log, self)
        self._folder = cache_folder
        self._task: TaskControl | None = None
        self._stopped = Event()
        self._key = ""
        self._told: Callable[[Looked], None] = lambda _looked: None
        self._latest: Looked | None = None
        desk.changed.connect(self.forget)

    @property
    def has_base(self) -> bool:
        """Whether there is a base to look through."""
        return self._desk.has_base

    @property
    def looking(self) -> bool:
        """Whether a search is under way."""
        return self._task is not None

    def look(
        self,
        key: str,
        book: StructureBook,
        told: Callable[[Looked], None],
        failed: Callable[[str], None],
    ) -> None:
        """Tell what is known of the structure `key`, and go on until the base is looked through.

        A search for another structure goes on for this one: it finds all at once.
        """
        path = self._desk.path
        if path is None:
            failed("Choose a reference base first: File, Reference base.")
            return
        self._key, self._told = key, told
        if self._task is not None:
            return
        self._stopped = stopped = Event()

        def work(control: TaskControl) -> Looked | None:
            return self._search(path, book, control, stopped)

        def ended(looked: Looked | None) -> None:
            self._task = None
            if looked is not None:
                self._told(looked)

        def broken(sentence: str) -> None:
            self._task = None
            failed(sentence)

        self._task = self._runner.start(
            work, done=ended, failed=broken, progressed=lambda _share: self._progressed()
        )

    def stop(self) -> None:
        """Stop looking; what was found is told, and a later search goes on from there."""
        self._stopped.set()

    def forget(self) -> None:
        """Give up: another base was chosen, or nobody waits any more."""
        self._stopped.set()
        if self._task is not None:
            self._task.cancel()
            self._task = None
        self._latest = None

    def close(self) -> None:
        """End the thread."""
        self.forget()
        self._runner.close()

    def show(self, game: ModelGame) -> None:
        """Show a game on a board, where the structure came about."""
        self._desk.show_game(game.entry, game.board)

    def _progressed(self) -> None:
        if self._latest is not None:
            self._told(self._latest)

    # -- in the worker -----------------------------------------------------------------------

    def _search(
        self, path: Path, book: StructureBook, control: TaskControl, stopped: Event
    ) -> Looked | None:
        from trainer.games.base.store import ReferenceBase
        from trainer.games.base.whole import whole_base
        from trainer.lesson.model_index import PLIES, ModelIndex, index_file
        from trainer.repertoire.openings import OpeningBook

        def over() -> bool:
            return stopped.is_set() or control.cancelled()

        with (
            ReferenceBase(path) as base,
            ModelIndex(index_file(self._folder, path), book, base.history()) as index,
        ):
            list_of = _Lister(base, index, OpeningBook.load())
            # What was found before is told before anything is looked through.
            self._latest = list_of.now(self._key, over=False)
            control.report(0.0)
            for piece in whole_base(base, plies=PLIES, begin=index.begin(), cancelled=over):
                if piece.fault:
                    list_of.note(piece.fault, piece.unread)
                    continue
                index.take(
                    piece.path,
                    piece.after,
                    piece.done,
                    ((game.number, game.moves) for game in piece.games),
                )
                if control.cancelled():
                    return None
                self._latest = list_of.now(self._key, over=False)
                control.report(self._latest.looked / max(1, self._latest.total))
            looked = None
            # The player may have gone to another structure while the last one was listed.
            while looked is None or looked[0] != self._key:
                key = self._key
                looked = key, list_of.now(key, over=True)
            return looked[1]


class _Lister:
    """Puts together what is known of a structure; games that were listed before are kept."""

    def __init__(self, base: ReferenceBase, index: ModelIndex, openings: OpeningBook) -> None:
        self._base = base
        self._index = index
        self._openings = openings
        self._total = base.summary().games
        self._listed: dict[tuple[int, int], ModelGame] = {}
        self._faults: list[str] = []
        self._unread = 0

    def note(self, fault: str, unread: int) -> None:
        """Games that cannot be looked at."""
        self._faults.append(fault)
        self._unread += unread

    def now(self, key: str, *, over: bool) -> Looked:
        """What is known at this moment."""
        index = self._index
        games = [self._game(one) for one in index.best(key, MOST_SHOWN)]
        return Looked(
            tuple(game for game in games if game is not None),
            index.count(key),
            min(index.looked(), self._total),
            self._total,
            over,
            tuple(self._faults),
            self._unread,
        )

    def _game(self, one: StoodGame) -> ModelGame | None:
        from trainer.games.base.whole import game_at

        at = (one.number, one.since)
        if at not in self._listed:
            game = game_at(self._base, one.number, one.since, self._openings)
            if game is None:
                return None
            self._listed[at] = ModelGame(game.entry, game.board, one.plies, game.opening)
        return self._listed[at]
