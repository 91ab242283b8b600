"""The journal of unsaved edits: exact recovery, killed processes, damage, saving."""

from __future__ import annotations

import os
import random
import subprocess
import sys
import time
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.repertoire_texts import TextMaker, described
from tests.workshop_edits import inside, random_edit
from trainer.errors import FileChangedError
from trainer.repertoire.reader import read_repertoire
from trainer.repertoire.workshop import edits
from trainer.repertoire.workshop.editor import Editor, recover, waiting_edits
from trainer.repertoire.workshop.journal import Journal, JournalError, read_journal
from trainer.repertoire.writer import save_repertoire

TEXT = '[Event "One"]\n[RepertoireSide "White"]\n\n1. Nf3 d5 (1... c5 2. c4) 2. g3 *\n'


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "rep.pgn"
    path.write_text(TEXT, encoding="utf-8")
    return path


@pytest.fixture
def journal(tmp_path: Path) -> Path:
    return tmp_path / "data" / "rep.journal"


def open_editor(file: Path, journal: Path) -> Editor:
    return Editor(read_repertoire(file), Journal(journal))


def add(editor: Editor, *moves: str) -> None:
    node = editor.repertoire.roots[0]
    for move in moves:
        result = editor.do(edits.AddMove.at(node, move))
        assert isinstance(result, edits.Added)
        node = result.edge.child


def edit_at_random(editor: Editor, rng: random.Random, count: int) -> None:
    for _ in range(count):
        choice = rng.random()
        edit = random_edit(editor.repertoire, rng)
        if choice < 0.2:
            editor.undo()
        elif choice < 0.3:
            editor.redo()
        elif edit is not None:
            editor.do(edit)


@settings(deadline=None, max_examples=40)
@given(seed=st.integers(0, 2**32))
def test_a_journal_brings_back_exactly_what_was_done(
    tmp_path_factory: pytest.TempPathFactory, seed: int
) -> None:
    rng = random.Random(seed)
    folder = tmp_path_factory.mktemp("journal")
    file, journal = folder / "rep.pgn", folder / "rep.journal"
    file.write_text(TextMaker(rng).file(), encoding="utf-8")
    editor = open_editor(file, journal)
    edit_at_random(editor, rng, 15)
    copy = folder / "copy.journal"
    if journal.exists():
        copy.write_bytes(journal.read_bytes())
    found = recover(copy, read_repertoire(file))
    assert found.problem is None
    assert inside(found.editor.repertoire) == inside(editor.repertoire)
    assert found.editor.changed == editor.changed
    # Both go on alike, undo what was done before the crash, and the journal goes on too.
    while True:
        undone, also = found.editor.undo(), editor.undo()
        assert undone == also
        assert inside(found.editor.repertoire) == inside(editor.repertoire)
        if undone is None:
            break
    while found.editor.redo() is not None:
        editor.redo()
    again = recover(copy, read_repertoire(file))
    assert again.problem is None
    assert inside(again.editor.repertoire) == inside(found.editor.repertoire)


@settings(deadline=None, max_examples=40)
@given(seed=st.integers(0, 2**32))
def test_edits_around_savings_come_back_too(
    tmp_path_factory: pytest.TempPathFactory, seed: int
) -> None:
    rng = random.Random(seed)
    folder = tmp_path_factory.mktemp("journal")
    file, journal = folder / "rep.pgn", folder / "rep.journal"
    file.write_text(TextMaker(rng).file(), encoding="utf-8")
    editor = open_editor(file, journal)
    for _ in range(4):
        edit_at_random(editor, rng, rng.randrange(6))
        if rng.random() < 0.6:
            editor.save()
            assert waiting_edits(journal) == 0
            assert not editor.changed
        for _ in range(rng.randrange(4)):
            editor.undo()
    copy = folder / "copy.journal"
    if journal.exists():
        copy.write_bytes(journal.read_bytes())
    found = recover(copy, read_repertoire(file))
    assert found.problem is None
    assert found.editor.changed == editor.changed
    if waiting_edits(journal):
        # All that was done since the file was first read, and can be undone.
        while True:
            assert inside(found.editor.repertoire) == inside(editor.repertoire)
            undone = editor.undo()
            assert found.editor.undo() == undone
            if undone is None:
                break
    else:
        assert described(found.editor.repertoire) | {"conflicts": 0} == described(
            editor.repertoire
        ) | {"conflicts": 0}


def test_saving_empties_the_journal_and_undo_goes_on(file: Path, journal: Path) -> None:
    editor = open_editor(file, journal)
    before = inside(editor.repertoire)
    add(editor, "d4", "d5", "c4")
    assert editor.changed
    editor.save()
    assert not editor.changed
    assert waiting_edits(journal) == 0
    assert recover(journal, read_repertoire(file)).edits == 0
    editor = open_editor(file, journal)
    editor.do(edits.SetTitle(0, "Two"))
    editor.save()
    editor.undo()
    assert editor.changed
    found = recover(journal, read_repertoire(file))
    assert found.problem is None
    assert found.editor.repertoire.sections[0].title == "One"
    assert found.editor.changed
    found.editor.redo()
    assert not found.editor.changed
    assert found.editor.repertoire.sections[0].title == "Two"
    found.editor.save()
    assert read_repertoire(file).repertoire.sections[0].title == "Two"
    assert inside(editor.repertoire) != before


def test_a_file_changed_meanwhile_is_left_alone(file: Path, journal: Path) -> None:
    editor = open_editor(file, journal)
    add(editor, "d4")
    file.write_text(TEXT.replace("g3", "d4"), encoding="utf-8")
    with pytest.raises(FileChangedError):
        editor.save()
    assert waiting_edits(journal) == 1
    loaded = read_repertoire(file)
    before = inside(loaded.repertoire)
    found = recover(journal, loaded)
    assert inside(found.editor.repertoire) == before
    assert found.edits == 0
    assert found.problem is not None
    assert "was changed since" in found.problem
    assert found.kept is not None
    assert len(read_journal(found.kept).lines) == 1
    # A file that was only touched is the same one.
    file.write_text(TEXT, encoding="utf-8")
    os.utime(file, (1, 1))
    assert recover(found.kept, read_repertoire(file)).edits == 1


def test_a_crash_between_saving_and_emptying_is_no_loss(file: Path, journal: Path) -> None:
    editor = open_editor(file, journal)
    add(editor, "d4", "d5")
    save_repertoire(editor.loaded, file, expected=editor.loaded.fingerprint)
    found = recover(journal, read_repertoire(file))
    assert (found.edits, found.problem, found.kept) == (0, None, None)
    assert not journal.exists()
    assert inside(found.editor.repertoire) == inside(read_repertoire(file).repertoire)
    assert described(found.editor.repertoire) == described(editor.repertoire)
    # The same after an earlier saving of the same session.
    editor = open_editor(file, journal)
    add(editor, "e4")
    editor.save()
    add(editor, "e4", "e5")
    assert waiting_edits(journal) == 1
    save_repertoire(editor.loaded, file, expected=editor.loaded.fingerprint)
    found = recover(journal, read_repertoire(file))
    assert (found.edits, found.problem, found.kept) == (0, None, None)


def test_a_line_cut_off_is_passed_over_and_a_damaged_one_told(file: Path, journal: Path) -> None:
    editor = open_editor(file, journal)
    add(editor, "d4", "d5", "c4")
    whole = journal.read_bytes()
    for cut in range(1, len(whole.splitlines(keepends=True)[-1]) + 1):
        journal.write_bytes(whole[:-cut])
        found = recover(journal, read_repertoire(file))
        assert (found.edits, found.problem) == (2, None)
        # What is added now stands on a line of its own.
        found.editor.do(edits.SetTitle(0, "Two"))
        found.editor.close()
        again = recover(journal, read_repertoire(file))
        assert (again.edits, again.problem) == (3, None)
        assert again.editor.repertoire.sections[0].title == "Two"
    lines = whole.splitlines(keepends=True)
    for number in range(len(lines)):
        damaged = bytearray(lines[number])
        damaged[len(damaged) // 2] ^= 1
        journal.write_bytes(b"".join([*lines[:number], bytes(damaged), *lines[number + 1 :]]))
        found = recover(journal, read_repertoire(file))
        assert found.problem is not None
        assert f"Line {number + 1} " in found.problem
        assert found.edits == max(0, number - 1)
        assert found.kept is not None
        assert found.kept.read_bytes()
        again = recover(journal, read_repertoire(file))
        assert (again.edits, again.problem) == (max(0, number - 1), None)


def test_edits_that_nobody_recovered_are_kept(file: Path, journal: Path) -> None:
    add(open_editor(file, journal), "d4", "d5")
    add(open_editor(file, journal), "e4")
    kept = journal.with_name("rep.journal.kept-1")
    assert len(read_journal(kept).lines) == 2
    assert len(read_journal(journal).lines) == 1


def test_a_journal_that_cannot_be_written_takes_the_edit_back(file: Path, tmp_path: Path) -> None:
    (tmp_path / "blocked").write_text("")
    editor = Editor(read_repertoire(file), Journal(tmp_path / "blocked" / "rep.journal"))
    before = inside(editor.repertoire)
    with pytest.raises(JournalError, match="cannot be"):
        add(editor, "d4")
    assert inside(editor.repertoire) == before
    assert editor.undoable is None
    editor.stop_journal()
    add(editor, "d4")
    editor.save()


def test_flushing_waits_two_seconds(file: Path, journal: Path) -> None:
    editor = open_editor(file, journal)
    written = Journal(journal.with_name("other"))
    add(editor, "d4")
    contents = read_journal(journal)
    assert contents.header is not None
    written.begin(contents.header)
    assert not written.flush_due(10.0)
    written.append({"undo": 1})
    assert written.flush_due(10.0)
    written.append({"undo": 1})
    assert not written.flush_due(11.9)
    assert written.flush_due(12.0)
    assert not written.flush_due(20.0)
    written.close()


def test_closing_keeps_what_is_not_saved(file: Path, journal: Path) -> None:
    editor = open_editor(file, journal)
    add(editor, "d4")
    editor.close()
    assert waiting_edits(journal) == 1
    found = recover(journal, read_repertoire(file))
    found.editor.close(forget=True)
    assert not journal.exists()


EDITING = """
import os, sys
from pathlib import Path
from trainer.repertoire.reader import read_repertoire
from trainer.repertoire.workshop import edits
from trainer.repertoire.workshop.editor import recover

file, journal = Path(sys.argv[1]), Path(sys.argv[2])
found = recover(journal, read_repertoire(file))
assert found.problem is None, found.problem
editor = found.editor
os.write(1, b"ready %d\\n" % found.edits)
done = found.edits
while True:
    node = list(editor.repertoire.nodes.values())[done % len(editor.repertoire.nodes)]
    move = next((m for m in node.board().legal_moves if node.edge_for(m) is None), None)
    if done % 3 == 2 or move is None:
        editor.do(edits.SetTitle(0, f"Number {done}"))
    elif done % 7 == 6:
        editor.undo()
    else:
        editor.do(edits.AddMove.at(node, move))
    done += 1
    os.write(1, b"%d\\n" % done)
"""


def test_killed_in_the_middle_of_editing(file: Path, journal: Path) -> None:
    rng = random.Random(7)
    total = 0
    for _ in range(6):
        with subprocess.Popen(
            [sys.executable, "-c", EDITING, str(file), str(journal)], stdout=subprocess.PIPE
        ) as child:
            assert child.stdout is not None
            assert child.stdout.readline() == b"ready %d\n" % total
            child.stdout.readline()
            time.sleep(rng.uniform(0, 0.15))
            child.kill()
            said = child.stdout.read().split()
        acknowledged = int(said[-1]) if said else total + 1
        held = waiting_edits(journal)
        # The one edit that was being made may be in already.
        assert acknowledged <= held <= acknowledged + 1
        total = held
    assert total > 20
    found = recover(journal, read_repertoire(file))
    assert (found.problem, found.edits) == (None, total)
    # The same edits, made here without being killed.
    path = file.with_name("again.pgn")
    path.write_bytes(file.read_bytes())
    editor = Editor(read_repertoire(path))
    for done in range(total):
        nodes = list(editor.repertoire.nodes.values())
        node = nodes[done % len(nodes)]
        move = next((m for m in node.board().legal_moves if node.edge_for(m) is None), None)
        if done % 3 == 2 or move is None:
            editor.do(edits.SetTitle(0, f"Number {done}"))
        elif done % 7 == 6:
            editor.undo()
        else:
            editor.do(edits.AddMove.at(node, move))
    assert inside(found.editor.repertoire) == inside(editor.repertoire)
