"""The audit list with its remedies, and what edits do to memory."""

from __future__ import annotations

import random
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tests.memory_graphs import node_after
from trainer.memory.course import Course
from trainer.memory.days import StudyDays
from trainer.repertoire.arrays import RepertoireArrays
from trainer.repertoire.audit import audit
from trainer.repertoire.graph import Repertoire
from trainer.repertoire.measured import Measured
from trainer.repertoire.reach import reach
from trainer.repertoire.reader import read_repertoire, read_repertoire_text
from trainer.repertoire.workshop import edits
from trainer.repertoire.workshop.editor import Editor
from trainer.repertoire.workshop.findings import AuditEntry, EntryKind, Remedy, audit_entries
from trainer.storage.answers import Answer, AnswerKind, Grade
from trainer.storage.progress import ProgressStore
from trainer.storage.reply_counts import ReplyCounts
from trainer.storage.settings import Settings

NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)
TEXT = """[Event "One"]
[RepertoireSide "White"]

1. e4 e5 (1... c5 {open}) (1... d5 2. exd5) (1... Nf6 2. e5) 2. Nf3 Nc6 3. Bb5 *

[Event "Two"]

1. e4 e5 2. Nc3 Nf6 3. f4 *
"""


def entries_of(repertoire: Repertoire, answers: list[Answer]) -> list[AuditEntry]:
    arrays = RepertoireArrays.compile(repertoire)
    return audit_entries(repertoire, arrays, reach(arrays), answers)


def answer(key: int, move: str, grade: Grade, days: int, repertoire_id: int = 1) -> Answer:
    return Answer(
        repertoire_id=repertoire_id,
        key=key,
        move=move,
        played=move,
        grade=grade,
        kind=AnswerKind.DRILL,
        at=NOON + timedelta(days=days),
    )


def test_every_entry_leads_somewhere_with_a_remedy() -> None:
    repertoire = read_repertoire_text(TEXT).repertoire
    root = repertoire.roots[0]
    answers = [answer(root.key, "e2e4", Grade.MISSED, day) for day in range(2)]
    found = entries_of(repertoire, answers)
    said = [(entry.kind, entry.order.text(), entry.remedy) for entry in found]
    assert said == [
        (EntryKind.NO_REASON, "the starting position", Remedy.WRITE_REASON),
        (EntryKind.HOLE, "1 e4 c5", Remedy.ADD_MOVE),
        (EntryKind.DEAD_END, "1 e4 d5 2 exd5", Remedy.ADD_MOVE),
        (EntryKind.CONFLICT, "1 e4 e5", Remedy.CHOOSE_MAIN),
        (EntryKind.DEAD_END, "1 e4 e5 2 Nc3 Nf6 3 f4", Remedy.ADD_MOVE),
    ]
    assert [entry.reach for entry in found] == sorted(
        (entry.reach for entry in found), reverse=True
    )
    assert found[0].sentence == (
        "e4 was missed 2 times out of 2, and no note says why it is played."
    )
    assert found[1].sentence == "Nothing is prepared against c5."
    assert found[3].sentence == "Nf3 and Nc3 are both prepared as the main move."
    checked = audit(repertoire)
    assert {entry.node for entry in found if entry.remedy is Remedy.ADD_MOVE} == {
        *checked.dead_ends,
        *(edge.child for edge in checked.holes),
    }
    # A note, or answers that are right more often, and the entry is gone.
    root.edges[0].comments = ("space",)
    assert EntryKind.NO_REASON not in {entry.kind for entry in entries_of(repertoire, answers)}
    root.edges[0].comments = ()
    answers += [answer(root.key, "e2e4", Grade.CLEAN, day) for day in range(2, 9)]
    assert EntryKind.NO_REASON not in {entry.kind for entry in entries_of(repertoire, answers)}


def test_a_reply_that_is_played_and_not_prepared_for() -> None:
    editor = Editor(read_repertoire_text(TEXT))
    repertoire = editor.repertoire
    node = node_after(repertoire, "e4")
    counts = ReplyCounts(
        {node.key: {"c7c5": 2, "c7c6": 2}}, {node.key: {"c7c6": 1_200, "g7g6": 300}}
    )
    measured = Measured(counts, 4.0)
    arrays = RepertoireArrays.compile(repertoire)
    reached = reach(arrays, measured.shares(arrays))
    entries = audit_entries(
        repertoire, arrays, reached, unprepared=measured.worth_meeting(arrays, reached)
    )
    first, second = (one for one in entries if one.kind is EntryKind.UNPREPARED)
    assert first.node is second.node is node
    assert first.order.text() == "1 e4 c6"
    assert first.sentence == (
        "Nothing is prepared against c6, played in 2 of 4 games of yours and in 1,200 of 1,500 "
        "games of the base."
    )
    assert second.sentence == (
        "Nothing is prepared against g6, played in 300 of 1,500 games of the base."
    )
    # 2 + 4 · 1,200 / 1,504 of 4 own games and 4 of the base's.
    assert first.reach == pytest.approx((2 + 4 * 1200 / 1504) / 8)
    assert (first.remedy, second.remedy) == (Remedy.ADD_REPLY, Remedy.ADD_REPLY)
    assert first.board().fen().startswith("rnbqkbnr/pp1ppppp/2p5/8/4P3/")
    assert entries[0].kind is EntryKind.UNPREPARED
    # Once it is listed it is a hole.
    editor.do(edits.AddMove.at(node, "c6"))
    arrays = RepertoireArrays.compile(repertoire)
    left = measured.worth_meeting(arrays, reach(arrays, measured.shares(arrays)))
    assert [one.move.uci() for one in left] == ["g7g6"]
    assert any(
        one.sentence == "Nothing is prepared against c6." for one in entries_of(repertoire, [])
    )


def test_a_line_is_too_long_where_hardly_a_game_comes() -> None:
    # Each of the first five replies shares with three others: 1/4 of the reach each time.
    editor = Editor(read_repertoire_text('[RepertoireSide "White"]\n\n1. e4 *'))
    node = node_after(editor.repertoire, "e4")
    line = "e5 Nf3 Nc6 Bb5 a6 Ba4 Nf6 O-O Be7 Re1 b5 Bb3 d6 c3 O-O h3 Nb8 d4 Nbd7"
    for ply, san in enumerate(line.split()):
        board = node.board()
        result = editor.do(edits.AddMove.at(node, san))
        assert isinstance(result, edits.Added)
        if ply % 2 == 0 and ply < 10:
            for move in [one for one in board.legal_moves if one != result.edge.move][:3]:
                editor.do(edits.AddMove.at(node, move))
        node = result.edge.child
    repertoire = editor.repertoire
    found = [one for one in entries_of(repertoire, []) if one.kind is EntryKind.TOO_LONG]
    (entry,) = found
    assert entry.order.text() == "1 e4 e5 2 Nf3 Nc6 3 Bb5 a6 4 Ba4 Nf6 5 O-O Be7"
    assert entry.reach == pytest.approx(4.0**-5)
    assert entry.remedy is Remedy.CUT_LINE
    editor.do(edits.DeleteMove(entry.edges[0].parent.key, entry.edges[0].move.uci()))
    assert not [one for one in entries_of(repertoire, []) if one.kind is EntryKind.TOO_LONG]


def test_only_a_changed_main_move_starts_its_memory_afresh(tmp_path: Path) -> None:
    path = tmp_path / "rep.pgn"
    path.write_text(TEXT.replace("2. Nc3 Nf6 3. f4", "2. Nf3 Nf6 3. d4"), encoding="utf-8")
    clock = lambda: NOON  # noqa: E731

    def course(store: ProgressStore) -> Course:
        return Course(
            read_repertoire(path),
            store,
            Settings(),
            clock=clock,
            days=StudyDays(),
            rng=random.Random(1),
        )

    with ProgressStore.open(tmp_path / "progress.sqlite", clock=clock) as store:
        opened = course(store)
        decisions = opened.repertoire.decisions()
        for node in decisions:
            move = node.edges[0].move.uci()
            store.record(answer(node.key, move, Grade.CLEAN, 0, opened.repertoire_id))
        before = course(store)
        seen = before.states.table(before.arrays)
        assert int(seen.seen.sum()) == len(decisions)

        # Renaming, moving and noting: the same memory of every decision.
        editor = Editor(read_repertoire(path))
        node = node_after(editor.repertoire, "e4 e5 Nf3")
        for edit in (
            edits.SetTitle(0, "Renamed"),
            edits.MoveSection(0, 1),
            edits.SetOrder(node.key, tuple(e.move.uci() for e in reversed(node.edges))),
            edits.SetComments(node.key, node.edges[0].move.uci(), ("A note",)),
            edits.AddMove.at(node_after(editor.repertoire, "e4 e5"), "Bc4"),
        ):
            editor.do(edit)
        editor.save()
        after = course(store)
        assert after.repertoire_id == before.repertoire_id
        assert [section.title for section in after.repertoire.sections] == ["Two", "Renamed"]
        table = after.states.table(after.arrays)
        for one in decisions:
            old = seen.stability[before.arrays.number_of[one.key]]
            assert table.stability[after.arrays.number_of[one.key]] == old

        # Another main move: not seen any more; the old move keeps its state and its answers.
        decision = node_after(editor.repertoire, "e4 e5")
        editor.do(edits.MakeMain(decision.key, "f1c4"))
        editor.save()
        changed = course(store)
        table = changed.states.table(changed.arrays)
        assert not table.seen[changed.arrays.number_of[decision.key]]
        assert int(table.seen.sum()) == len(decisions) - 1
        assert changed.states.get(decision.key, "f1c4") is None
        assert changed.states.get(decision.key, "g1f3") == before.states.get(decision.key, "g1f3")
        assert len(store.answers(changed.repertoire_id)) == len(decisions)

        # Undone, the memory is there again.
        editor.undo()
        editor.save()
        again = course(store)
        assert int(again.states.table(again.arrays).seen.sum()) == len(decisions)
