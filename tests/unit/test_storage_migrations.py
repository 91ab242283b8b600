"""Every schema that was ever released still opens; a step is taken wholly or not at all."""

from __future__ import annotations

import contextlib
import shutil
import sqlite3
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import chess
import pytest

from trainer.errors import ProgressError
from trainer.storage.answers import Answer, AnswerKind, Grade
from trainer.storage.migrations import (
    SCHEMA,
    SCHEMA_VERSION,
    STEPS,
    create_schema,
    read_version,
    tables_of,
    upgrade,
)
from trainer.storage.progress import ProgressStore
from trainer.storage.records import DrillSession, Flag, PairNote

DATA = Path(__file__).parents[1] / "data"
NOW = datetime(2026, 3, 1, 18, 30, tzinfo=UTC)
SECOND = NOW + timedelta(seconds=20, milliseconds=7)
LAST = SECOND + timedelta(seconds=15)
LATER = NOW + timedelta(minutes=1)


def clock() -> datetime:
    return NOW


def archived(version: int, directory: Path) -> Path:
    path = directory / "progress.sqlite"
    shutil.copyfile(DATA / f"progress-v{version}.sqlite", path)
    return path


def test_every_released_version_is_archived_and_has_its_step() -> None:
    assert set(STEPS) == set(range(1, SCHEMA_VERSION))
    for version in range(1, SCHEMA_VERSION + 1):
        assert (DATA / f"progress-v{version}.sqlite").is_file()


def test_the_words_in_the_schema_are_those_of_the_program() -> None:
    text = "\n".join(SCHEMA)
    for word in (*Grade, *AnswerKind):
        assert f"'{word}'" in text


def test_the_schema_is_the_archived_one(tmp_path: Path) -> None:
    """A released schema never changes: a change here needs a new version and a step."""

    def schema_of(connection: sqlite3.Connection) -> list[tuple[str, str]]:
        return connection.execute(
            "SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL ORDER BY name"
        ).fetchall()

    path = archived(SCHEMA_VERSION, tmp_path)
    with (
        contextlib.closing(sqlite3.connect(path)) as old,
        contextlib.closing(sqlite3.connect(":memory:")) as new,
    ):
        create_schema(new)
        assert read_version(new) == SCHEMA_VERSION
        assert schema_of(new) == schema_of(old)


@pytest.mark.parametrize("version", range(1, SCHEMA_VERSION + 1))
def test_an_archived_file_opens_with_the_same_answers(version: int, tmp_path: Path) -> None:
    path = archived(version, tmp_path)
    crossing = 0xFEDCBA9876543210
    way = (0xF000000000000001, "d7d5")
    with ProgressStore.open(path, clock=clock) as store:
        assert (store.notice is None) == (version == SCHEMA_VERSION)
        assert [(entry.id, entry.side) for entry in store.repertoires()] == [
            (1, chess.WHITE),
            (2, chess.BLACK),
        ]
        answers = store.answers(1)
        assert answers[0] == Answer(
            id=1,
            repertoire_id=1,
            key=0x463B96181691FC9C,
            move="e2e4",
            played="e2e4",
            kind=AnswerKind.DRILL,
            grade=Grade.CLEAN,
            at=NOW,
            seconds=1.25,
            session_id=1,
        )
        assert [(entry.id, entry.key, entry.kind, entry.grade) for entry in answers] == [
            (1, 0x463B96181691FC9C, AnswerKind.DRILL, Grade.CLEAN),
            (2, crossing, AnswerKind.DRILL, Grade.MISSED),
            (3, crossing, AnswerKind.REPEAT, Grade.HINTED),
            (6, 4, AnswerKind.STRANGER_NOTICED, None),
            (7, 5, AnswerKind.STRANGER_UNNOTICED, None),
            (8, 6, AnswerKind.FALSE_ALARM, None),
            (9, 7, AnswerKind.SKIPPED, None),
        ]
        assert (answers[1].at, answers[1].played, answers[2].hints) == (SECOND, "b1c3", 2)
        everything = store.answers(1, include_retracted=True)
        assert [(entry.id, entry.move, entry.retracts) for entry in everything[3:5]] == [
            (4, "e7e8q", None),
            (5, "e7e8q", 4),
        ]
        assert [entry.kind for entry in store.answers(2)] == [AnswerKind.GAME]
        assert store.last_entries(1) == {crossing: {way: SECOND + timedelta(seconds=9)}}
        assert store.sessions(1) == [DrillSession(1, 1, NOW, 10, LAST, {"asked": 3})]
        assert store.flags(1) == [Flag(crossing, "a note \N{EN DASH} with a dash", LAST)]
        assert store.load_parameters(1) == (0.25, 2.5)
        assert store.load_parameters(2) == (1.0,)
        noted = PairNote(crossing, 4, "with …a5 there is b5 \N{EN DASH} else c4", LATER)
        assert store.pair_notes(1) == ([noted] if version >= 2 else [])
        store.tell_apart(2, 4, crossing, "kept after the upgrade")
        assert [note.note for note in store.pair_notes(2)] == ["kept after the upgrade"]
        assert store.integrity_check() == []


def test_each_version_has_the_tables_that_its_file_has(tmp_path: Path) -> None:
    for version in range(1, SCHEMA_VERSION + 1):
        assert names_in(archived(version, tmp_path)) == tables_of(version)


def set_version(path: Path, version: int) -> None:
    with contextlib.closing(sqlite3.connect(path)) as connection:
        connection.execute("UPDATE meta SET schema_version = ?", (version,))
        connection.commit()


@pytest.mark.parametrize("read_only", [False, True])
def test_a_newer_version_is_left_as_it_is(tmp_path: Path, read_only: bool) -> None:
    path = archived(SCHEMA_VERSION, tmp_path)
    set_version(path, 7)
    before = path.read_bytes()
    with pytest.raises(ProgressError) as caught:
        ProgressStore.open(path, read_only=read_only, clock=clock)
    assert str(caught.value) == (
        f"The progress file {path} was written by a newer Stemline (its version is 7, this one "
        f"knows {SCHEMA_VERSION}); it was left as it is, please update Stemline."
    )
    assert path.read_bytes() == before
    set_version(path, SCHEMA_VERSION)
    with ProgressStore.open(path, clock=clock) as store:
        assert len(store.answers(1)) == 7


def rename_flags(connection: sqlite3.Connection) -> None:
    connection.execute("ALTER TABLE flags RENAME TO marks")


def add_column(connection: sqlite3.Connection) -> None:
    connection.execute("ALTER TABLE marks ADD COLUMN colour TEXT")


def stumble(connection: sqlite3.Connection) -> None:
    connection.execute("ALTER TABLE marks ADD COLUMN colour TEXT")
    connection.execute("SELECT 1 FROM nowhere")


@pytest.fixture
def first(tmp_path: Path) -> Iterator[Path]:
    """The archived file of version 1 and, at the end, a look that nothing lies about."""
    path = archived(1, tmp_path)
    yield path
    # (A reader leaves SQLite's own side files, which the next writer takes away.)
    left = {
        entry.name for entry in tmp_path.iterdir() if entry.suffix in (".sqlite", ".bak", ".tmp")
    }
    assert left <= {path.name, f"{path.name}.v1.bak"}


def names_in(path: Path) -> set[str]:
    with contextlib.closing(sqlite3.connect(path)) as connection:
        return {
            name
            for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type='table'")
        }


def answers_in(path: Path) -> int:
    with contextlib.closing(sqlite3.connect(path)) as connection:
        return int(connection.execute("SELECT count(*) FROM answers").fetchone()[0])


def version_in(path: Path) -> int | None:
    with contextlib.closing(sqlite3.connect(path)) as connection:
        return read_version(connection)


def test_steps_are_taken_in_order_after_a_copy(first: Path) -> None:
    backup = upgrade(first, 1, steps={1: rename_flags, 2: add_column}, target=3)
    assert backup == first.with_name("progress.sqlite.v1.bak")
    assert version_in(first) == 3
    assert names_in(first) == tables_of(1) - {"flags"} | {"marks"}
    assert version_in(backup) == 1
    assert answers_in(backup) == 10


def test_a_step_that_fails_undoes_those_before(first: Path) -> None:
    with pytest.raises(sqlite3.OperationalError, match="nowhere"):
        upgrade(first, 1, steps={1: rename_flags, 2: stumble}, target=3)
    assert version_in(first) == 1
    assert names_in(first) == tables_of(1)
    assert answers_in(first) == 10


def test_the_present_version_needs_no_step(first: Path) -> None:
    before = first.read_bytes()
    assert upgrade(first, SCHEMA_VERSION) is None
    assert first.read_bytes() == before
