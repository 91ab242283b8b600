"""Look-ups, size and appending of a reference base, at whatever size.

`python -m tests.benchmarks.base_scale FOLDER GAMES` makes so many games, in files of 250,000,
builds one base of them all and prints its figures; `bench_base` does the same with a few. Where
two cores have nothing else to do, a million games take some minute to make, one to two to
build, and 1.2 GB. What was made before stays and is used again; FOLDER is to be deleted by
hand.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import random
import sqlite3
import sys
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from threading import Event, Thread

import chess

from tests.base_games import GameMaker
from tests.benchmarks.figures import Figure
from trainer.games.base.builder import build_base
from trainer.games.base.reader import GameReader
from trainer.games.base.resolve import START_KEY
from trainer.games.base.store import ReferenceBase
from trainer.games.when import GameWhen
from trainer.position import signed_key

MOST_BYTES = 800
COLD_MS, WARM_MS, APPEND_SECONDS = 4.0, 0.1, 2.5
_SAMPLE_BYTES = 3_000_000
#: Half-moves of the shortest game, and games of a file.
SHORTEST = 40
_PART = 250_000


def scale_figures(base: Path, games: Path, count: int, work: Path) -> list[Figure]:
    """Figures of the base at `base`, which was built from `count` games in the file `games`."""
    name = f"{count:,} games"
    size = base.stat().st_size / count
    figures = [
        Figure(
            f"base of {name}: bytes a game",
            size,
            "B",
            goal=f"≤ {MOST_BYTES} B",
            met=size <= MOST_BYTES,
        )
    ]
    keys = sample_keys(games, 1000)
    figures += _cold(base, keys[:200], name)
    figures += _warm(base, keys, name)
    figures.append(_append(base, work, name))
    return figures


def sample_keys(games: Path, most: int) -> list[int]:
    """Keys of positions as they are met when walking through games, one of each."""
    rng = random.Random(2)
    with games.open("rb") as file:
        data = file.read(_SAMPLE_BYTES)
    data = data[: data.rindex(b"\n[Event ") + 1]
    found = [rng.choice(game.keys) for game in GameReader().games(data) if game.keys]
    return found[:most]


def best_of(times: int, work: Callable[[], object]) -> float:
    """Milliseconds of the quickest of some runs: others work on this machine."""
    found = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        found.append((time.perf_counter() - start) * 1000)
    return min(found)


def forget(path: Path) -> None:
    """Ask the system to drop what it holds of a file in memory."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
        os.posix_fadvise(handle, 0, 0, os.POSIX_FADV_DONTNEED)
    finally:
        os.close(handle)


def _cold(base: Path, keys: list[int], name: str) -> list[Figure]:
    def cold(key: int) -> float:
        found = []
        for _ in range(3):
            forget(base)
            with ReferenceBase(base) as opened:
                found.append(best_of(1, lambda opened=opened: opened.totals(key)))
        return min(found)

    every = sorted(cold(key) for key in keys)
    worst, start = every[int(0.99 * len(every))], cold(START_KEY)
    return [
        Figure(
            f"{name}: a cold look-up, 99 %", worst, "ms", f"≤ {COLD_MS} ms", met=worst <= COLD_MS
        ),
        Figure(f"{name}: the start, cold", start, "ms", f"≤ {COLD_MS} ms", met=start <= COLD_MS),
    ]


def _warm(base: Path, keys: list[int], name: str) -> list[Figure]:
    with ReferenceBase(base) as opened:
        for key in keys:
            opened.totals(key)
        bare = sqlite3.connect(base)
        found, plain = [], []
        for key in keys:  # turn and turn about: others work on this machine
            found.append(best_of(9, lambda key=key: opened.totals(key)))
            plain.append(best_of(9, lambda key=key: _bare_question(bare, key)))
        bare.close()
        worst, least = sorted(found)[int(0.99 * len(keys))], sorted(plain)[int(0.99 * len(keys))]
        start = best_of(20, lambda: opened.totals(START_KEY))
        when = GameWhen(2005, 6, 15)
        before = sorted(
            best_of(3, lambda key=key: opened.visits_before(key, when)) for key in keys
        )
        board = chess.Board()
        moves = best_of(5, lambda: opened.moves_before(START_KEY, when, board))
        listed = best_of(3, lambda: opened.games_through(START_KEY))
    goal = f"≤ {WARM_MS} ms"
    return [
        Figure(
            f"{name}: a warm look-up, 99 %",
            worst,
            "ms",
            goal,
            "one bare question",
            least,
            met=worst <= WARM_MS,
        ),
        Figure(f"{name}: the start, warm", start, "ms", goal, met=start <= WARM_MS),
        Figure(f"{name}: earlier games, 99 %", before[int(0.99 * len(before))], "ms"),
        Figure(f"{name}: earlier moves at the start", moves, "ms"),
        Figure(f"{name}: 200 games at the start", listed, "ms"),
    ]


def _bare_question(connection: sqlite3.Connection, key: int) -> None:
    """The least that a look-up could be: SQLite asked for one row, and nothing made of it."""
    connection.execute("SELECT data FROM totals WHERE key = ?", (signed_key(key),)).fetchall()


def _append(base: Path, work: Path, name: str) -> Figure:
    more = work / "more.pgn"
    more.write_text(GameMaker(seed=random.SystemRandom().randrange(10**9)).text(100))
    start = time.perf_counter()
    assert build_base(base, [more], jobs=1).added == 100
    seconds = time.perf_counter() - start
    return Figure(
        f"{name}: append 100",
        seconds,
        "s",
        f"≤ {APPEND_SECONDS} s",
        met=seconds <= APPEND_SECONDS,
    )


class PeakMemory(Thread):
    """Watches this process and those below it, as Linux tells it in /proc.

    `all_mib` is the most that they held together, pages of mapped files included (shared ones
    count in each process), `own_mib` without them.
    """

    def __init__(self) -> None:
        super().__init__(daemon=True)
        self.all_mib = self.own_mib = 0.0
        self._over = Event()

    def run(self) -> None:
        while not self._over.wait(0.25):
            known = [_memory_kib(pid) for pid in _with_children(os.getpid())]
            self.all_mib = max(self.all_mib, sum(one[0] for one in known) / 1024)
            self.own_mib = max(self.own_mib, sum(one[1] for one in known) / 1024)

    def stop(self) -> None:
        """Watch no longer."""
        self._over.set()
        self.join()


def _with_children(pid: int) -> list[int]:
    found = [pid]
    for number in found:
        with contextlib.suppress(OSError):
            for task in Path(f"/proc/{number}/task").iterdir():
                found += map(int, (task / "children").read_text().split())
    return found


def _memory_kib(pid: int) -> tuple[int, int]:
    """All memory and that which no file stands behind, 0 of a process that has gone."""
    values = {"VmRSS": 0, "RssAnon": 0}
    with contextlib.suppress(OSError):
        for line in Path(f"/proc/{pid}/status").read_text().splitlines():
            name, _, rest = line.partition(":")
            if name in values:
                values[name] = int(rest.split()[0])
    return values["VmRSS"], values["RssAnon"]


def make_games(folder: Path, count: int) -> list[Path]:
    """Files of so many games, made in two processes; files that are there already are kept."""
    sizes = [min(_PART, count - first) for first in range(0, count, _PART)]
    paths = [folder / f"games-{part:03}-{size}.pgn" for part, size in enumerate(sizes, 1)]
    with ProcessPoolExecutor(2, multiprocessing.get_context("spawn")) as pool:
        list(pool.map(_make_part, paths, sizes, range(1, len(sizes) + 1)))
    return paths


def _make_part(path: Path, size: int, seed: int) -> None:
    if path.exists():
        return
    unfinished = path.with_suffix(".part")
    with unfinished.open("w", encoding="utf-8") as file:
        file.writelines(GameMaker(seed=seed, shortest=SHORTEST).texts(size))
    unfinished.replace(path)


def main() -> None:
    """Make, build, measure and print."""
    folder, count = Path(sys.argv[1]), int(sys.argv[2])
    folder.mkdir(parents=True, exist_ok=True)
    start = time.perf_counter()
    games, base = make_games(folder, count), folder / "games.base"
    print(f"made in {time.perf_counter() - start:.1f} s", flush=True)
    memory = PeakMemory()
    memory.start()
    start = time.perf_counter()
    built = build_base(base, games, jobs=2)
    print(f"{built.added:,} games built in {time.perf_counter() - start:.1f} s")
    memory.stop()
    print(f"at most {memory.all_mib:.0f} MiB, {memory.own_mib:.0f} without mapped files")
    for figure in scale_figures(base, games[0], count, folder):
        print(f"{figure.name:48} {figure.value:10.3f} {figure.unit:3} {figure.goal}")
        if figure.baseline_value is not None:
            print(f"    {figure.baseline_name:44} {figure.baseline_value:10.3f} {figure.unit}")


if __name__ == "__main__":
    main()
