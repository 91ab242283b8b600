"""Building a reference base and adding to it.

Files are cut into blocks at true game starts, the blocks read by as many processes as wanted, and
what they leave in a folder beside the base (`BASE.building`) is merged in one step: a new base is
made under another name and then renamed, an old one is changed in one transaction. So a build that
is stopped, even by a kill, leaves the old base whole, and the next one goes on with the blocks
that were read.
"""

from __future__ import annotations

import contextlib
import json
import multiprocessing
import os
import shutil
import signal
import sqlite3
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from trainer.errors import UsageError
from trainer.games.base import schema
from trainer.games.base.faults import BaseFileError, BuildCancelledError, base_error
from trainer.games.base.figures import Unused
from trainer.games.base.merger import Merged, Merger, bits_for
from trainer.games.base.reader import BROKEN, EMPTY, OTHER_START, USUAL_PLIES, VARIANT
from trainer.games.base.shards import MOST_FAULTS, Block, has_shard, load_shard, make_shard
from trainer.games.base.sources import BLOCK_BYTES, Part, blocks, mark, parts_to_read
from trainer.storage.atomic import flush_directory
from trainer.storage.lock import FileLock, HeldElsewhereError

KINDS: Final = (VARIANT, OTHER_START, BROKEN, EMPTY)
MOST_PLIES: Final = 200
#: In the folder of a build: the names of its files.
_FILES: Final = "files.json"
#: The share of the work that is reading; the rest is merging.
_READING: Final = 0.7


@dataclass(frozen=True)
class BuildReport:
    """What a build did.

    `added` games are new in the base, `duplicates` were in it already, or twice in the files.
    `tallies` count the games that are not for the figures, by kind; `unused` lists them (the first
    thousand of a file). `unchanged` files were passed over.
    """

    added: int
    duplicates: int
    tallies: dict[str, int]
    unused: tuple[Unused, ...]
    unchanged: tuple[Path, ...]
    total: int


@dataclass(frozen=True)
class _Sheaf:
    """What is to be merged of one file."""

    part: Part
    blocks: list[Block] = field(default_factory=list)


def build_base(
    path: Path,
    files: list[Path],
    *,
    plies: int | None = None,
    jobs: int | None = None,
    progress: Callable[[float], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
    block_bytes: int = BLOCK_BYTES,
) -> BuildReport:
    """Make a base of PGN files, or add them to the base at `path`.

    `plies` is how many half-moves of each game are held (40 unless said otherwise; of a base that
    is there it cannot be changed), `jobs` how many processes read (as many as there are cores).
    `progress` is told the share that is done, `cancelled` asked whether to stop. `block_bytes` is
    about how much one process reads at a time; what is smaller needs no second process.

    Raises `BaseFileError`, `GamesFileError`, `UsageError` and `BuildCancelledError`, with the
    base as it was.
    """
    if plies is not None and not 1 <= plies <= MOST_PLIES:
        raise UsageError(f"A base holds 1 to {MOST_PLIES} half-moves of each game, not {plies}.")
    build = _Build(
        path,
        jobs or os.cpu_count() or 1,
        block_bytes,
        progress or _nothing,
        cancelled or (lambda: False),
    )
    try:
        return build.run(files, plies)
    except sqlite3.Error as error:
        raise base_error(path, "written", error) from error
    except OSError as error:
        raise base_error(path, "written", error) from error


def building_folder(path: Path) -> Path:
    """Where the blocks that were read wait to be merged into the base at `path`."""
    return path.with_name(path.name + ".building")


def pending_files(path: Path) -> tuple[Path, ...]:
    """The files of a build of the base at `path` that was stopped; none where there was none."""
    try:
        names = json.loads((building_folder(path) / _FILES).read_text("utf-8"))
        return tuple(Path(name) for name in names)
    except (OSError, ValueError, TypeError):
        return ()


def _nothing(_share: float) -> None:
    return


class _Build:
    def __init__(
        self,
        path: Path,
        jobs: int,
        block_bytes: int,
        progress: Callable[[float], None],
        cancelled: Callable[[], bool],
    ) -> None:
        self._path = Path(os.path.realpath(path))
        self._folder = building_folder(self._path)
        self._jobs = jobs
        self._block_bytes = block_bytes
        self._progress = progress
        self._cancelled = cancelled

    def run(self, files: list[Path], plies: int | None) -> BuildReport:
        if self._path.is_dir():
            raise BaseFileError(f"{self._path} is a folder; name a file for the reference base.")
        with contextlib.ExitStack() as stack:
            old = None
            if self._path.exists():
                old = stack.enter_context(contextlib.closing(schema.open_to_write(self._path)))
                plies = self._plies_of(old, plies)
            parts = parts_to_read(files, old)
            read = {part.path for part in parts}
            unchanged = tuple(file for file in files if Path(os.path.realpath(file)) not in read)
            stack.enter_context(self._locked_folder())
            self._note_files(parts)
            sheaves = self._read(parts, plies or USUAL_PLIES)
            report = self._merge(old, sheaves, plies or USUAL_PLIES, unchanged)
            shutil.rmtree(self._folder, ignore_errors=True)
        self._progress(1.0)
        return report

    def _plies_of(self, old: sqlite3.Connection, plies: int | None) -> int:
        (held,) = old.execute("SELECT plies FROM meta").fetchone()
        if plies is not None and plies != held:
            raise UsageError(
                f"{self._path} holds {held} half-moves of each game; leave --plies out, or build "
                "another base."
            )
        return int(held)

    @contextlib.contextmanager
    def _locked_folder(self) -> Iterator[None]:
        self._folder.mkdir(parents=True, exist_ok=True)
        try:
            lock = FileLock.acquire(self._folder / "lock")
        except HeldElsewhereError:
            raise BaseFileError(
                f"The reference base {self._path} is being built at this moment; wait until that "
                "is done."
            ) from None
        try:
            yield
        finally:
            lock.release()

    def _note_files(self, parts: list[Part]) -> None:
        names = json.dumps([str(part.path) for part in parts])
        (self._folder / _FILES).write_text(names, "utf-8")

    # -- reading -----------------------------------------------------------------------------

    def _read(self, parts: list[Part], plies: int) -> list[_Sheaf]:
        sheaves = [_Sheaf(part) for part in parts]
        total = max(1, sum(part.bytes for part in parts))
        done = 0

        def finished(block: Block) -> None:
            nonlocal done
            done += block.end - block.start
            self._progress(_READING * done / total)

        if self._jobs > 1 and total > self._block_bytes:
            self._read_in_processes(sheaves, plies, finished)
            return sheaves
        for block in self._planned(sheaves, plies):
            if not has_shard(self._folder, block.name):
                make_shard(block, plies, self._folder)
            finished(block)
        return sheaves

    def _planned(self, sheaves: list[_Sheaf], plies: int) -> Iterator[Block]:
        for sheaf in sheaves:
            for block in blocks(sheaf.part, plies, self._block_bytes):
                self._look()
                sheaf.blocks.append(block)
                yield block

    def _read_in_processes(
        self, sheaves: list[_Sheaf], plies: int, finished: Callable[[Block], None]
    ) -> None:
        waiting: dict[Future[None], Block] = {}

        def collect(most: int) -> None:
            while len(waiting) > most:
                self._look()
                done, _ = wait(waiting, timeout=0.1, return_when=FIRST_COMPLETED)
                for future in done:
                    future.result()
                    finished(waiting.pop(future))

        # Not forked: the window's process has threads.
        context = multiprocessing.get_context("spawn")
        pool = ProcessPoolExecutor(self._jobs, mp_context=context, initializer=_begin_worker)
        try:
            for block in self._planned(sheaves, plies):
                if has_shard(self._folder, block.name):
                    finished(block)
                    continue
                waiting[pool.submit(make_shard, block, plies, self._folder)] = block
                collect(2 * self._jobs)
            collect(0)
        except BrokenProcessPool as error:
            raise BaseFileError(
                "A process that was reading games ended without a word, perhaps for want of "
                "memory; build again to go on, with --jobs 1 to need less."
            ) from error
        finally:
            pool.shutdown(wait=True, cancel_futures=True)

    def _look(self) -> None:
        if self._cancelled():
            raise BuildCancelledError(
                "The build was stopped; the reference base is as it was, and the same build will "
                "go on from here."
            )

    # -- merging -----------------------------------------------------------------------------

    def _merge(
        self,
        old: sqlite3.Connection | None,
        sheaves: list[_Sheaf],
        plies: int,
        unchanged: tuple[Path, ...],
    ) -> BuildReport:
        if old is not None:
            if not sheaves:
                (total,) = old.execute("SELECT count(*) FROM games").fetchone()
                return BuildReport(0, 0, {}, (), unchanged, int(total))
            schema.let_readers_go_on(old)
            old.execute("BEGIN IMMEDIATE")
            try:
                report = self._merge_into(old, sheaves, unchanged)
            except BaseException:
                with contextlib.suppress(sqlite3.Error):
                    old.execute("ROLLBACK")
                raise
            old.execute("COMMIT")
            schema.leave_one_file(old)
            return report
        new = self._folder / "new"
        new.unlink(missing_ok=True)
        names = [block.name for sheaf in sheaves for block in sheaf.blocks]
        visits = sum(int(load_shard(self._folder, name).bounds[-1]) for name in names)
        with contextlib.closing(schema.create(new, plies, bits_for(visits))) as connection:
            connection.execute("BEGIN")
            report = self._merge_into(connection, sheaves, unchanged)
            connection.execute("COMMIT")
        with new.open("rb+") as file:
            os.fsync(file.fileno())
        new.replace(self._path)
        flush_directory(self._path.parent)
        return report

    def _merge_into(
        self,
        connection: sqlite3.Connection,
        sheaves: list[_Sheaf],
        unchanged: tuple[Path, ...],
    ) -> BuildReport:
        shards: list[tuple[int, str]] = []
        tallies: dict[str, int] = {}
        unused: list[Unused] = []
        for sheaf in sheaves:
            source = self._note_source(connection, sheaf)
            shards += [(source, block.name) for block in sheaf.blocks]
            self._note_faults(connection, source, sheaf, tallies, unused)

        def progress(share: float) -> None:
            self._look()
            self._progress(_READING + (1 - _READING) * share)

        merged = Merged(0, 0)
        if shards:
            merged = Merger(connection, self._folder, shards, progress).run()
        (total,) = connection.execute("SELECT count(*) FROM games").fetchone()
        return BuildReport(
            merged.added, merged.duplicates, tallies, tuple(unused), unchanged, int(total)
        )

    def _note_source(self, connection: sqlite3.Connection, sheaf: _Sheaf) -> int:
        part = sheaf.part
        path, last = str(part.path), sheaf.blocks[-1] if sheaf.blocks else None
        connection.execute(
            "INSERT INTO sources (path, size, mark, last_start, last_line, games) "
            "VALUES (?, ?, ?, ?, ?, ?) ON CONFLICT (path) DO UPDATE SET size = excluded.size, "
            "mark = excluded.mark, last_start = excluded.last_start, "
            "last_line = excluded.last_line, games = excluded.games",
            (
                path,
                part.size,
                mark(part.path, part.size),
                last.last_start if last else 0,
                last.last_line if last else 0,
                last.number + last.games if last else 0,
            ),
        )
        (number,) = connection.execute("SELECT id FROM sources WHERE path = ?", (path,)).fetchone()
        if not part.known:
            connection.execute("DELETE FROM tallies WHERE source = ?", (number,))
            connection.execute("DELETE FROM faults WHERE source = ?", (number,))
        return int(number)

    def _note_faults(
        self,
        connection: sqlite3.Connection,
        source: int,
        sheaf: _Sheaf,
        tallies: dict[str, int],
        unused: list[Unused],
    ) -> None:
        own: dict[str, int] = {}
        listed = 0
        for block in sheaf.blocks:
            shard = load_shard(self._folder, block.name)
            for kind in KINDS:
                own[kind] = own.get(kind, 0) + shard.tallies.get(kind, 0)
            for fault in shard.faults[: MOST_FAULTS - listed]:
                listed += 1
                row = (source, fault.game, fault.line, fault.kind, fault.reason)
                added = connection.execute("INSERT OR IGNORE INTO faults VALUES (?,?,?,?,?)", row)
                if not added.rowcount:
                    # The last game of the file as it was, read again.
                    own[fault.kind] -= 1
                    continue
                unused.append(
                    Unused(sheaf.part.path, fault.game, fault.line, fault.kind, fault.reason)
                )
        for kind, count in own.items():
            tallies[kind] = tallies.get(kind, 0) + count
            connection.execute(
                "INSERT INTO tallies VALUES (?, ?, ?) ON CONFLICT (source, kind) "
                "DO UPDATE SET count = count + excluded.count",
                (source, kind, count),
            )


def _begin_worker() -> None:
    """A worker stops with its parent, however that ends, and leaves Ctrl+C to it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    if parent is None:
        return

    def watch() -> None:
        parent.join()
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()
