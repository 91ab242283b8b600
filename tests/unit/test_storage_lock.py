"""A lock that nobody has to clean up."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from trainer.storage.lock import FileLock, HeldElsewhereError

HOLD = """
import os, sys
from pathlib import Path
from trainer.storage.lock import FileLock
lock = FileLock.acquire(Path(sys.argv[1]))
print("held", flush=True)
sys.stdin.read()
"""


def test_one_holder_in_one_process(tmp_path: Path) -> None:
    path = tmp_path / "lock"
    first = FileLock.acquire(path)
    with pytest.raises(HeldElsewhereError):
        FileLock.acquire(path)
    first.release()
    first.release()
    FileLock.acquire(path).release()


def test_a_killed_holder_leaves_nothing(tmp_path: Path) -> None:
    path = tmp_path / "lock"
    for _ in range(3):
        with subprocess.Popen(
            [sys.executable, "-c", HOLD, str(path)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        ) as child:
            assert child.stdout is not None
            assert child.stdout.readline() == "held\n"
            with pytest.raises(HeldElsewhereError):
                FileLock.acquire(path)
            child.kill()
            child.wait()
        FileLock.acquire(path).release()


def test_a_program_that_was_started_meanwhile_does_not_keep_it(tmp_path: Path) -> None:
    """An engine that outlives the window must not hold the progress file."""
    path = tmp_path / "lock"
    lock = FileLock.acquire(path)
    with subprocess.Popen(
        ["cat"], stdin=subprocess.PIPE, pass_fds=(lock._handle,)
    ) as engine_that_shares_the_handle:
        lock.release()
        FileLock.acquire(path).release()
        assert engine_that_shares_the_handle.poll() is None


def test_the_mark_says_that_it_was_held_before(tmp_path: Path) -> None:
    path = tmp_path / "lock"
    lock = FileLock.acquire(path)
    assert not lock.marked
    lock.release()
    lock = FileLock.acquire(path)
    assert not lock.marked
    lock.mark()
    lock.release()
    lock = FileLock.acquire(path)
    assert lock.marked
    lock.release()


def test_no_directory(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        FileLock.acquire(tmp_path / "nowhere" / "lock")
