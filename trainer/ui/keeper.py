"""Between the window and the disk: the progress file, the settings file, and opening courses."""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import UTC, datetime
from importlib import import_module
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Final, TypeVar

from trainer.errors import ProgressError, ProgressLockedError
from trainer.storage.locations import Locations
from trainer.storage.settings import Settings, save_settings

if TYPE_CHECKING:
    import chess

    from trainer.memory.course import Course
    from trainer.memory.today import Today
    from trainer.repertoire.graph import Repertoire
    from trainer.repertoire.reader import LoadedRepertoire
    from trainer.storage.progress import ProgressStore
    from trainer.ui.tasks import TaskControl

_Result = TypeVar("_Result")

#: What the window builds once a file was read. It is imported by whoever reads the file: in the
#: thread of the window that would take longer than it can wait.
_NEEDED_PARTS: Final = (
    "trainer.ui.first_use",
    "trainer.ui.board.widget",
    "trainer.ui.drill.controller",
    "trainer.ui.drill.recorder",
    "trainer.ui.drill.view",
    "trainer.ui.drill.summary_view",
    "trainer.ui.engine.drill_help",
    "trainer.ui.engine.adviser",
    "trainer.ui.workshop.desk",
    "trainer.ui.base.desk",
    "trainer.ui.base.joining",
    "trainer.ui.engine.in_workshop",
)


class Keeper:
    """Opens the progress file once, at first use, from whatever thread needs it.

    The library proper is imported here and not at start-up, so that the window stands on the
    screen before numpy is loaded.
    """

    def __init__(
        self, locations: Locations, *, clock: Callable[[], datetime], rng: random.Random
    ) -> None:
        self._locations = locations
        self._clock = clock
        self._rng = rng
        self._lock = Lock()
        self._opened = False
        self._store: ProgressStore | None = None
        self._gave_up_writing = False
        self._open: list[Repertoire] = []
        #: What the player must know about the progress file, one sentence or nothing.
        self.notice = ""
        #: Set where another window holds the progress file: its sentence.
        self.locked = ""
        #: Whether another window holds it, so that this one may change nothing.
        self.elsewhere = False

    # -- progress ----------------------------------------------------------------------------

    def store(self) -> ProgressStore | None:
        """The progress file: for writing, else to read only, else None; `notice` says why."""
        with self._lock:
            if not self._opened:
                self._store = self._open_store()
                self._opened = True
            return self._store

    def _open_store(self) -> ProgressStore | None:
        from trainer.storage.progress import open_as_possible

        store, reason = open_as_possible(self._locations.progress_file, self._clock)
        if isinstance(reason, ProgressLockedError):
            self.locked = str(reason)
            self.elsewhere = True
            self.notice = (
                "Read only: another Stemline window keeps the answers, those given here are "
                "forgotten."
            )
        elif reason is not None:
            self.notice = _forgotten(reason)
        elif store is not None:
            self.notice = store.notice or ""
        return store

    def _with_store(self, work: Callable[[ProgressStore | None], _Result]) -> _Result:
        """`work` on the progress file; where that fails, once more to read only, then without.

        So a repertoire opens whatever the state of the disk.
        """
        store = self.store()
        while store is not None:
            try:
                return work(store)
            except ProgressError as error:
                self.notice = _forgotten(error)
                if store.read_only:
                    break
                # Not closed: on a full disk it could perhaps not be opened again.
                store.read_only = self._gave_up_writing = True
        return work(None)

    def _try_writing_again(self) -> None:
        """The disk may have room by now."""
        if self._gave_up_writing and self._store is not None:
            self._store.read_only = self._gave_up_writing = False
            self.notice = ""

    def read(
        self, path: Path, control: TaskControl, side: chess.Color | None = None
    ) -> LoadedRepertoire:
        """Read a repertoire file; for a worker thread."""
        for name in _NEEDED_PARTS:
            import_module(name)
        from trainer.memory.course import read_course_file

        self._let_go()
        self._try_writing_again()
        loaded = self._with_store(
            lambda store: read_course_file(
                path,
                store,
                side=side,
                progress=control.report,
                cancelled=control.cancelled,
            )
        )
        self._open.append(loaded.repertoire)
        return loaded

    def _let_go(self) -> None:
        """Free the repertoire that was open until now, which garbage collection passes over."""
        while self._open:
            self._open.pop().dismantle()

    @property
    def data_folder(self) -> Path:
        """Where the user's data is; it need not be there yet."""
        return self._locations.data

    @property
    def cache_folder(self) -> Path:
        """Where lies what can be computed again."""
        return self._locations.cache

    def replies_file(self, path: Path) -> Path:
        """Where it is kept how often the replies of a repertoire file were played."""
        return self._locations.replies_file(path)

    def journal_file(self, path: Path) -> Path:
        """Where the edits of a repertoire file are kept until it is saved."""
        return self._locations.journal_file(path)

    def course(
        self, loaded: LoadedRepertoire, settings: Settings, before: Course | None = None
    ) -> tuple[Course, Today]:
        """The course on a repertoire, with today's figures; for a worker thread.

        `before` is the course on the same repertoire that it replaces after edits.
        """
        from trainer.memory.course import Course
        from trainer.memory.days import StudyDays
        from trainer.memory.index_store import IndexStore
        from trainer.storage.reply_counts import load_reply_counts

        assert loaded.path is not None
        if loaded.repertoire not in self._open:
            # Edits that were brought back have made another one of it.
            self._open.append(loaded.repertoire)
        zone = datetime.now().astimezone().tzinfo or UTC

        def build(store: ProgressStore | None) -> tuple[Course, Today]:
            course = Course(
                loaded,
                store,
                settings,
                clock=self._clock,
                days=StudyDays(zone),
                rng=self._rng,
                replies=load_reply_counts(self._locations.replies_file(loaded.path)),
                indexes=IndexStore(self._locations.cache),
            )
            if before is not None:
                course.go_on_from(before)
            return course, course.today(settings.minutes)

        return self._with_store(build)

    def close(self) -> None:
        """Close the progress file."""
        with self._lock:
            if self._store is not None:
                self._store.close()
                self._store = None

    # -- settings ----------------------------------------------------------------------------

    def save_settings(self, settings: Settings) -> None:
        """Write the settings, from whatever thread. Raises `SettingsError`."""
        save_settings(self._locations.settings_file, settings)


def _forgotten(error: ProgressError) -> str:
    return f"Answers given now are forgotten when you close: {error}"
