"""Replacing a file in one step: on real files, real full disks, real processes."""

from __future__ import annotations

import os
import resource
import signal
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from trainer.storage.atomic import write_atomically


def names(directory: Path) -> list[str]:
    return sorted(entry.name for entry in directory.iterdir())


def test_new_file_gets_the_usual_mode_and_no_backup(tmp_path: Path) -> None:
    usual = tmp_path / "usual"
    usual.touch()
    path = tmp_path / "rep.pgn"
    write_atomically(path, b"one", keep_backup=True)
    assert path.read_bytes() == b"one"
    assert path.stat().st_mode == usual.stat().st_mode
    assert names(tmp_path) == ["rep.pgn", "usual"]


def test_backup_holds_the_content_before(tmp_path: Path) -> None:
    path = tmp_path / "rep.pgn"
    for data in (b"one", b"two", b"three"):
        write_atomically(path, data, keep_backup=True)
    assert path.read_bytes() == b"three"
    assert (tmp_path / "rep.pgn.bak").read_bytes() == b"two"
    assert names(tmp_path) == ["rep.pgn", "rep.pgn.bak"]


def test_without_backup_an_older_one_stays(tmp_path: Path) -> None:
    path = tmp_path / "rep.pgn"
    write_atomically(path, b"one")
    write_atomically(path, b"two", keep_backup=True)
    write_atomically(path, b"three")
    assert (tmp_path / "rep.pgn.bak").read_bytes() == b"one"


def test_backup_after_a_stop_between_backup_and_rename(tmp_path: Path) -> None:
    """POSIX rename() of two names of one file does nothing and leaves both (IEEE Std 1003.1)."""
    path = tmp_path / "rep.pgn"
    path.write_bytes(b"one")
    os.link(path, tmp_path / "rep.pgn.bak")
    write_atomically(path, b"two", keep_backup=True)
    assert path.read_bytes() == b"two"
    assert (tmp_path / "rep.pgn.bak").read_bytes() == b"one"
    assert names(tmp_path) == ["rep.pgn", "rep.pgn.bak"]


def test_mode_is_kept(tmp_path: Path) -> None:
    path = tmp_path / "rep.pgn"
    path.write_bytes(b"one")
    path.chmod(0o640)
    write_atomically(path, b"two", keep_backup=True)
    assert stat.S_IMODE(path.stat().st_mode) == 0o640
    assert stat.S_IMODE((tmp_path / "rep.pgn.bak").stat().st_mode) == 0o640


def test_symbolic_links_are_followed(tmp_path: Path) -> None:
    (tmp_path / "far").mkdir()
    link = tmp_path / "rep.pgn"
    link.symlink_to(Path("far") / "real.pgn")
    write_atomically(link, b"one")
    write_atomically(link, b"two", keep_backup=True)
    assert link.is_symlink()
    assert names(tmp_path) == ["far", "rep.pgn"]
    assert (tmp_path / "far" / "real.pgn").read_bytes() == b"two"
    assert (tmp_path / "far" / "real.pgn.bak").read_bytes() == b"one"


def test_longest_name(tmp_path: Path) -> None:
    path = tmp_path / ("n" * 255)
    write_atomically(path, b"one")
    assert path.read_bytes() == b"one"


def test_not_a_file(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    with pytest.raises(OSError, match="not a regular file"):
        write_atomically(pipe, b"one")
    (tmp_path / "folder").mkdir()
    with pytest.raises(IsADirectoryError):
        write_atomically(tmp_path / "folder", b"one")
    with pytest.raises(FileNotFoundError):
        write_atomically(tmp_path / "nowhere" / "rep.pgn", b"one")
    assert names(tmp_path) == ["folder", "pipe"]


def test_full_disk_leaves_the_old_file_and_nothing_else(tmp_path: Path) -> None:
    """A limit on the size of files makes every write fail for real, as a full disk does."""
    path = tmp_path / "rep.pgn"
    path.write_bytes(b"old")
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    handler = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    try:
        resource.setrlimit(resource.RLIMIT_FSIZE, (1000, before[1]))
        with pytest.raises(OSError, match="File too large"):
            write_atomically(path, b"x" * 5000, keep_backup=True)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
        signal.signal(signal.SIGXFSZ, handler)
    assert path.read_bytes() == b"old"
    assert names(tmp_path) == ["rep.pgn"]


AS_NOBODY = """
import os, sys
from pathlib import Path
from trainer.storage.atomic import write_atomically
if os.geteuid() == 0:
    os.setgid(65534)
    os.setuid(65534)
try:
    write_atomically(Path(sys.argv[1]), b"new")
except PermissionError as error:
    print("refused")
"""


def write_without_privilege(path: Path) -> str:
    return subprocess.run(
        [sys.executable, "-c", AS_NOBODY, str(path)], capture_output=True, text=True, check=True
    ).stdout.strip()


@pytest.fixture
def open_directory(tmp_path: Path) -> Path:
    """A directory that another user can reach (pytest's own are private)."""
    for parent in (tmp_path, tmp_path.parent, tmp_path.parent.parent):
        parent.chmod(0o755)
    directory = tmp_path / "open"
    directory.mkdir()
    directory.chmod(0o777)
    return directory


def test_write_protected_file_is_left_alone(open_directory: Path) -> None:
    path = open_directory / "rep.pgn"
    path.write_bytes(b"old")
    path.chmod(0o444)
    assert write_without_privilege(path) == "refused"
    assert path.read_bytes() == b"old"


def test_read_only_directory(open_directory: Path) -> None:
    path = open_directory / "rep.pgn"
    path.write_bytes(b"old")
    path.chmod(0o666)
    open_directory.chmod(0o555)
    assert write_without_privilege(path) == "refused"
    assert path.read_bytes() == b"old"
    assert names(open_directory) == ["rep.pgn"]


def test_directory_that_may_not_be_listed(open_directory: Path) -> None:
    """Such a directory cannot be opened to be flushed; the write must still succeed."""
    path = open_directory / "rep.pgn"
    open_directory.chmod(0o333)
    assert write_without_privilege(path) == ""
    assert path.read_bytes() == b"new"


WRITE_FOR_EVER = """
import sys
from pathlib import Path
from trainer.storage.atomic import write_atomically
path = Path(sys.argv[1])
for letter in "abcdefghij" * 100000:
    write_atomically(path, letter.encode() * 200000)
    print(letter, flush=True)
"""


def test_killed_while_writing_leaves_one_whole_content(tmp_path: Path) -> None:
    path = tmp_path / "rep.pgn"
    for _ in range(5):
        with subprocess.Popen(
            [sys.executable, "-c", WRITE_FOR_EVER, str(path)], stdout=subprocess.PIPE, text=True
        ) as child:
            assert child.stdout is not None
            for _ in range(7):
                child.stdout.readline()
            child.kill()
        data = path.read_bytes()
        assert len(data) == 200000
        assert len(set(data)) == 1
