"""The store: what goes in comes out, nothing is changed, one window writes."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import chess
import pytest

from trainer.errors import ProgressError, ProgressLockedError
from trainer.storage.answers import Answer, AnswerKind, Grade
from trainer.storage.progress import ProgressStore
from trainer.storage.records import DrillSession, Flag, PairNote

START = datetime(2026, 3, 1, 18, 30, tzinfo=UTC)


class Clock:
    """A clock that moves only when told to."""

    def __init__(self) -> None:
        self.now = START

    def __call__(self) -> datetime:
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "data" / "progress.sqlite"


@pytest.fixture
def store(path: Path, clock: Clock) -> Iterator[ProgressStore]:
    with ProgressStore.open(path, clock=clock) as store:
        assert store.identify(path.parent / "first.pgn", chess.WHITE, ()) == 1
        yield store


def answer(key: int = 1, *, grade: Grade = Grade.CLEAN, minute: int = 0) -> Answer:
    return Answer(
        repertoire_id=1,
        key=key,
        move="g1f3",
        played="g1f3",
        kind=AnswerKind.DRILL,
        grade=grade,
        at=START + timedelta(minutes=minute),
        seconds=2.5,
    )


# -- answers -------------------------------------------------------------------------------------


def test_answers_since_and_by_position(store: ProgressStore) -> None:
    ids = store.record_all([answer(5, minute=0), answer(2**64 - 1, minute=1), answer(5, minute=2)])
    found = store.answers(1)
    assert [entry.id for entry in found] == ids
    assert [entry.key for entry in found] == [5, 2**64 - 1, 5]
    assert store.answers(1, since=START + timedelta(minutes=1)) == found[1:]
    assert store.answers_for(1, 5) == [found[0], found[2]]
    assert store.answers_for(1, 5, "g1f3") == [found[0], found[2]]
    assert store.answers_for(1, 5, "b1c3") == []
    assert store.answers_for(1, 2**64 - 1) == [found[1]]
    assert store.answers(2) == []


def test_the_order_is_that_of_recording_even_if_the_clock_went_back(store: ProgressStore) -> None:
    ids = [store.record(answer(9, minute=5)), store.record(answer(3, minute=1))]
    assert [entry.id for entry in store.answers(1)] == ids


def test_a_retracted_answer_is_left_out_but_kept(store: ProgressStore, clock: Clock) -> None:
    kept, slip = store.record(answer(5)), store.record(answer(6, grade=Grade.MISSED))
    clock.now += timedelta(seconds=2)
    retraction = store.retract(slip)
    assert [entry.id for entry in store.answers(1)] == [kept]
    assert store.answers_for(1, 6) == []
    everything = store.answers(1, include_retracted=True)
    assert [entry.id for entry in everything] == [kept, slip, retraction]
    assert everything[2].kind is AnswerKind.RETRACTION
    assert (everything[2].retracts, everything[2].key) == (slip, 6)
    assert everything[2].at == clock.now


def test_what_cannot_be_retracted(store: ProgressStore) -> None:
    slip = store.record(answer())
    retraction = store.retract(slip)
    for number in (slip, retraction, 4711):
        with pytest.raises(ProgressError, match=f"Answer {number} .* cannot be taken back"):
            store.retract(number)
    with pytest.raises(ValueError, match="retract"):
        store.record(store.answers(1, include_retracted=True)[1])
    assert len(store.answers(1, include_retracted=True)) == 2


def test_all_or_none(store: ProgressStore, path: Path) -> None:
    stranger = Answer(repertoire_id=99, key=1, move="", kind=AnswerKind.SKIPPED, at=START)
    with pytest.raises(ProgressError, match=f"{path} cannot be written: FOREIGN KEY"):
        store.record_all([answer(), stranger])
    assert store.answers(1) == []
    assert store.record(answer()) == 1


def test_answers_are_never_changed_or_deleted(store: ProgressStore, path: Path) -> None:
    store.record(answer())
    other = sqlite3.connect(path)
    for statement, message in (
        ("UPDATE answers SET grade = 'clean'", "never changed"),
        ("DELETE FROM answers", "never deleted"),
    ):
        with pytest.raises(sqlite3.IntegrityError, match=message):
            other.execute(statement)
    other.close()
    assert len(store.answers(1)) == 1


def test_every_commit_is_flushed(store: ProgressStore) -> None:
    """SQLite, "PRAGMA synchronous": in WAL mode only FULL (2) keeps every commit."""
    connection = store._connection
    assert connection.execute("PRAGMA synchronous").fetchone() == (2,)
    assert connection.execute("PRAGMA journal_mode").fetchone() == ("wal",)


def test_last_entries(store: ProgressStore) -> None:
    def entered(key: int, came_from: int, move: str, minute: int) -> Answer:
        return Answer(
            repertoire_id=1,
            key=key,
            move="g1f3",
            kind=AnswerKind.DRILL,
            grade=Grade.CLEAN,
            at=START + timedelta(minutes=minute),
            entered_from=came_from,
            entered_by=move,
        )

    big = 2**64 - 7
    store.record_all(
        [
            entered(big, big - 1, "e7e5", 9),
            entered(big, big - 1, "e7e5", 3),
            entered(big, 12, "d7d5", 4),
            entered(13, 12, "c7c5", 5),
            answer(14),
        ]
    )
    store.retract(store.record(entered(13, 12, "c7c5", 8)))
    assert store.last_entries(1) == {
        big: {
            (big - 1, "e7e5"): START + timedelta(minutes=9),
            (12, "d7d5"): START + timedelta(minutes=4),
        },
        13: {(12, "c7c5"): START + timedelta(minutes=5)},
    }


# -- sessions, flags, parameters -----------------------------------------------------------------


def test_sessions(store: ProgressStore, clock: Clock) -> None:
    first = store.begin_session(1, 10)
    clock.now += timedelta(minutes=9)
    store.end_session(first, {"asked": 31, "missed": ["Nf3"]})
    second = store.begin_session(1, 5)
    assert store.sessions(1) == [
        DrillSession(
            first, 1, START, 10, START + timedelta(minutes=9), {"asked": 31, "missed": ["Nf3"]}
        ),
        DrillSession(second, 1, START + timedelta(minutes=9), 5),
    ]
    assert store.sessions(2) == []


def test_what_tells_two_positions_apart(store: ProgressStore, clock: Clock, path: Path) -> None:
    low, high = 5, 2**64 - 3  # as signed numbers they lie the other way round
    store.tell_apart(1, low, high, "with …a5 there is b5")
    clock.now += timedelta(minutes=1)
    store.tell_apart(1, 6, low, "another pair")
    noted = store.pair_notes(1)
    assert [{note.first, note.second} for note in noted] == [{low, high}, {5, 6}]
    assert [note.note for note in noted] == ["with …a5 there is b5", "another pair"]
    assert noted[0].at == START
    # The same pair the other way round is the same pair.
    store.tell_apart(1, high, low, "\ud800 a lone surrogate")
    assert [note.note for note in store.pair_notes(1)] == ["another pair", "? a lone surrogate"]
    assert store.pair_notes(2) == []
    with ProgressStore.open(store.path, read_only=True, clock=clock) as reader:
        assert reader.pair_notes(1) == store.pair_notes(1)
        with pytest.raises(ProgressError, match="open to read only"):
            reader.tell_apart(1, low, high, "lost")
    store.tell_apart(1, low, high, "")
    assert store.pair_notes(1) == [PairNote(5, 6, "another pair", clock.now)]


def test_flags(store: ProgressStore, clock: Clock) -> None:
    store.flag(1, 2**64 - 1, "why not d4 \N{BLACK CHESS KNIGHT} \udcff")
    clock.now += timedelta(minutes=1)
    store.flag(1, 7)
    later = clock.now
    assert store.flags(1) == [
        Flag(2**64 - 1, "why not d4 \N{BLACK CHESS KNIGHT} ?", START),
        Flag(7, "", later),
    ]
    store.unflag(1, 2**64 - 1)
    store.unflag(1, 12345)
    assert store.flags(1) == [Flag(7, "", later)]


def test_parameters(store: ProgressStore) -> None:
    assert store.load_parameters() is store.load_parameters(1) is None
    store.save_parameters([0.1, 2.5, 1 / 3])
    assert store.load_parameters(1) == store.load_parameters() == (0.1, 2.5, 1 / 3)
    store.save_parameters((9.0,), 1)
    store.save_parameters((8.0,), 1)
    assert store.load_parameters(1) == (8.0,)
    assert store.load_parameters(2) == store.load_parameters() == (0.1, 2.5, 1 / 3)


# -- whose progress ------------------------------------------------------------------------------


def test_one_file_one_side_one_id(store: ProgressStore, path: Path) -> None:
    file = path.parent / "rep.pgn"
    file.write_text("")
    number = store.identify(file, chess.WHITE, {1, 2})
    assert store.identify(file, chess.WHITE, {77}) == number
    assert store.identify(path.parent / "." / "rep.pgn", chess.WHITE, ()) == number
    link = path.parent / "link.pgn"
    link.symlink_to(file)
    assert store.identify(link, chess.WHITE, ()) == number
    assert store.identify(file, chess.BLACK, {1, 2}) != number
    known = {(entry.path, entry.side) for entry in store.repertoires()}
    assert {(file, chess.WHITE), (file, chess.BLACK)} <= known


@pytest.fixture
def answered(store: ProgressStore, path: Path) -> Path:
    """A repertoire file (id 2) with answers at the positions 1, 2, 3 and 2**64 - 1."""
    file = path.parent / "old.pgn"
    file.write_text("")
    assert store.identify(file, chess.WHITE, ()) == 2
    for key in (1, 2, 3, 2**64 - 1, 1):
        store.record(
            Answer(
                repertoire_id=2,
                key=key,
                move="g1f3",
                kind=AnswerKind.DRILL,
                grade=Grade.CLEAN,
                at=START,
            )
        )
    return file


def test_a_moved_file_keeps_its_history(store: ProgressStore, answered: Path) -> None:
    new = answered.with_name("new.pgn")
    answered.rename(new)
    assert store.identify(new, chess.WHITE, {2, 2**64 - 1, *range(100, 200)}) == 2
    assert store.identify(new, chess.WHITE, set()) == 2
    assert [entry.path for entry in store.repertoires() if entry.id == 2] == [new]
    assert len(store.answers(2)) == 5


def test_a_moved_file_keeps_its_notes_where_nothing_was_answered_yet(
    store: ProgressStore, path: Path
) -> None:
    noted, other = path.parent / "noted.pgn", path.parent / "renamed.pgn"
    number = store.identify(noted, chess.WHITE, {2, 2**64 - 1, 7})
    store.tell_apart(number, 2**64 - 1, 2, "look at the rook")
    assert store.identify(other, chess.WHITE, {7, 8, 9}) != number
    assert store.identify(path.parent / "third.pgn", chess.WHITE, {2, 2**64 - 1, 7}) == number


def test_less_than_half_in_common_is_another_repertoire(
    store: ProgressStore, answered: Path
) -> None:
    answered.unlink()
    assert store.identify(answered.with_name("new.pgn"), chess.WHITE, {1, *range(100, 200)}) == 3


def test_a_copy_is_another_repertoire(store: ProgressStore, answered: Path) -> None:
    assert store.identify(answered.with_name("copy.pgn"), chess.WHITE, {1, 2, 3}) == 3


def test_the_other_side_is_another_repertoire(store: ProgressStore, answered: Path) -> None:
    answered.unlink()
    assert store.identify(answered.with_name("new.pgn"), chess.BLACK, {1, 2, 3}) == 3


def test_of_two_moved_files_the_likelier(store: ProgressStore, answered: Path) -> None:
    other = answered.with_name("other.pgn")
    other.write_text("")
    assert store.identify(other, chess.WHITE, ()) == 3
    store.record(
        Answer(
            repertoire_id=3, key=1, move="g1f3", kind=AnswerKind.GAME, at=START, grade=Grade.SLOW
        )
    )
    answered.unlink()
    other.unlink()
    assert store.identify(answered.with_name("new.pgn"), chess.WHITE, {1, 2, 3}) == 3


def test_a_reader_learns_of_a_moved_file_and_changes_nothing(
    store: ProgressStore, answered: Path, clock: Clock
) -> None:
    new = answered.with_name("new.pgn")
    answered.rename(new)
    with ProgressStore.open(store.path, read_only=True, clock=clock) as reader:
        assert reader.identify(new, chess.WHITE, {1, 2, 3}) == 2
        assert reader.identify(new, chess.WHITE, {1000}) == 0
    assert answered in [entry.path for entry in store.repertoires()]


def test_a_file_name_that_is_not_utf8(store: ProgressStore, path: Path) -> None:
    file = path.parent / os.fsdecode(b"er\xf6ffnung.pgn")
    file.write_text("")
    number = store.identify(file, chess.BLACK, ())
    assert store.identify(file, chess.BLACK, ()) == number
    assert store.repertoires()[-1].path == file


# -- windows beside each other -------------------------------------------------------------------


def test_a_second_window_is_told_and_may_read(store: ProgressStore, clock: Clock) -> None:
    with pytest.raises(ProgressLockedError) as caught:
        ProgressStore.open(store.path, clock=clock)
    assert str(caught.value) == (
        f"Another Stemline window is using the progress file {store.path}; close that window, or "
        "open this one to read only."
    )
    store.record(answer())
    with ProgressStore.open(store.path, read_only=True, clock=clock) as reader:
        assert reader.answers(1) == store.answers(1)
        store.record(answer(2))
        assert [entry.key for entry in reader.answers(1)] == [1, 2]
        for write in (
            lambda: reader.record(answer()),
            lambda: reader.retract(1),
            lambda: reader.flag(1, 1),
            lambda: reader.begin_session(1, 5),
            lambda: reader.save_parameters((1.0,)),
        ):
            with pytest.raises(ProgressError, match="is open to read only"):
                write()
        store.record(answer(3))
    assert [entry.key for entry in store.answers(1)] == [1, 2, 3]


def test_the_lock_goes_with_the_store(path: Path, clock: Clock) -> None:
    for _ in range(3):
        store = ProgressStore.open(path, clock=clock)
        assert store.notice is None
        store.close()
        store.close()


HOLD = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from trainer.storage.progress import ProgressStore
store = ProgressStore.open(Path(sys.argv[1]), clock=lambda: datetime.now(UTC))
print("open", flush=True)
sys.stdin.read()
"""


def test_the_lock_of_another_process_dies_with_it(path: Path, clock: Clock) -> None:
    with subprocess.Popen(
        [sys.executable, "-c", HOLD, str(path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as child:
        assert child.stdout is not None
        assert child.stdout.readline() == "open\n"
        with pytest.raises(ProgressLockedError):
            ProgressStore.open(path, clock=clock)
        child.send_signal(signal.SIGKILL)
        child.wait()
    with ProgressStore.open(path, clock=clock) as store:
        assert store.notice is None
        assert store.integrity_check() == []


def test_a_closed_store_says_so_in_our_words(path: Path, clock: Clock) -> None:
    store = ProgressStore.open(path, clock=clock)
    store.close()
    with pytest.raises(ProgressError, match=f"{path} cannot be read"):
        store.answers(1)
    with pytest.raises(ProgressError, match=f"{path} cannot be written"):
        store.record(answer())


def test_integrity_check_finds_answers_to_nothing(path: Path, clock: Clock) -> None:
    ProgressStore.open(path, clock=clock).close()
    other = sqlite3.connect(path)
    other.execute("INSERT INTO flags VALUES (77, 1, '', 0)")
    other.commit()
    other.close()
    with ProgressStore.open(path, clock=clock) as store:
        assert store.integrity_check() == ["row 1 of flags belongs to no repertoires"]
