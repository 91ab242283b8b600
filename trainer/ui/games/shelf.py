"""The player's game files: read off the UI thread, watched, and read again when they change."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QFileSystemWatcher, QObject, QTimer, Signal

from trainer.ui.tasks import TaskControl, TaskRunner

if TYPE_CHECKING:
    from trainer.games.reading import PlayedGame
    from trainer.memory.course import Course
    from trainer.storage.answers import Answer
    from trainer.storage.reply_counts import MoveCounts
    from trainer.ui.games.entries import Gathered

#: A file that is being written tells of it many times; it is read when it has been quiet.
_QUIET_MS: Final = 500
#: After something was read, look once more: what was half written then may be whole now.
_AGAIN_MS: Final = 2_000

#: How many files of folders are watched for what is written into them.
_WATCHED: Final = 500
#: How often a file that cannot be read is tried again.
_TRIES: Final = 5

#: Size in bytes and time of change in ns: what a file was when it was read.
_Stamp = tuple[int, int]
_Cache = dict[Path, tuple[_Stamp, "tuple[PlayedGame, ...]"]]


@dataclass(frozen=True)
class Sources:
    """Where the games are: single files, and folders whose PGN files all count."""

    files: tuple[Path, ...] = ()
    folders: tuple[Path, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.files or self.folders)

    def stamps(self) -> dict[Path, _Stamp | None]:
        """All files with their stamps, None for what is not there."""
        found: dict[Path, _Stamp | None] = {path: _stamp(path) for path in self.files}
        for folder in self.folders:
            try:
                inside = sorted(folder.iterdir())
            except OSError:
                continue
            for path in inside:
                if path.suffix.lower() == ".pgn" and path.is_file():
                    found.setdefault(path, _stamp(path))
        return found


def _stamp(path: Path) -> _Stamp | None:
    try:
        known = path.stat()
    except OSError:
        return None
    return known.st_size, known.st_mtime_ns


@dataclass(frozen=True, eq=False)
class Files:
    """All games of the sources, as they were read.

    `unread` tells whether a file that is there could not be read: it may be held by who writes
    it. `named` is whether the player has named any file or folder.
    """

    cache: _Cache
    stamps: Mapping[Path, _Stamp | None]
    troubles: tuple[str, ...]
    unread: bool = False
    named: bool = True

    def games(self) -> list[PlayedGame]:
        """The games of all files."""
        return [game for _, games in self.cache.values() for game in games]


@dataclass(frozen=True, eq=False)
class Reading:
    """What came of reading: the games shown, the slips that now count, and what went wrong."""

    gathered: Gathered
    counted: Sequence[Answer]
    troubles: tuple[str, ...]
    #: How often known replies were played in the player's games, None where he is not named.
    replies: MoveCounts | None = None


class Shelf(QObject):
    """Reads while it may; tells what came of it.

    Files are read by `reader`, which may be a worker of its own so that nothing waits for it;
    `runner`, the one that never runs beside an edit, holds the games against the repertoire.
    """

    found = Signal(object)
    progressed = Signal(float)
    failed = Signal(str)
    #: Reading was given up or has ended.
    rested = Signal()
    #: Reading has begun, or is over for now.
    busy = Signal(bool)

    def __init__(
        self, runner: TaskRunner, reader: TaskRunner, parent: QObject | None = None
    ) -> None:
        super().__init__(parent)
        self._runner = runner
        self._reader = reader
        self._course: Course | None = None
        self._sources = Sources()
        self._player = ""
        self._count = True
        self._may = False
        self._due = False
        self._task: TaskControl | None = None
        self._cache: _Cache = {}
        self._stamps: Mapping[Path, _Stamp | None] = {}
        self._watcher: QFileSystemWatcher | None = None
        self._tries = 0
        self._again_anyway = False
        self._quiet = self._timer(_QUIET_MS)
        self._again = self._timer(_AGAIN_MS)

    def _timer(self, milliseconds: int) -> QTimer:
        timer = QTimer(self)
        timer.setSingleShot(True)
        timer.setInterval(milliseconds)
        timer.timeout.connect(self._look)
        return timer

    # -- what is wanted ------------------------------------------------------------------------

    def show_course(self, course: Course | None) -> None:
        """Hold the games against another repertoire, or against none."""
        self._course = course
        self.refresh()

    def choose(self, sources: Sources, player: str, *, count: bool) -> None:
        """Where the games are, whose they are, and whether slips count for memory."""
        self._sources, self._player, self._count = sources, player, count
        self._watch()
        self.refresh()

    def allow(self, may: bool) -> None:
        """Give up reading, or go on with what is due."""
        self._may = may
        if may:
            self._look()
            self._go_on()
        else:
            self._halt()

    @property
    def reading(self) -> bool:
        """Whether games are being read."""
        return self._task is not None

    @property
    def due(self) -> bool:
        """Whether games are to be looked through as soon as that is allowed."""
        return self._due

    def refresh(self) -> None:
        """Look through the games anew; files that are the same are not read again."""
        self._halt()
        self._due = True
        self._go_on()

    def stop(self) -> None:
        """Give up reading until something changes."""
        self._halt()
        self._due = False
        self.rested.emit()

    # -- reading -------------------------------------------------------------------------------

    def _halt(self) -> None:
        if self._task is not None:
            self._task.cancel()
            self._due = True
            self._end()

    def _end(self) -> None:
        self._task = None
        self.busy.emit(False)

    def _go_on(self) -> None:
        if not (self._may and self._due) or self._course is None or self._task is not None:
            return
        self._due = False
        sources, cache = self._sources, self._cache
        self.busy.emit(True)
        self._task = self._reader.start(
            lambda control: read_files(sources, cache, control),
            done=self._read,
            failed=self._failed,
            progressed=self.progressed.emit,
        )

    def _read(self, files: Files) -> None:
        """The files are read: hold their games against the repertoire."""
        course, player, count = self._course, self._player, self._count
        assert course is not None
        fresh = files.stamps != self._stamps
        self._cache, self._stamps = files.cache, files.stamps
        self._watch()
        self._tries = 0 if fresh else self._tries + 1
        self._again_anyway = files.unread and self._tries < _TRIES
        if fresh or self._again_anyway:
            self._again.start()
        self._task = self._runner.start(
            lambda control: hold_against(course, files, player, control, count=count),
            done=self._done,
            failed=self._failed,
        )

    def _done(self, reading: Reading) -> None:
        self._end()
        self.found.emit(reading)
        self.rested.emit()
        self._go_on()

    def _failed(self, sentence: str) -> None:
        self._end()
        self.failed.emit(sentence)
        self.rested.emit()

    # -- watching ------------------------------------------------------------------------------

    def _watch(self) -> None:
        """Have changes told. A file that was replaced is another one to the system."""
        if self._watcher is None:
            if not self._sources:
                return
            self._watcher = QFileSystemWatcher(self)
            self._watcher.fileChanged.connect(lambda _path: self._quiet.start())
            self._watcher.directoryChanged.connect(lambda _path: self._quiet.start())
        wanted = {str(path) for path in (*self._sources.files, *self._sources.folders)}
        # The system watches so many files and no more; an old one is seldom written to.
        held = list(self._cache.items())
        newest = sorted(held, key=lambda one: -one[1][0][1])[:_WATCHED]
        wanted |= {str(path) for path, _ in newest}
        wanted = {name for name in wanted if Path(name).exists()}
        watched = {*self._watcher.files(), *self._watcher.directories()}
        if gone := sorted(watched - wanted):
            self._watcher.removePaths(gone)
        if new := sorted(wanted - watched):
            self._watcher.addPaths(new)

    def _look(self) -> None:
        """Read again where a file is not what it was."""
        if not self._sources or self.reading:
            return
        if self._again_anyway or self._sources.stamps() != self._stamps:
            self._again_anyway = False
            self.refresh()


def read_files(sources: Sources, cache: _Cache, control: TaskControl) -> Files:
    """Read what has changed since `cache`; for a worker thread.

    What was read whole is noted in `cache` at once, so that nothing is read twice where reading
    is interrupted. Raises `ImportCancelledError`.
    """
    from trainer.errors import StemlineError
    from trainer.games.reading import read_games

    stamps = sources.stamps()
    kept: _Cache = {}
    troubles: list[str] = []
    unread = False
    for number, (path, stamp) in enumerate(stamps.items()):
        known = cache.get(path)
        if known is not None and known[0] == stamp:
            kept[path] = known
            continue

        def report(share: float, number: int = number) -> None:
            control.report((number + share) / len(stamps))

        try:
            games = tuple(read_games([path], progress=report, cancelled=control.cancelled))
        except StemlineError as error:
            if control.cancelled():
                raise
            troubles.append(str(error))
            unread = unread or stamp is not None
            continue
        kept[path] = cache[path] = (stamp or (0, 0), games)
    return Files(kept, stamps, tuple(troubles), unread, bool(sources))


def hold_against(
    course: Course, files: Files, player: str, control: TaskControl, *, count: bool
) -> Reading:
    """Hold all games against the course; for a worker thread. Raises `ImportCancelledError`."""
    from trainer.games.replies import own_replies
    from trainer.ui.games.entries import gather

    played = files.games()
    troubles = files.troubles + tuple(
        f"{game.path.name}, game {game.number}, line {game.fault_line}: {game.fault}"
        for game in played
        if game.fault
    )
    gathered = gather(course, played, player, control)
    counted: Sequence[Answer] = ()
    if count and not control.cancelled():
        counted = course.count_slips(gathered.slips)
    # What was counted stays where files are out of reach, and goes with the last that was named.
    replies: MoveCounts | None = None if files.named else {}
    if player and not gathered.trouble:
        replies = own_replies(course.repertoire, (entry.walk for entry in gathered.entries))
    return Reading(gathered, counted, troubles, replies)
