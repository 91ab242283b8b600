"""A missing or damaged progress file: one sentence, nothing lost that could be read."""

from __future__ import annotations

import os
import random
import sqlite3
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import chess
import pytest

from trainer.errors import ProgressError
from trainer.storage.answers import Answer, AnswerKind, Grade
from trainer.storage.damage import DamagedFileError, inspect
from trainer.storage.database import side_file
from trainer.storage.migrations import SCHEMA_VERSION
from trainer.storage.progress import ProgressStore

NOW = datetime(2026, 3, 1, 18, 30, 5, tzinfo=UTC)
ASIDE = "progress.sqlite.damaged-20260301-183005"


def clock() -> datetime:
    return NOW


def some_answer(number: int) -> Answer:
    return Answer(
        repertoire_id=1,
        key=random.Random(number).getrandbits(64),
        move="g1f3",
        played="g1f3",
        kind=AnswerKind.DRILL,
        grade=Grade.CLEAN,
        at=NOW + timedelta(seconds=number),
        seconds=1.5,
        session_id=1,
    )


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "progress.sqlite"


@pytest.fixture
def filled(path: Path) -> list[Answer]:
    """A progress file with 3,000 answers, closed."""
    (path.parent / "rep.pgn").write_text("")
    with ProgressStore.open(path, clock=clock) as store:
        store.identify(path.parent / "rep.pgn", chess.BLACK, ())
        store.begin_session(1, 10)
        store.flag(1, 5, "see later")
        store.tell_apart(1, 5, 6, "look at the rook")
        store.save_parameters((0.5, 1.5))
        store.record_all(some_answer(number) for number in range(3000))
        return store.answers(1)


def names(path: Path) -> list[str]:
    return sorted(entry.name for entry in path.parent.iterdir())


def test_missing_at_first_start_is_nothing_to_tell(path: Path) -> None:
    with ProgressStore.open(path, clock=clock) as store:
        assert store.notice is None
        assert store.repertoires() == []
        assert store.integrity_check() == []
    assert names(path) == ["progress.sqlite", "progress.sqlite.lock"]


def test_missing_later_is_told(path: Path, filled: list[Answer]) -> None:
    path.unlink()
    with ProgressStore.open(path, clock=clock) as store:
        assert store.notice == (
            f"The progress file {path} is missing and a new, empty one was started; if you moved "
            "it, close Stemline and put it back."
        )
    with ProgressStore.open(path, clock=clock) as store:
        assert store.notice is None


def test_missing_for_a_reader(path: Path) -> None:
    with ProgressStore.open(path, read_only=True, clock=clock) as store:
        assert store.notice == f"There is no progress file at {path} to read yet."
        assert store.answers(1) == []
        assert store.identify(path, chess.WHITE, {1}) == 0
        with pytest.raises(ProgressError, match="read only"):
            store.record(some_answer(1))
    assert names(path) == []


@pytest.mark.parametrize("content", [b"", b"not a database " * 400, b"SQLite format 3\0", b"\0"])
def test_no_database_at_all(path: Path, content: bytes) -> None:
    path.write_bytes(content)
    with pytest.raises(ProgressError, match="is damaged; open it for writing"):
        ProgressStore.open(path, read_only=True, clock=clock)
    assert path.read_bytes() == content
    with ProgressStore.open(path, clock=clock) as store:
        assert store.notice is not None
        assert store.notice.startswith(f"The progress file {path} was damaged (")
        assert store.notice.endswith(f") and is kept as {ASIDE}; a new, empty one was started.")
        assert store.identify(path.with_name("rep.pgn"), chess.WHITE, ()) == 1
        store.record(some_answer(1))
    assert path.with_name(ASIDE).read_bytes() == content
    with ProgressStore.open(path, clock=clock) as store:
        assert store.notice is None
        assert len(store.answers(1)) == 1
    assert names(path) == ["progress.sqlite", ASIDE, "progress.sqlite.lock"]


def test_a_database_of_something_else_is_kept(path: Path) -> None:
    other = sqlite3.connect(path)
    other.execute("CREATE TABLE letters (text)")
    other.commit()
    other.close()
    with ProgressStore.open(path, clock=clock) as store:
        assert store.notice is not None
        assert "(it is not a progress file)" in store.notice
    kept = sqlite3.connect(path.with_name(ASIDE))
    assert kept.execute("SELECT count(*) FROM letters").fetchone() == (0,)
    kept.close()


def assert_rescued(path: Path, filled: list[Answer], least: int) -> list[Answer]:
    damaged = path.read_bytes()
    with ProgressStore.open(path, clock=clock) as store:
        found = store.answers(1)
        by_id = {answer.id: answer for answer in filled}
        assert all(by_id[answer.id] == answer for answer in found)
        assert least <= len(found) < len(filled)
        assert store.notice is not None
        assert store.notice.endswith(
            f"is kept as {ASIDE}; a new one was started with the {len(found):,} answers that "
            "could still be read."
        )
        assert store.integrity_check() == []
        # The repertoire goes on where it was, and new answers get new ids.
        assert store.identify(path.parent / "rep.pgn", chess.BLACK, ()) == 1
        assert store.record(some_answer(1)) == max(answer.id for answer in found) + 1
    assert path.with_name(ASIDE).read_bytes() == damaged
    with ProgressStore.open(path, clock=clock) as store:
        assert store.notice is None
    return found


def test_truncated(path: Path, filled: list[Answer]) -> None:
    size = path.stat().st_size
    os.truncate(path, size * 2 // 3)
    assert_rescued(path, filled, 500)


def test_a_page_of_answers_overwritten(path: Path, filled: list[Answer]) -> None:
    """Rows in front of the bad page and rows behind it are both carried over."""
    connection = sqlite3.connect(path)
    (root,) = connection.execute(
        "SELECT rootpage FROM sqlite_master WHERE name = 'answers'"
    ).fetchone()
    connection.close()
    page = 4096
    # The root of a table points to its pages with a 4-byte number in front of each cell.
    data = path.read_bytes()
    head = data[(root - 1) * page :][:page]
    assert head[0] == 5, "an interior page of a table (SQLite, Database File Format, 1.6)"
    cells = int.from_bytes(head[3:5], "big")
    middle = int.from_bytes(head[12 + 2 * (cells // 2) :][:2], "big")
    child = int.from_bytes(head[middle:][:4], "big")
    with path.open("rb+") as file:
        file.seek((child - 1) * page)
        file.write(b"\xff" * page)
    found = assert_rescued(path, filled, 2800)
    assert {found[0].id, found[-1].id} == {1, 3000}


def test_garbage_anywhere_is_found_or_spoils_next_to_nothing(
    path: Path, filled: list[Answer]
) -> None:
    """SQLite keeps no checksums: garbage in a value can pass, garbage in a structure cannot."""
    sound = path.read_bytes()
    rng = random.Random(20260301)
    found = 0
    for _ in range(40):
        start = rng.randrange(len(sound) // 512) * 512
        path.write_bytes(sound[:start] + rng.randbytes(512) + sound[start + 512 :])
        with ProgressStore.open(path, clock=clock) as store:
            answers = store.answers(1)
            if store.notice is None:
                # A row takes 40 bytes and more, so 512 bytes are at most a dozen rows.
                assert len(answers) == len(filled)
                assert sum(one != other for one, other in zip(answers, filled, strict=True)) <= 13
            else:
                found += 1
                assert store.integrity_check() == []
                assert f"{len(answers):,} answer" in store.notice or not answers
    assert found >= 20


def test_lost_table_of_repertoires(path: Path, filled: list[Answer]) -> None:
    """The answers find their repertoire again by its positions, once its file is opened."""
    connection = sqlite3.connect(path)
    connection.execute("DROP TABLE repertoires")
    connection.commit()
    connection.close()
    with ProgressStore.open(path, clock=clock) as store:
        assert store.notice is not None
        assert "tables are missing: repertoires" in store.notice
        assert store.answers(1) == filled
        keys = {answer.key for answer in filled}
        assert store.identify(path.parent / "rep.pgn", chess.BLACK, keys) == 1
        assert store.repertoires()[0].side == chess.BLACK
        assert store.integrity_check() == []


def test_the_rest_is_carried_over_too(path: Path, filled: list[Answer]) -> None:
    connection = sqlite3.connect(path)
    connection.execute("UPDATE meta SET schema_version = 'one'")
    connection.commit()
    connection.close()
    with ProgressStore.open(path, clock=clock) as store:
        assert store.answers(1) == filled
        assert [flag.note for flag in store.flags(1)] == ["see later"]
        assert [note.note for note in store.pair_notes(1)] == ["look at the rook"]
        assert [session.minutes for session in store.sessions(1)] == [10]
        assert store.load_parameters() == (0.5, 1.5)


LEAVE_LOG = """
import os, sys
from datetime import UTC, datetime
from pathlib import Path
import chess
from trainer.storage.answers import Answer, AnswerKind, Grade
from trainer.storage.progress import ProgressStore
path = Path(sys.argv[1])
store = ProgressStore.open(path, clock=lambda: datetime.now(UTC))
store.identify(path.parent / "rep.pgn", chess.BLACK, ())
for key in range(30):
    store.record(Answer(repertoire_id=1, key=key, move="g1f3", kind=AnswerKind.DRILL,
                        grade=Grade.SLOW, at=datetime.now(UTC)))
os.kill(os.getpid(), 9)
"""


@pytest.fixture
def left_log(path: Path) -> Path:
    """A file whose 30 answers stand in its log only: the program was killed."""
    subprocess.run([sys.executable, "-c", LEAVE_LOG, str(path)], check=False)
    log = side_file(path, "-wal")
    assert log.stat().st_size > 0
    return log


def test_a_damaged_file_is_read_together_with_its_log(path: Path, left_log: Path) -> None:
    connection = sqlite3.connect(path)
    connection.execute("PRAGMA wal_autocheckpoint = 0")
    connection.execute("DROP TABLE flags")
    connection.commit()
    os.link(left_log, path.with_name("log"))
    connection.close()  # writes the log back; put it in again as it was
    path.with_name("log").replace(left_log)
    with ProgressStore.open(path, clock=clock) as store:
        assert [answer.key for answer in store.answers(1)] == list(range(30))
        assert store.notice is not None
        assert "30 answers that could still be read" in store.notice
        # The old log must not be applied to the new file.
        assert store.flags(1) == []
        assert store.integrity_check() == []
    assert not left_log.exists()
    assert side_file(path.with_name(ASIDE), "-wal").exists()


def test_a_log_without_its_file_is_kept_and_not_applied(path: Path, left_log: Path) -> None:
    content = left_log.read_bytes()
    path.unlink()
    with ProgressStore.open(path, clock=clock) as store:
        assert store.notice == (
            f"The progress file {path} was missing but not its log, which is kept as {ASIDE}-wal; "
            "a new, empty one was started."
        )
        assert store.repertoires() == []
        assert store.integrity_check() == []
    assert path.with_name(f"{ASIDE}-wal").read_bytes() == content


def test_two_damages_in_one_second_are_both_kept(path: Path) -> None:
    for content in (b"first", b"second"):
        path.write_bytes(content)
        ProgressStore.open(path, clock=clock).close()
    assert path.with_name(ASIDE).read_bytes() == b"first"
    assert path.with_name(f"{ASIDE}-2").read_bytes() == b"second"


def test_inspecting_a_sound_file_touches_nothing(path: Path, filled: list[Answer]) -> None:
    before = (path.read_bytes(), path.stat().st_mtime_ns, names(path))
    assert inspect(path) == SCHEMA_VERSION
    assert (path.read_bytes(), path.stat().st_mtime_ns, names(path)) == before
    path.write_bytes(before[0][:5000])
    with pytest.raises(DamagedFileError):
        inspect(path)
