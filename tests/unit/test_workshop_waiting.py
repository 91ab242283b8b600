"""How many steps wait in a journal, and whose journal may be removed."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from trainer.repertoire.reader import LoadedRepertoire, read_repertoire
from trainer.repertoire.workshop.editor import Editor, recover, waiting_edits
from trainer.repertoire.workshop.edits import AddMove
from trainer.repertoire.workshop.journal import Journal
from trainer.repertoire.workshop.waiting import Left, look_for_left, unsaved_steps

TEXT = '[Event "One"]\n[RepertoireSide "White"]\n\n1. d3 d5 2. Nf3 *\n'


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "one.pgn"
    path.write_text(TEXT, encoding="utf-8")
    return path


@pytest.fixture
def journal(tmp_path: Path) -> Path:
    return tmp_path / "data" / "one.journal"


def add(editor: Editor, typed: str) -> None:
    editor.do(AddMove.at(editor.repertoire.roots[0], typed))


def editor_on(file: Path, journal: Path) -> Editor:
    return Editor(read_repertoire(file), Journal(journal))


def test_a_missing_journal_holds_nothing(journal: Path) -> None:
    assert unsaved_steps(journal) == 0


def test_steps_are_counted_from_the_last_saving(file: Path, journal: Path) -> None:
    editor = editor_on(file, journal)
    add(editor, "e4")
    add(editor, "c4")
    assert unsaved_steps(journal) == 2
    editor.undo()
    assert unsaved_steps(journal) == 1
    assert waiting_edits(journal) == 3
    editor.undo()
    assert unsaved_steps(journal) == 0
    editor.redo()
    editor.save()
    assert unsaved_steps(journal) == 0
    editor.undo()  # the file has a move too many now
    assert unsaved_steps(journal) == 1
    add(editor, "f4")  # and another one instead
    assert unsaved_steps(journal) == 2


def test_none_waits_exactly_where_nothing_changed(file: Path, journal: Path) -> None:
    rng = random.Random(6)
    for _ in range(20):
        editor = editor_on(file, journal)
        for _ in range(rng.randrange(1, 12)):
            kind = rng.random()
            if kind < 0.4:
                root = editor.repertoire.roots[0]
                known = {edge.move for edge in root.edges}
                moves = [move for move in root.board().legal_moves if move not in known]
                editor.do(AddMove.at(root, rng.choice(moves)))
            elif kind < 0.7:
                editor.undo()
            elif kind < 0.9:
                editor.redo()
            else:
                editor.save()
        steps = unsaved_steps(journal)
        assert (steps > 0) == editor.changed
        # What is counted is what comes back.
        before = set(editor.repertoire.nodes)
        editor.stop_journal()
        found = recover(journal, read_repertoire(file))
        assert found.problem is None
        if steps:
            assert set(found.editor.repertoire.nodes) == before
        found.editor.close(forget=True)
        file.write_text(TEXT, encoding="utf-8")


def test_what_is_of_no_use_is_removed_and_damage_is_not(file: Path, journal: Path) -> None:
    assert look_for_left(journal) == Left(0, damaged=False)
    editor = editor_on(file, journal)
    editor.prepare_journal()
    assert journal.exists()
    assert look_for_left(journal) == Left(0, damaged=False)
    assert not journal.exists()
    editor = editor_on(file, journal)
    add(editor, "e4")
    assert look_for_left(journal) == Left(1, damaged=False)
    lines = journal.read_bytes().split(b"\n")
    journal.write_bytes(b"\n".join([lines[0], b"00000000 {}", *lines[1:]]))
    assert look_for_left(journal) == Left(0, damaged=True)
    assert journal.exists()


def test_a_prepared_journal_is_the_one_that_is_written(file: Path, journal: Path) -> None:
    other = editor_on(file, journal)
    add(other, "e4")
    other.stop_journal()
    kept = journal.read_bytes()
    editor = editor_on(file, journal)
    editor.prepare_journal()  # another one's stays until there is an edit
    assert journal.read_bytes() == kept
    journal.unlink()
    editor.prepare_journal()
    add(editor, "c4")
    editor.save()
    editor.prepare_journal()
    add(editor, "b4")
    editor.stop_journal()
    found = recover(journal, read_repertoire(file))
    assert (found.edits, found.problem) == (1, None)


def test_a_journal_of_another_is_neither_removed_nor_replaced(file: Path, journal: Path) -> None:
    first = editor_on(file, journal)
    add(first, "e4")
    first.flush_due(0.0)
    kept = journal.read_bytes()
    second = editor_on(file, journal)
    second.close()
    second.close(forget=True)
    assert journal.read_bytes() == kept
    third = editor_on(file, journal)
    third.save(file.with_name("copy.pgn"))
    assert journal.read_bytes() == kept
    # The first edit puts it aside.
    fourth = editor_on(file, journal)
    add(fourth, "c4")
    assert journal.with_name("one.journal.kept-1").read_bytes() == kept
    fourth.close(forget=True)
    assert not journal.exists()


def test_a_file_that_is_saved_under_another_name_has_another_journal(
    file: Path, journal: Path
) -> None:
    editor = editor_on(file, journal)
    add(editor, "e4")
    other_file, other = file.with_name("other.pgn"), journal.with_name("other.journal")
    editor.save(other_file)
    editor.move_journal(Journal(other))
    assert not journal.exists()
    add(editor, "c4")
    assert unsaved_steps(other) == 1
    editor.stop_journal()
    loaded: LoadedRepertoire = read_repertoire(other_file)
    found = recover(other, loaded)
    assert found.problem is None
    assert [edge.san for edge in found.editor.repertoire.roots[0].edges] == ["d3", "e4", "c4"]
