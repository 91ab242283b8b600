"""A full or read-only disk: one sentence, nothing lost, and on it goes when there is room.

The disks are real: a small file system in memory, mounted where the test process has a name space
of its own, and a limit of the operating system on the size of files, which works for any user.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import chess
import pytest

from trainer.errors import ProgressError
from trainer.storage.answers import Answer, AnswerKind, Grade
from trainer.storage.progress import ProgressStore

NOW = datetime(2026, 3, 1, 18, 30, tzinfo=UTC)

#: What both disks go through. The disk gives `fill(directory)` and `make_room(directory)`.
COMMON = """
import json, os, resource, sys
from datetime import UTC, datetime
from pathlib import Path
import chess
from trainer.errors import ProgressError
from trainer.storage.answers import Answer, AnswerKind, Grade
from trainer.storage.progress import ProgressStore

def clock():
    return datetime(2026, 3, 1, 18, 30, tzinfo=UTC)

def some_answer(key):
    return Answer(repertoire_id=1, key=key, move="g1f3", played="g1f3", kind=AnswerKind.DRILL,
                  grade=Grade.CLEAN, at=clock(), seconds=2.0, session_id=1)

def record_until_full(store, first):
    done = []
    while True:
        try:
            store.record(some_answer(first + len(done)))
        except ProgressError as error:
            return done, str(error)
        done.append(first + len(done))

def keys(store):
    return [answer.key for answer in store.answers(1)]

def attempt(**options):
    try:
        with ProgressStore.open(path, clock=clock, **options) as store:
            return len(store.answers(1))
    except ProgressError as error:
        return str(error)

path = Path(sys.argv[1]) / "progress.sqlite"
said = {}
store = ProgressStore.open(path, clock=clock)
store.identify(path.parent / "rep.pgn", chess.WHITE, ())
fill(path.parent)
done, said["full"] = record_until_full(store, 0)
said["again"] = record_until_full(store, 100000)[1]
said["enough"] = len(done) > 20
said["readable"] = keys(store) == done
make_room(path.parent)
store.record(some_answer(77777))
said["goes on"] = keys(store) == [*done, 77777]
said["integrity"] = store.integrity_check()
store.close()
with ProgressStore.open(path, clock=clock) as store:
    said["notice"] = store.notice
    said["kept"] = keys(store) == [*done, 77777]
    said["integrity later"] = store.integrity_check()
"""

MEMORY_DISK = """
FILLER = "filler"

def fill(directory):
    (directory / FILLER).write_bytes(bytes(150_000))

def make_room(directory):
    (directory / FILLER).unlink()
"""
AT_THE_END_OF_MEMORY_DISK = """
count = len(done) + 1
with open(path.parent / FILLER, "wb", buffering=0) as file:
    try:
        while file.write(bytes(512)):
            pass
    except OSError:
        pass
said["open"] = attempt()
said["open to read"] = attempt(read_only=True) == count
other = path.parent / "other"
try:
    ProgressStore.open(other / "progress.sqlite", clock=clock)
except ProgressError as error:
    said["new"] = str(error)
(path.parent / FILLER).unlink()
said["opens again"] = attempt() == count
print(json.dumps(said))
"""

SIZE_LIMIT = """
def fill(directory):
    resource.setrlimit(resource.RLIMIT_FSIZE, (300_000, resource.RLIM_INFINITY))

def make_room(directory):
    resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
"""

OWN_NAME_SPACE = ("unshare", "-m") if os.geteuid() == 0 else ("unshare", "-rm")
MOUNT = 'mount -t tmpfs -o size=600k stemline "$1" && shift && exec "$@"'


def can_mount() -> bool:
    """Whether this machine lets us mount a file system in a name space of our own."""
    command = [*OWN_NAME_SPACE, "sh", "-c", MOUNT, "sh", "/tmp", "true"]
    try:
        return subprocess.run(command, capture_output=True, check=False).returncode == 0
    except FileNotFoundError:
        return False


DISKS = ["size limit", *(["memory disk"] if can_mount() else [])]


def run(command: list[str]) -> dict[str, Any]:
    result = subprocess.run(command, capture_output=True, text=True, check=False)
    assert result.returncode == 0, result.stderr
    said = json.loads(result.stdout)
    assert isinstance(said, dict)
    return said


@pytest.mark.parametrize("disk", DISKS)
def test_full_disk(tmp_path: Path, disk: str) -> None:
    path = tmp_path / "progress.sqlite"
    if disk == "memory disk":
        script = MEMORY_DISK + COMMON + AT_THE_END_OF_MEMORY_DISK
        mounted = [*OWN_NAME_SPACE, "sh", "-c", MOUNT, "sh", str(tmp_path)]
        said = run([*mounted, sys.executable, "-c", script, str(tmp_path)])
        full = "the disk is full; make room and go on"
        assert said["open"].startswith(f"The progress file {path} cannot be opened for writing: ")
        assert said["open to read"] is True
        assert str(tmp_path / "other") in said["new"]
        assert said["opens again"] is True
    else:
        script = SIZE_LIMIT + COMMON + "print(json.dumps(said))"
        said = run([sys.executable, "-c", script, str(tmp_path)])
        full = "the disk reports an error or is full; make room or check the disk"
    assert said["full"] == said["again"] == f"The progress file {path} cannot be written: {full}."
    assert said["enough"] is True
    assert said["readable"] is said["goes on"] is said["kept"] is True
    assert said["integrity"] == said["integrity later"] == []
    assert said["notice"] is None


# -- write protection ----------------------------------------------------------------------------

#: Opens the file as a user without privilege (the superuser may write anything).
AS_NOBODY = """
import json, os, sys
import urllib.parse  # which pathlib imports late
from datetime import UTC, datetime
from pathlib import Path
from trainer.errors import ProgressError
from trainer.storage.progress import ProgressStore
if os.geteuid() == 0:
    # Python itself may lie where only the superuser can read, so nothing is imported below.
    os.setgid(65534)
    os.setuid(65534)
said = {}
for name, read_only in (("write", False), ("read", True)):
    try:
        with ProgressStore.open(Path(sys.argv[1]), read_only=read_only,
                                clock=lambda: datetime.now(UTC)) as store:
            said[name] = len(store.answers(1))
    except ProgressError as error:
        said[name] = str(error)
print(json.dumps(said))
"""


@pytest.fixture
def directory(tmp_path: Path) -> Path:
    """A directory with a progress file of one answer, which any user can reach."""
    for parent in (tmp_path, tmp_path.parent, tmp_path.parent.parent):
        parent.chmod(0o755)
    directory = tmp_path / "data"
    directory.mkdir()
    with ProgressStore.open(directory / "progress.sqlite", clock=lambda: NOW) as store:
        store.identify(directory / "rep.pgn", chess.WHITE, ())
        store.record(
            Answer(
                repertoire_id=1,
                key=1,
                move="g1f3",
                kind=AnswerKind.DRILL,
                grade=Grade.CLEAN,
                at=NOW,
            )
        )
    for entry in directory.iterdir():
        entry.chmod(0o666)
    directory.chmod(0o777)
    return directory


def test_read_only_directory(directory: Path) -> None:
    path = directory / "progress.sqlite"
    for entry in directory.iterdir():
        entry.chmod(0o444)
    directory.chmod(0o555)
    said = run([sys.executable, "-c", AS_NOBODY, str(path)])
    assert said["write"] == (
        f"The progress file {path} cannot be opened for writing: Permission denied; check that "
        "the disk has room and may be written, or open it to read only."
    )
    assert said["read"] == 1


def test_read_only_file(directory: Path) -> None:
    path = directory / "progress.sqlite"
    path.chmod(0o444)
    said = run([sys.executable, "-c", AS_NOBODY, str(path)])
    assert said["write"] == (
        f"The progress file {path} cannot be opened for writing: it is write-protected; allow "
        "writing or open it to read only."
    )
    assert said["read"] == 1
    with ProgressStore.open(path, clock=lambda: NOW) as store:
        assert store.notice is None
        assert len(store.answers(1)) == 1


def test_read_only_directory_without_a_file(directory: Path) -> None:
    for entry in directory.iterdir():
        entry.unlink()
    directory.chmod(0o555)
    said = run([sys.executable, "-c", AS_NOBODY, str(directory / "progress.sqlite")])
    assert "Permission denied" in said["write"]
    assert said["read"] == 0
    below = directory / "deeper" / "progress.sqlite"
    said = run([sys.executable, "-c", AS_NOBODY, str(below)])
    assert said["write"] == (
        f"The folder {below.parent} cannot be made (Permission denied); make it yourself, or set "
        "STEMLINE_HOME to a folder where Stemline may write."
    )


def test_unreadable_file(directory: Path) -> None:
    path = directory / "progress.sqlite"
    path.chmod(0)
    said = run([sys.executable, "-c", AS_NOBODY, str(path)])
    for answer, doing in ((said["write"], "opened for writing"), (said["read"], "read")):
        assert answer == (
            f"The progress file {path} cannot be {doing}: it or its folder cannot be opened; "
            "check the permissions and that the disk has room."
        )


def test_a_folder_where_the_file_should_be(tmp_path: Path) -> None:
    path = tmp_path / "progress.sqlite"
    path.mkdir()
    (path / "something").touch()
    for read_only in (False, True):
        with pytest.raises(ProgressError, match=f"The progress file {path} cannot be"):
            ProgressStore.open(path, read_only=read_only, clock=lambda: NOW)
    assert (path / "something").exists()
