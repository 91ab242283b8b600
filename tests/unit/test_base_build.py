"""Builds that are stopped, killed, or run out of disk leave the old base whole, and go on."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import chess
import pytest

from tests.base_games import GameMaker
from trainer.errors import UsageError
from trainer.games.base import builder, shards
from trainer.games.base.builder import build_base, building_folder
from trainer.games.base.faults import BaseFileError, BuildCancelledError, GamesFileError
from trainer.games.base.store import ReferenceBase
from trainer.storage.lock import FileLock

BUILD = """
import sys
from pathlib import Path
from trainer.games.base.builder import build_base

if __name__ == "__main__":
    build_base(Path(sys.argv[1]), [Path(sys.argv[2])], jobs=int(sys.argv[3]), block_bytes=20_000,
               progress=lambda share: print(share, flush=True))
"""

KILLS = 12


@pytest.fixture(scope="module")
def old_text() -> str:
    return GameMaker(seed=31).text(150)


@pytest.fixture(scope="module")
def more_text() -> str:
    return GameMaker(seed=32).text(600)


def figures(path: Path) -> list[object]:
    """What the base says at the start and after each first move."""
    board = chess.Board()
    with ReferenceBase(path) as base:
        found: list[object] = [base.summary().games, base.position(board)]
        for move in list(board.legal_moves):
            board.push(move)
            found.append(base.position(board))
            board.pop()
        (problem,) = base._connection.execute("PRAGMA integrity_check").fetchone()
        assert problem == "ok"
    return found


def start_build(base: Path, games: Path, jobs: int) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", BUILD, str(base), str(games), str(jobs)],
        stdout=subprocess.PIPE,
        text=True,
    )


@pytest.mark.parametrize("there", [False, True])
def test_killed_builds(tmp_path: Path, old_text: str, more_text: str, there: bool) -> None:
    base, old, more = tmp_path / "base", tmp_path / "old.pgn", tmp_path / "more.pgn"
    old.write_text(old_text)
    more.write_text(more_text)
    expected = tmp_path / "expected"
    before: list[object] = []
    if there:
        build_base(base, [old])
        build_base(expected, [old])
        before = figures(base)
    build_base(expected, [more])
    after = figures(expected)
    rng = random.Random(7)
    killed, places = 0, set()
    for _ in range(KILLS):
        with start_build(base, more, jobs=1) as process:
            assert process.stdout is not None
            wanted, share = rng.uniform(0, 1.05), -1.0
            for line in process.stdout:
                share = float(line)
                if share >= wanted:
                    break
            time.sleep(rng.uniform(0, 0.01))
            process.kill()
            process.wait()
        killed += process.returncode == -signal.SIGKILL
        places.add(round(share, 1))
        if base.exists():
            found = figures(base)
            assert found in (before, after)
            if found == after:
                base.unlink()
                if there:
                    build_base(base, [old])
        else:
            assert not there
    assert killed > KILLS // 2
    assert len(places) > 3
    build_base(base, [more])
    assert figures(base) == after
    assert not building_folder(base).exists()


def test_workers_end_with_a_killed_parent(tmp_path: Path, more_text: str) -> None:
    more = tmp_path / "more.pgn"
    more.write_text(more_text * 3)
    with start_build(tmp_path / "base", more, jobs=2) as process:
        assert process.stdout is not None
        process.stdout.readline()
        children = subprocess.run(
            ["ps", "-o", "pid=", "--ppid", str(process.pid)],
            capture_output=True,
            text=True,
            check=True,
        ).stdout.split()
        process.kill()
        process.wait()
    assert len(children) >= 2
    deadline = time.monotonic() + 30
    while any(Path(f"/proc/{child}").exists() for child in children):
        assert time.monotonic() < deadline
        time.sleep(0.05)


def test_a_worker_that_is_killed(tmp_path: Path, more_text: str) -> None:
    more = tmp_path / "more.pgn"
    more.write_text("".join(more_text.replace("Alder", f"Alder{n}") for n in range(6)))
    command = [sys.executable, "-c", BUILD, str(tmp_path / "base"), str(more), "2"]
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        process.stdout.readline()
        found = subprocess.run(
            ["pgrep", "-P", str(process.pid), "-f", "spawn_main"],
            capture_output=True,
            text=True,
            check=True,
        ).stdout.split()
        os.kill(int(found[-1]), signal.SIGKILL)
        _, said = process.communicate()
    assert "ended without a word, perhaps for want of memory" in said
    assert not (tmp_path / "base").exists()
    assert build_base(tmp_path / "base", [more], jobs=1, block_bytes=20_000).added > 600


def test_cancelled_and_gone_on_with(
    tmp_path: Path, more_text: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    base, more = tmp_path / "base", tmp_path / "more.pgn"
    more.write_text(more_text)
    made: list[str] = []
    make = shards.make_shard

    def noted(block: shards.Block, plies: int, folder: Path) -> None:
        made.append(block.name)
        make(block, plies, folder)

    monkeypatch.setattr(builder, "make_shard", noted)
    told: list[float] = []
    with pytest.raises(BuildCancelledError, match="go on from here"):
        build_base(
            base,
            [more],
            progress=told.append,
            cancelled=lambda: len(told) >= 4,
            jobs=1,
            block_bytes=20_000,
        )
    assert not base.exists()
    assert len(made) == 4
    with pytest.raises(BuildCancelledError):
        build_base(
            base,
            [more],
            progress=told.append,
            cancelled=lambda: told[-1] >= 0.7,
            jobs=1,
            block_bytes=20_000,
        )
    build_base(base, [more], progress=told.append, jobs=1, block_bytes=20_000)
    assert len(made) == len(set(made))
    assert told[-1] == 1.0
    assert figures(base)[0] == 600
    assert not building_folder(base).exists()


def test_a_file_that_changed_since_is_read_anew(tmp_path: Path, more_text: str) -> None:
    base, more = tmp_path / "base", tmp_path / "more.pgn"
    more.write_text(more_text)
    told: list[float] = []
    with pytest.raises(BuildCancelledError):
        build_base(base, [more], progress=told.append, cancelled=lambda: len(told) > 0,
                   jobs=1, block_bytes=20_000)  # fmt: skip
    more.write_text(GameMaker(seed=33).text(20))
    os.utime(more, ns=(1, 1))
    assert build_base(base, [more]).added == 20


def test_two_builds_at_once(tmp_path: Path, old_text: str) -> None:
    base, old = tmp_path / "base", tmp_path / "old.pgn"
    old.write_text(old_text)
    building_folder(base).mkdir()
    lock = FileLock.acquire(building_folder(base) / "lock")
    try:
        with pytest.raises(BaseFileError, match="is being built at this moment"):
            build_base(base, [old])
    finally:
        lock.release()
    build_base(base, [old])


def test_a_reader_sees_the_old_base_and_then_the_new_one(
    tmp_path: Path, old_text: str, more_text: str
) -> None:
    base, old, more = tmp_path / "base", tmp_path / "old.pgn", tmp_path / "more.pgn"
    old.write_text(old_text)
    more.write_text(more_text)
    build_base(base, [old])
    seen = []
    with ReferenceBase(base) as reader:
        build_base(
            base, [more], progress=lambda _: seen.append(reader.position(chess.Board()).games)
        )
        assert set(seen[:-1]) == {150}
        assert reader.position(chess.Board()).games == 750
    build_base(base, [tmp_path / "old.pgn"])
    (tmp_path / "few.pgn").write_text(GameMaker(seed=34).text(3))
    build_base(base, [tmp_path / "few.pgn"])
    figures(base)
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        "base",
        "few.pgn",
        "more.pgn",
        "old.pgn",
    ]


LIMITED = """
import resource, sys
from pathlib import Path
from trainer.errors import StemlineError
from trainer.games.base.builder import build_base

resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[3]), resource.RLIM_INFINITY))
try:
    build_base(Path(sys.argv[1]), [Path(sys.argv[2])], jobs=1)
except StemlineError as error:
    print(error)
"""


@pytest.mark.parametrize("limit", [10_000, 200_000, 500_000])
@pytest.mark.parametrize("there", [False, True])
def test_a_full_disk(
    tmp_path: Path, old_text: str, more_text: str, limit: int, there: bool
) -> None:
    """A limit of the operating system on the size of files stands for the end of the disk."""
    base, old, more = tmp_path / "base", tmp_path / "old.pgn", tmp_path / "more.pgn"
    old.write_text(old_text)
    more.write_text(more_text)
    before: list[object] = []
    if there:
        build_base(base, [old])
        before = figures(base)
    done = subprocess.run(
        [sys.executable, "-c", LIMITED, str(base), str(more), str(limit)],
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stderr == ""
    (sentence,) = done.stdout.splitlines()
    assert sentence.startswith(f"The reference base {base} cannot be written: ")
    assert sentence.endswith(".")
    assert there == base.exists()
    if there:
        assert figures(base) == before
    build_base(base, [more])
    assert figures(base)[0] == (750 if there else 600)


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    base = tmp_path / "base"
    cases = {
        "There is no file": tmp_path / "nothing.pgn",
        "is a folder": tmp_path,
        "UTF-16": tmp_path / "sixteen.pgn",
        "not a text file": tmp_path / "nul.pgn",
        "carriage returns": tmp_path / "old.pgn",
    }
    (tmp_path / "sixteen.pgn").write_bytes("1. e4 *".encode("utf-16"))
    (tmp_path / "nul.pgn").write_bytes(b"1. e4\0 *")
    (tmp_path / "old.pgn").write_bytes(b'[Event "x"]\r\r1. e4 *\r')
    for words, file in cases.items():
        with pytest.raises(GamesFileError, match=words):
            build_base(base, [file])
    assert not base.exists()
    with pytest.raises(BaseFileError, match="is a folder"):
        build_base(tmp_path, [tmp_path / "old.pgn"])


def test_how_many_half_moves(tmp_path: Path, old_text: str) -> None:
    old = tmp_path / "old.pgn"
    old.write_text(old_text)
    with pytest.raises(UsageError, match="1 to 200"):
        build_base(tmp_path / "base", [old], plies=0)
    build_base(tmp_path / "base", [old], plies=4)
    with ReferenceBase(tmp_path / "base") as base:
        assert base.plies == 4
    with pytest.raises(UsageError, match="holds 4 half-moves"):
        build_base(tmp_path / "base", [old], plies=5)
    assert build_base(tmp_path / "base", [old]).unchanged == (old,)


def test_a_mark_at_the_start_and_windows_line_ends(tmp_path: Path, old_text: str) -> None:
    marked, plain = tmp_path / "marked.pgn", tmp_path / "plain.pgn"
    marked.write_bytes(b"\xef\xbb\xbf" + old_text.replace("\n", "\r\n").encode())
    plain.write_text(old_text)
    assert build_base(tmp_path / "one", [marked], block_bytes=9_000).added == 150
    build_base(tmp_path / "two", [plain])
    assert figures(tmp_path / "one") == figures(tmp_path / "two")


def test_blocks_are_cut_between_games_and_never_inside_a_comment(tmp_path: Path) -> None:
    games = [f"[Event {one}" for one in GameMaker(seed=35).text(120).split("[Event ")[1:]]
    quoting = [
        one.replace("1. ", f"1. {{as in\n\n{other.strip()}\n}} ", 1)
        for one, other in zip(games, reversed(games), strict=True)
    ]
    messy, plain = tmp_path / "messy.pgn", tmp_path / "plain.pgn"
    messy.write_text("".join(quoting))
    plain.write_text("".join(games))
    build_base(tmp_path / "expected", [plain])
    expected = figures(tmp_path / "expected")
    for size in (700, 1500, 4000, 1 << 20):
        build_base(tmp_path / f"base{size}", [messy], jobs=1, block_bytes=size)
        assert figures(tmp_path / f"base{size}") == expected
