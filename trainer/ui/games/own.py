"""The player's own games, whatever place is on the screen: read, measured, and watched for more.

Files are read in a worker of their own, and everything makes way for a drill.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QTimer, Signal

from trainer.notation.numbers import count
from trainer.ui.games.measuring import Measuring
from trainer.ui.games.shelf import Reading, Shelf, Sources
from trainer.ui.tasks import TaskRunner

if TYPE_CHECKING:
    from trainer.memory.course import Course
    from trainer.storage.settings import Settings
    from trainer.ui.base.desk import BaseDesk

#: How long after a drill has begun it is asked again whether it is over.
_ASK_AGAIN_MS = 1_000


@dataclass(frozen=True)
class News:
    """What reading the games has brought: games that were not there before, slips that count."""

    games: int
    slips: int

    def __bool__(self) -> bool:
        return bool(self.games or self.slips)

    @property
    def sentence(self) -> str:
        """`2 new games; 1 forgotten decision counts for memory now.`"""
        parts = []
        if self.games:
            parts.append(count(self.games, "new game"))
        if self.slips:
            verb = "counts" if self.slips == 1 else "count"
            parts.append(f"{count(self.slips, 'forgotten decision')} {verb} for memory now")
        return f"{'; '.join(parts)}."


class OwnGames(QObject):
    """Reads the games that the settings name and measures reach by them and by the base."""

    #: Games have been held against the repertoire: a `Reading`.
    found = Signal(object)
    #: There are games, or slips, that were not known before: `News`.
    news = Signal(object)
    #: Reach has changed.
    measured = Signal()
    #: One sentence: what could not be done.
    failed = Signal(str)

    def __init__(
        self,
        runner: TaskRunner,
        reader: TaskRunner,
        drilling: Callable[[], bool] = lambda: False,
        parent: QObject | None = None,
    ) -> None:
        super().__init__(parent)
        self._drilling = drilling
        self._runner = runner
        self.shelf = Shelf(runner, reader, self)
        self.reading: Reading | None = None
        self.course: Course | None = None
        self._measuring: Measuring | None = None
        self._wanted: tuple[object, ...] = ()
        self._known = 0
        self._later = QTimer(self)
        self._later.setSingleShot(True)
        self._later.setInterval(_ASK_AGAIN_MS)
        self._later.timeout.connect(self._go_on)
        self.shelf.found.connect(self._found)
        self.shelf.failed.connect(self.failed)

    def measure(self, base: BaseDesk, file_of: Callable[[Path], Path]) -> None:
        """Measure by these games, and by the base, how likely replies are.

        `file_of` tells where that is kept of a repertoire file.
        """
        self._measuring = Measuring(self._runner, base, file_of, self)
        self._measuring.measured.connect(self.measured)
        self._measuring.failed.connect(self.failed)

    def show_course(self, course: Course, settings: Settings) -> None:
        """Hold the games against this course; nothing is done where that was done already."""
        if course is not self.course:
            self.course, self.reading = course, None
            self._known = course.replies.games
            self.shelf.show_course(course)
            if self._measuring is not None:
                self._measuring.show_course(course)
        self.choose(settings)
        self._go_on()

    def choose(self, settings: Settings) -> None:
        """Where the games are, whose they are, and whether slips count for memory."""
        sources = sources_of(settings)
        wanted = (self.course, sources, settings.player, settings.count_games)
        if wanted != self._wanted:
            self._wanted, self.reading = wanted, None
            self.shelf.choose(sources, settings.player or "", count=settings.count_games)

    def clear(self) -> None:
        """Let go of the repertoire: another one is being read."""
        self.course = self.reading = None
        self._wanted = ()
        self.shelf.show_course(None)
        if self._measuring is not None:
            self._measuring.show_course(None)

    def make_way(self) -> None:
        """Stop reading for a drill, and go on when that is over."""
        self.shelf.allow(False)
        self._later.start()

    def _go_on(self) -> None:
        if self._drilling():
            self._later.start()
        else:
            self.shelf.allow(True)

    def _found(self, reading: Reading) -> None:
        course = self.course
        assert course is not None
        self.reading = reading
        self.found.emit(reading)
        games = len(reading.gathered.entries)
        if reading.replies is not None:
            new, self._known = games - self._known, games
            if self._measuring is not None:
                self._measuring.count_own(course, reading.replies, games)
            news = News(max(0, new), len(reading.counted))
            if news:
                self.news.emit(news)


def sources_of(settings: Settings) -> Sources:
    """Where the games are by the settings."""
    return Sources(
        tuple(Path(name) for name in settings.games_files),
        tuple(Path(name) for name in settings.games_folders),
    )
