"""Saving, the journal, and what the rest of the window makes of an edited repertoire."""

from __future__ import annotations

import os
import sqlite3
import threading
import time
from datetime import timedelta
from pathlib import Path

import chess
import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFileDialog, QLabel, QToolButton

from tests.ui.drilling import answer_typed
from tests.ui.workshop_window import CROSSED, Player
from trainer.repertoire.order_graph import OrderGraph
from trainer.repertoire.orders import MoveOrder
from trainer.repertoire.reader import read_repertoire
from trainer.repertoire.shortcuts import find_shortcuts
from trainer.repertoire.workshop import edits
from trainer.repertoire.workshop.findings import AuditEntry, EntryKind, Remedy
from trainer.resources import repertoire_path
from trainer.storage.locations import find_locations
from trainer.storage.reply_counts import ReplyCounts
from trainer.ui.drill.controller import Stage
from trainer.ui.main_window import DEMO
from trainer.ui.orders.edits import AddShortcut, ResolveConflict

DISPUTED = """[Event "One"]
[RepertoireSide "White"]

1. Nf3 d5 2. g3 *

[Event "Other"]
[RepertoireSide "White"]

1. Nf3 d5 2. d4 *
"""


def journal_of(path: Path) -> Path:
    return find_locations().journal_file(path)


def crash(player: Player) -> None:
    """The process ends without closing anything: nothing is saved and nothing is asked."""
    window = player.window
    assert window.desk is not None
    window.desk.bench._flush.stop()
    window.desk.bench = None
    window.close()


# -- saving --------------------------------------------------------------------------------------


def test_saving_makes_a_file_with_the_same_positions(player: Player, crossed: Path) -> None:
    window = player.start(crossed)
    player.edit("d3", "e5", "e4")
    assert journal_of(crossed).exists()
    player.qtbot.keyClick(player.page.lines, Qt.Key.Key_S, Qt.KeyboardModifier.ControlModifier)
    player.page.command.emit("save")
    player.rest()
    assert set(read_repertoire(crossed).repertoire.nodes) == set(player.repertoire.nodes)
    assert window.windowTitle() == "Two Doors — Stemline"
    assert not window._workshop.actions["save"].isEnabled()
    # Steps before the saving can still be undone, which makes it unsaved again.
    player.menu("undo")
    assert window.windowTitle() == "Two Doors (not saved) — Stemline"
    player.menu("redo")
    assert window.windowTitle() == "Two Doors — Stemline"
    window.close()
    assert not journal_of(crossed).exists()


def test_a_file_that_another_program_changed_is_not_overwritten(
    player: Player, crossed: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    player.start(crossed)
    player.edit("d3", "e5")
    theirs = CROSSED + '\n[Event "Theirs"]\n[RepertoireSide "White"]\n\n1. e4 *\n'
    crossed.write_text(theirs, encoding="utf-8")
    player.boxes.press("Cancel")
    player.save()
    assert "was changed by another program" in player.boxes.said[-1]
    assert crossed.read_text() == theirs
    assert player.desk.unsaved
    other = tmp_path / "mine.pgn"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(other), ""))
    player.boxes.press("Save as another file …")
    player.save()
    player.rest()
    assert crossed.read_text() == theirs
    assert set(read_repertoire(other).repertoire.nodes) == set(player.repertoire.nodes)
    assert player.window.windowTitle() == "Mine — Stemline"
    assert player.window.course.path == other
    assert player.window.settings.last_file == str(other)
    # From now on the journal is that of the new file.
    player.type("g3")
    assert journal_of(other).exists()
    assert not journal_of(crossed).exists()


def test_reading_anew_gives_up_the_edits(player: Player, crossed: Path) -> None:
    window = player.start(crossed)
    player.edit("d3", "e5")
    crossed.write_text(DISPUTED, encoding="utf-8")
    player.boxes.press("Read the file anew")
    with player.qtbot.waitSignal(window.ready, timeout=20_000):
        window.desk.save()
    assert [section.title for section in window.course.repertoire.sections] == ["One", "Other"]
    assert not player.desk.unsaved
    assert not journal_of(crossed).exists()
    player.rest()


def test_what_was_not_read_is_not_lost_in_silence(player: Player, tmp_path: Path) -> None:
    path = tmp_path / "damaged.pgn"
    text = CROSSED.replace("3. g3 *", "3. Ke4 *")
    path.write_text(text, encoding="utf-8")
    player.start(path)
    player.edit("e4")
    player.boxes.press("Cancel")
    player.save()
    assert "1 place of damaged.pgn could not be read" in player.boxes.said[0]
    assert path.read_text() == text
    player.boxes.press("Save all the same")
    player.save()
    assert not player.desk.unsaved
    assert path.with_name("damaged.pgn.bak").read_text() == text


def test_the_shipped_demo_is_saved_elsewhere(
    player: Player, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    demo = repertoire_path(DEMO)
    before = demo.read_bytes()
    player.start(demo)
    player.edit("h4")
    own = tmp_path / "own"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(own), ""))
    player.save()
    assert demo.read_bytes() == before
    assert own.with_suffix(".pgn").exists()


def test_a_name_that_is_completed_never_writes_over_a_file(
    player: Player, crossed: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    player.start(crossed)
    player.edit("d3", "e5")
    taken = tmp_path / "taken.pgn"
    taken.write_text("mine", encoding="utf-8")
    monkeypatch.setattr(
        QFileDialog, "getSaveFileName", lambda *_: (str(taken.with_suffix("")), "")
    )
    player.boxes.press("OK")
    player.desk.save_as()
    assert "There is a file taken.pgn already" in player.boxes.said[0]
    assert taken.read_text() == "mine"
    assert player.desk.unsaved


def test_closing_asks_and_can_be_called_off(player: Player, crossed: Path) -> None:
    window = player.start(crossed)
    player.edit("d3", "e5")
    player.boxes.press("Cancel")
    window.close()
    player.qtbot.waitUntil(lambda: len(player.boxes.said) == 1)
    assert "two-doors.pgn has edits that are not saved" in player.boxes.said[0]
    assert window.isVisible()
    player.boxes.press("Save")
    window.close()
    player.qtbot.waitUntil(lambda: not window.isVisible())
    assert "e5" in crossed.read_text()
    assert not journal_of(crossed).exists()


def test_closing_can_discard(player: Player, crossed: Path) -> None:
    window = player.start(crossed)
    player.edit("d3", "e5")
    player.boxes.press("Discard")
    window.close()
    player.qtbot.waitUntil(lambda: not window.isVisible())
    assert crossed.read_text() == CROSSED
    assert not journal_of(crossed).exists()


def test_closing_takes_in_the_note_that_is_being_typed(player: Player, crossed: Path) -> None:
    window = player.start(crossed)
    player.edit("d3", "d5")
    player.letter("w")
    player.write("Half a thou")
    player.boxes.press("Save")
    window.close()
    player.qtbot.waitUntil(lambda: not window.isVisible())
    assert "{Half a thou}" in crossed.read_text()


def test_opening_another_file_asks_first(player: Player, crossed: Path, small: Path) -> None:
    window = player.start(crossed)
    player.edit("d3", "e5")
    player.boxes.press("Cancel")
    window.open(small)
    player.qtbot.waitUntil(lambda: len(player.boxes.said) == 1)
    player.rest()
    assert window.course.path == crossed
    player.boxes.press("Save")
    with player.qtbot.waitSignal(window.ready, timeout=20_000):
        window.open(small)
    player.rest()
    assert window.course.path == small
    assert "e5" in crossed.read_text()
    # The workshop is that of the new file, and what was open before is taken apart.
    player.edit("d3")
    assert player.lines() == ["1…d5"]
    assert player.desk.undoable == ""


# -- the journal ---------------------------------------------------------------------------------


def test_edits_come_back_after_a_crash(player: Player, crossed: Path) -> None:
    player.start(crossed)
    player.edit("d3", "e5", "e4")
    player.letter("w")
    player.write("Why.")
    player.qtbot.waitUntil(lambda: not player.page.note.dirty, timeout=3000)
    player.rest()
    crash(player)
    player.boxes.press("Bring back")
    window = player.start(crossed)
    assert "3 edits of two-doors.pgn were not saved" in player.boxes.said[0]
    assert window.windowTitle() == "Two Doors (not saved) — Stemline"
    player.edit("d3", "e5", "e4")
    assert player.page.note.toPlainText() == "Why."
    assert window._workshop.actions["undo"].text() == "&Undo a comment"
    for _ in range(3):
        player.menu("undo")
    assert not player.desk.unsaved
    assert crossed.read_text() == CROSSED


def test_edits_after_a_saving_come_back(player: Player, crossed: Path) -> None:
    player.start(crossed)
    player.edit("d3", "e5")
    player.save()
    player.type("e4")
    crash(player)
    player.boxes.press("Bring back")
    window = player.start(crossed)
    assert "1 edit of two-doors.pgn was not saved" in player.boxes.said[0]
    assert window.course.repertoire is window.desk.bench.repertoire
    player.edit("d3", "e5", "e4")
    assert len(player.desk.bench.editor._done) == 2
    player.save()
    saved = read_repertoire(crossed).repertoire
    assert set(saved.nodes) == set(player.repertoire.nodes)


def test_edits_are_kept_for_later_or_given_up(player: Player, crossed: Path) -> None:
    player.start(crossed)
    player.edit("d3", "e5")
    crash(player)
    player.boxes.press("Keep for later")
    window = player.start(crossed)
    assert not player.desk.unsaved
    window.close()
    assert journal_of(crossed).exists()
    player.boxes.press("Give up")
    player.start(crossed)
    assert not journal_of(crossed).exists()
    player.edit("d3")
    assert player.lines() == ["1…d5", "1…c5", "1…Nf6"]


def test_a_step_that_was_undone_is_not_offered(player: Player, crossed: Path) -> None:
    player.start(crossed)
    player.edit("d3", "e5")
    player.menu("undo")
    crash(player)
    player.start(crossed)
    assert player.boxes.said == []
    player.edit("d3", "c6")
    assert player.desk.unsaved


def test_edits_of_a_file_that_was_changed_since_are_kept_aside(
    player: Player, crossed: Path
) -> None:
    player.start(crossed)
    player.edit("d3", "e5")
    crash(player)
    crossed.write_text(DISPUTED, encoding="utf-8")
    player.boxes.press("Bring back", "OK")
    player.start(crossed)
    assert "cannot be brought back, because" in player.boxes.said[1]
    kept = list(journal_of(crossed).parent.glob("*.kept-1"))
    assert len(kept) == 1
    assert str(kept[0]) in player.boxes.said[1]


def test_a_journal_that_cannot_be_written_is_told_and_editing_goes_on(
    player: Player, crossed: Path
) -> None:
    player.start(crossed)
    folder = journal_of(crossed).parent
    folder.parent.mkdir(parents=True, exist_ok=True)
    folder.write_text("a file where the folder ought to be")
    player.edit("d3", "e5")
    assert "e5" in player.page.heading.text()
    said = player.window.statusBar().currentMessage()
    assert said.startswith("The journal of unsaved edits")
    assert said.endswith("Editing goes on, but a crash would now lose what is not saved.")
    assert player.page.state.text() == "Not saved, and a crash would lose it"
    player.type("e4")
    assert player.page.heading.text() == "2 e4"
    player.menu("undo")
    player.save()
    assert "e5" in crossed.read_text()


def test_the_journal_goes_to_the_disk_by_itself(player: Player, crossed: Path) -> None:
    player.start(crossed)
    player.edit("d3", "e5")
    editor = player.desk.bench.editor
    player.qtbot.waitUntil(lambda: not editor._journal._dirty, timeout=5000)
    player.rest()


# -- the rest of the window ----------------------------------------------------------------------


def test_the_drill_asks_what_was_added(player: Player, crossed: Path) -> None:
    window = player.start(crossed)
    graph = window.course.repertoire
    asked = len(window.course.arrays.nodes)
    player.edit("d3", "e5", "e4", "Nf6", "Nc3")
    player.key(Qt.Key.Key_Escape)
    assert window.places.current() is window.today
    player.rest()
    assert window.course.repertoire is graph  # the file was not read again
    assert len(window.course.arrays.nodes) == asked + 4
    node = graph.roots[0].edges[0].child.edges[-1].child
    with player.qtbot.waitSignal(window.drills.controller.asked, timeout=20_000):
        window.drill_positions([node])
    assert window.drills.controller.stage is Stage.ASKING
    answer_typed(player.qtbot, window, "e4")
    assert window.drills.view.panel.verdict.text() == "Right."
    window.drills.controller.leave()
    player.rest()


def test_a_drill_that_is_started_from_the_page_knows_the_edits(
    player: Player, crossed: Path
) -> None:
    window = player.start(crossed)
    player.edit("d3", "d5")
    player.letter("w")
    player.write("Typed to the end")
    with player.qtbot.waitSignal(window.drills.controller.asked, timeout=20_000):
        window.start_drill()
    edge = window.course.repertoire.roots[0].edges[0].child.edges[0]
    assert edge.comments == ("Typed to the end",)
    assert not player.desk.is_stale
    # Nothing can be edited while a drill runs.
    window._workshop.actions["undo"].trigger()
    window.edit_here()
    assert window.places.current() is window.drills.view
    assert edge.comments == ("Typed to the end",)
    window.drills.controller.leave()
    player.rest()


def answers_of(path: Path) -> list[tuple[str, str]]:
    connection = sqlite3.connect(find_locations().progress_file)
    rows = connection.execute("SELECT move, grade FROM answers ORDER BY id").fetchall()
    connection.close()
    return rows


def answer(player: Player, *typed: str) -> None:
    """Drill the first decision and answer it."""
    window = player.window
    with player.qtbot.waitSignal(window.drills.controller.asked, timeout=20_000):
        window.drill_positions([window.course.repertoire.roots[0]])
    for text in typed:
        answer_typed(player.qtbot, window, text)
    window.drills.controller.leave()
    player.qtbot.waitUntil(window.drills.summary.isVisible)
    window.show_today()
    player.rest()


def known(player: Player, move: str) -> bool:
    """Whether there is a memory of a move at the start."""
    course = player.window.course
    key = course.repertoire.roots[0].key
    return course.states.get(key, move) is not None


def test_a_changed_move_begins_afresh_and_keeps_the_old_log(player: Player, small: Path) -> None:
    window = player.start(small)
    answer(player, "d3")
    assert known(player, "d2d3")
    log = answers_of(small)
    assert log == [("d2d3", "clean")]
    # Renaming and reordering change nothing of it.
    player.desk.do(edits.SetTitle(0, "Another name"))
    player.edit("e4")
    player.key(Qt.Key.Key_Escape)
    player.rest()
    assert known(player, "d2d3")
    player.edit()
    player.key(Qt.Key.Key_Down)
    player.letter("m")
    player.key(Qt.Key.Key_Escape)
    player.rest()
    root = window.course.repertoire.roots[0]
    assert [edge.san for edge in root.edges] == ["e4", "d3"]
    assert not known(player, "e2e4")  # the new main move is new
    assert known(player, "d2d3")
    # The old move is deleted: its log stays, and comes to life with it.
    player.edit()
    player.key(Qt.Key.Key_Down)
    player.boxes.press("Delete")
    player.key(Qt.Key.Key_Delete)
    player.qtbot.waitUntil(lambda: len(player.boxes.said) == 1)
    player.rest()
    player.save()
    player.key(Qt.Key.Key_Escape)
    player.rest()
    answer(player, "e4")
    assert answers_of(small) == [*log, ("e2e4", "clean")]
    assert known(player, "e2e4")
    player.menu("undo")
    player.key(Qt.Key.Key_Escape)
    player.rest()
    assert known(player, "d2d3")
    assert window.course.repertoire_id == 1


def test_the_map_shows_what_was_edited_and_leads_back(player: Player, crossed: Path) -> None:
    window = player.start(crossed)
    window.places.go(1)
    player.qtbot.waitUntil(lambda: window.rooms.map.chosen_node is not None, timeout=20_000)
    player.qtbot.keyClick(window.rooms.map.canvas, Qt.Key.Key_Right)
    player.qtbot.keyClick(window.rooms.map.canvas, Qt.Key.Key_E)
    assert window.places.current() is player.page
    assert player.page.heading.text() == "1 d3"
    player.type("e5")
    player.key(Qt.Key.Key_Escape)
    assert window.places.current() is window.rooms.map
    assert not window.places.bar.isHidden()
    player.rest()
    plan = window.rooms.map._scene.plan
    # It stands where the player was on the page.
    assert window.rooms.map.chosen_node.edges == []
    assert window.rooms.map.chosen_node.entries[0].san == "e5"
    window.rooms.map.choose_node(player.repertoire.roots[0].edges[0].child)
    player.rest()
    assert len(plan.arrays.nodes) == len(player.repertoire.nodes)
    # The button leads there as well.
    window.rooms.map.bar.edit.click()
    assert player.page.heading.text() == "1 d3"
    player.page.back.click()
    assert window.places.current() is window.rooms.map
    # Undone from the map, the step is shown where it was made.
    player.menu("undo")
    assert window.places.current() is player.page
    assert player.page.heading.text() == "1 d3"
    player.key(Qt.Key.Key_Escape)
    player.rest()


def test_the_position_box_and_the_summary_lead_there(player: Player, small: Path) -> None:
    window = player.start(small)
    with player.qtbot.waitSignal(window.drills.controller.asked, timeout=20_000):
        window.drill_positions([window.course.repertoire.roots[0]])
    answer_typed(player.qtbot, window, "h4")
    window.drills.controller.leave()
    player.qtbot.waitUntil(window.drills.summary.isVisible)
    player.boxes.press("Edit here")
    window.drills.summary.missed.findChildren(QToolButton)[0].click()
    player.qtbot.waitUntil(lambda: window.places.current() is player.page)
    assert player.page.heading.text() == "The quiet system"
    player.boxes.press("Delete")
    player.key(Qt.Key.Key_Delete)
    player.qtbot.waitUntil(lambda: player.lines() == [])
    player.key(Qt.Key.Key_Escape)
    assert window.places.current() is window.drills.summary
    player.rest()
    # What is not there any more is not shown, and nothing breaks.
    window.drills.summary.missed.findChildren(QToolButton)[0].click()
    assert "not in the repertoire any more" in window.statusBar().currentMessage()
    window.drills.summary.edit_button.click()
    assert window.places.current() is player.page
    player.key(Qt.Key.Key_Escape)


def test_a_shortcut_is_added_and_a_conflict_settled_from_the_move_orders(
    player: Player, crossed: Path, tmp_path: Path
) -> None:
    window = player.start(crossed)
    window.places.go(2)
    player.rest()
    graph = OrderGraph(window.course.repertoire)
    shortcut = next(one for one in find_shortcuts(graph) if one.via is not None)
    before = window.course
    window.rooms.orders.edit_wanted.emit(AddShortcut(shortcut))
    player.rest()
    assert shortcut.node.edge_for(shortcut.move) is not None
    assert "Ctrl+Z takes it back" in window.statusBar().currentMessage()
    assert window.course is not before
    assert window.rooms.orders._course is window.course
    player.menu("undo")  # one step, both moves
    assert shortcut.node.edge_for(shortcut.move) is None
    player.key(Qt.Key.Key_Escape)
    player.rest()
    player.desk.clear()
    disputed = tmp_path / "disputed.pgn"
    disputed.write_text(DISPUTED, encoding="utf-8")
    with player.qtbot.waitSignal(window.ready, timeout=20_000):
        window.open(disputed)
    player.rest()
    node = window.course.repertoire.conflicts()[0]
    window.places.go(2)
    player.rest()
    window.rooms.orders.edit_wanted.emit(ResolveConflict(node, node.edges[1]))
    player.rest()
    assert window.course.repertoire.conflicts() == []
    assert [edge.san for edge in node.edges] == ["d4", "g3"]


# -- to be put right -----------------------------------------------------------------------------


def test_what_is_to_be_put_right_leads_to_the_board(player: Player, crossed: Path) -> None:
    window = player.start(crossed)
    assert window.today.put_right_button.isVisible()
    assert window.today.put_right_button.text().endswith(" to put right")
    number = len(player.desk.findings.entries)
    player.qtbot.mouseClick(window.today.put_right_button, Qt.MouseButton.LeftButton)
    listed = player.desk.list
    assert window.places.current() is listed
    hole = listed.list.entries.entry(0)
    assert hole.kind is EntryKind.HOLE
    reached = [entry.reach for entry in player.desk.findings.entries]
    assert reached == sorted(reached, reverse=True)
    player.qtbot.keyClick(listed.list, Qt.Key.Key_Return)
    assert window.places.current() is player.page
    assert player.page.heading.text() == "1…c5"
    assert player.page.remark.text().startswith("Nothing is prepared against c5.")
    assert player.page.entry.hasFocus()
    player.type("e4")
    player.qtbot.waitUntil(lambda: len(player.desk.findings.entries) != number, timeout=5000)
    player.rest()
    player.key(Qt.Key.Key_Escape)
    assert window.places.current() is listed
    assert hole.node not in [entry.node for entry in player.desk.findings.entries]
    player.qtbot.keyClick(listed, Qt.Key.Key_Escape)
    assert window.places.current() is window.today
    player.rest()


@pytest.mark.parametrize("notation", ["letters", "figurines"])
def test_a_reply_that_is_played_is_added_from_the_list(
    player: Player, crossed: Path, notation: str
) -> None:
    window = player.start(crossed, notation=notation)
    node = player.repertoire.roots[0].edges[0].child
    number = len(player.desk.findings.entries)
    window.course.use_replies(ReplyCounts({node.key: {"d7d5": 3, "b8c6": 3}}))
    window.rooms.reach_measured.emit()
    player.qtbot.waitUntil(lambda: len(player.desk.findings.entries) > number, timeout=5000)
    player.rest()
    player.qtbot.mouseClick(window.today.put_right_button, Qt.MouseButton.LeftButton)
    listed = player.desk.list
    kinds = [listed.kinds.itemText(row) for row in range(listed.kinds.count())]
    assert "Unprepared replies (1)" in kinds
    listed.kinds.setCurrentIndex(kinds.index("Unprepared replies (1)"))
    listed.kinds.activated.emit(listed.kinds.currentIndex())
    # Nothing is edited by looking: Enter leads there, once more adds the reply.
    player.qtbot.keyClick(listed.list, Qt.Key.Key_Return)
    assert window.places.current() is player.page
    said = player.page.remark.text()
    assert "played in 3 of 6 games of yours. Enter adds it to the line" in said
    assert player.page.entry.text() == ("♘c6" if notation == "figurines" else "Nc6")
    assert player.page.entry.hasFocus()
    assert node.edge_for(chess.Move.from_uci("b8c6")) is None
    # It stands there only as long as the board does.
    player.page.lines.setFocus()
    player.key(Qt.Key.Key_Left)
    assert player.page.entry.text() == ""
    player.key(Qt.Key.Key_Escape)
    assert window.places.current() is listed
    player.qtbot.keyClick(listed.list, Qt.Key.Key_Return)
    player.qtbot.keyClick(player.page.entry, Qt.Key.Key_Return)
    player.rest()
    added = node.edge_for(chess.Move.from_uci("b8c6"))
    assert added is not None
    assert player.page.asked.text().startswith("Nothing is prepared here")
    player.type("e4")
    assert [edge.san for edge in added.child.edges] == ["e4"]
    player.menu("undo")
    player.menu("undo")
    assert node.edge_for(chess.Move.from_uci("b8c6")) is None


def test_a_conflict_is_settled_from_the_list(player: Player, tmp_path: Path) -> None:
    path = tmp_path / "disputed.pgn"
    path.write_text(DISPUTED, encoding="utf-8")
    player.start(path)
    player.menu("put right")
    entry = next(one for one in player.desk.findings.entries if one.kind is EntryKind.CONFLICT)
    player.desk.list.opened.emit(entry)
    assert "press M" in player.page.remark.text()
    assert player.page.lines.line(1).role == "accepted alternative, claimed as the main move"
    player.key(Qt.Key.Key_Down)
    player.letter("m")
    assert player.repertoire.conflicts() == []
    assert player.lines() == ["2 d4", "2 g3"]


# -- never beside other work ---------------------------------------------------------------------


def test_an_edit_waits_for_work_that_reads_the_graph(player: Player, crossed: Path) -> None:
    window = player.start(crossed)
    player.edit("d3")
    begun, go_on = threading.Event(), threading.Event()
    seen: list[list[str]] = []
    node = player.repertoire.roots[0].edges[0].child

    def reading(_control: object) -> None:
        begun.set()
        moves = [edge.san for edge in node.edges]
        go_on.wait(5)
        seen.append(moves)
        seen.append([edge.san for edge in node.edges])

    window._runner.start(reading, done=lambda _none: None, failed=print)
    player.qtbot.waitUntil(begun.is_set)
    asked = time.monotonic()
    player.page.played.emit(chess.Move.from_uci("e7e5"))
    assert time.monotonic() - asked < 4  # nobody waited
    assert len(node.edges) == 3
    assert player.desk.is_stale
    go_on.set()
    player.rest()
    assert seen[0] == seen[1] == ["d5", "c5", "Nf6"]
    assert [edge.san for edge in node.edges] == ["d5", "c5", "Nf6", "e5"]
    assert player.page.heading.text() == "1…e5"


def test_a_window_that_reads_only_does_not_edit(player: Player, crossed: Path) -> None:
    first = player.start(crossed)
    player.edit("d3", "e5")
    player.boxes.press("Read only")
    second = player.start(crossed)
    assert second is not first
    player.edit("d3")
    assert player.lines() == ["1…d5", "1…c5", "1…Nf6"]
    player.type("e5")
    assert "Another Stemline window is open" in player.page.remark.text()
    assert player.lines() == ["1…d5", "1…c5", "1…Nf6"]
    second.close()
    assert journal_of(crossed).exists()  # it is the first one's


# -- notes, remedies and what no file keeps ------------------------------------------------------


def test_plans_and_tricks_are_shown_as_such_in_the_drill(player: Player, crossed: Path) -> None:
    window = player.start(crossed)
    player.edit("d3")
    player.letter("t")
    player.write("1...e5 2 f4?")
    player.qtbot.keyClick(player.page.note, Qt.Key.Key_Escape)
    player.key(Qt.Key.Key_Escape)
    player.rest()
    with player.qtbot.waitSignal(window.drills.controller.asked, timeout=20_000):
        window.drill_positions([window.course.repertoire.roots[0]])
    answer_typed(player.qtbot, window, "d3")
    panel = window.drills.view.panel
    assert panel.note.text() == "The modest start."
    assert panel.plan.text() == "Nf3, g3 and Bg2."
    assert panel.trick.text() == "1...e5 2 f4?"
    shown = [label.text() for label in panel.findChildren(QLabel) if label.isVisible()]
    assert shown.index("Plan") < shown.index("Trick")
    window.drills.controller.leave()
    player.rest()


def test_text_before_the_move(player: Player, crossed: Path) -> None:
    player.start(crossed)
    player.edit("d3", "d5")
    assert player.page.before.isHidden()
    player.menu("before")
    assert player.page.before.hasFocus()
    player.qtbot.keyClicks(player.page.before, "Now the main line.")
    player.qtbot.keyClick(player.page.before, Qt.Key.Key_Escape)
    player.rest()
    assert player.repertoire.roots[0].edges[0].child.edges[0].before == ("Now the main line.",)
    player.key(Qt.Key.Key_Left)
    assert player.page.before.isHidden()
    player.key(Qt.Key.Key_Right)
    assert player.page.before.toPlainText() == "Now the main line."


def test_a_move_that_is_missed_again_and_again_wants_a_reason(
    player: Player, crossed: Path
) -> None:
    window = player.start(crossed)
    node = window.course.repertoire.roots[0].edges[0].child.edges[0].child
    for _ in range(2):
        with player.qtbot.waitSignal(window.drills.controller.asked, timeout=20_000):
            window.drill_positions([node])
        answer_typed(player.qtbot, window, "h4")
        window.drills.controller.leave()
        player.qtbot.waitUntil(window.drills.summary.isVisible)
        window.show_today()
        player.rest()
        player.later += timedelta(days=2)  # a miss in the same sitting counts once
    player.desk._look_through()
    player.rest()
    kinds = [entry.kind for entry in player.desk.findings.entries]
    entry = player.desk.findings.entries[kinds.index(EntryKind.NO_REASON)]
    player.menu("put right")
    player.desk.list.opened.emit(entry)
    assert "Nf3 was missed 2 times out of 2" in player.page.remark.text()
    assert player.page.heading.text() == "2 Nf3"
    assert player.page.note.hasFocus()
    player.write("It keeps f4 in hand.")
    player.qtbot.keyClick(player.page.note, Qt.Key.Key_Escape)
    player.rest()
    player.desk._look_through()
    player.rest()
    assert EntryKind.NO_REASON not in [e.kind for e in player.desk.findings.entries]


def test_a_line_that_is_too_long_is_cut_at_its_beginning(player: Player, crossed: Path) -> None:
    window = player.start(crossed)
    edge = window.course.repertoire.roots[0].edges[0].child.edges[0]
    entry = AuditEntry(
        EntryKind.TOO_LONG,
        edge.child,
        MoveOrder(("d3", "d5")),
        0.0005,
        "The line goes on for 12 half-moves.",
        Remedy.CUT_LINE,
        (edge,),
    )
    player.menu("put right")
    player.desk.list.opened.emit(entry)
    assert player.page.heading.text() == "1 d3"
    assert player.page.lines.currentRow() == 0
    assert player.page.lines.hasFocus()
    assert "Delete takes away the chosen line" in player.page.remark.text()


def test_the_list_shows_one_kind_and_takes_the_next_after_a_remedy(
    player: Player, tmp_path: Path
) -> None:
    path = tmp_path / "holes.pgn"
    path.write_text(
        '[Event "Holes"]\n[RepertoireSide "White"]\n\n1. e4 e5 (1... c5) (1... e6) (1... c6) *\n',
        encoding="utf-8",
    )
    player.start(path)
    player.menu("put right")
    listed = player.desk.list
    assert [listed.kinds.itemText(n) for n in range(listed.kinds.count())] == [
        "Everything (4)",
        "Holes (4)",
    ]
    player.qtbot.keyClick(listed.list, Qt.Key.Key_Down)
    player.qtbot.keyClick(listed.list, Qt.Key.Key_Return)
    assert player.page.heading.text() == "1…c5"
    player.type("Nf3")
    player.key(Qt.Key.Key_Escape)
    player.qtbot.waitUntil(lambda: listed.list.entries.rowCount() == 3, timeout=5000)
    # What stands there now is the next one.
    assert listed.list.currentIndex().row() == 1
    player.qtbot.keyClick(listed.list, Qt.Key.Key_Return)
    assert player.page.heading.text() == "1…e6"
    player.rest()


def test_answers_that_no_file_keeps_outlast_an_edit(
    player: Player, small: Path, stemline_home: Path
) -> None:
    find_locations().progress_file.mkdir(parents=True)  # a folder where the file ought to be
    window = player.start(small)
    assert not window.course.keeps_answers
    with player.qtbot.waitSignal(window.drills.controller.asked, timeout=20_000):
        window.drill_positions([window.course.repertoire.roots[0]])
    answer_typed(player.qtbot, window, "d3")
    window.drills.controller.leave()
    player.qtbot.waitUntil(window.drills.summary.isVisible)
    window.show_today()
    player.rest()
    before = window.course
    player.edit("e4")
    player.key(Qt.Key.Key_Escape)
    player.rest()
    assert window.course is not before
    assert known(player, "d2d3")
    assert len(window.course.answers) == 1


def test_the_keys_of_the_workshop_are_listed(player: Player, crossed: Path) -> None:
    player.start(crossed)
    player.edit()
    player.boxes.press("OK")
    player.window.show_keys()
    assert "Keys of the workshop" in player.boxes.said[0]
    assert "Ctrl+Shift+Z" in player.boxes.said[0]


def test_a_damaged_journal_is_told(player: Player, crossed: Path) -> None:
    player.start(crossed)
    player.edit("d3", "e5", "e4")
    crash(player)
    journal = journal_of(crossed)
    lines = journal.read_bytes().split(b"\n")
    journal.write_bytes(b"\n".join([lines[0], lines[1], b"damage", *lines[2:]]))
    player.boxes.press("Bring back", "OK")
    player.start(crossed)
    assert "1 edit of two-doors.pgn was not saved" in player.boxes.said[0]
    assert "is damaged, so only the edits before it" in player.boxes.said[1]
    assert player.desk.unsaved
    player.edit("d3", "e5")
    assert player.lines() == []


def test_a_journal_that_fails_midway_is_told_at_the_step(player: Player, crossed: Path) -> None:
    player.start(crossed)
    player.edit("d3", "e5")
    editor = player.desk.bench.editor
    os.close(editor._journal._handle)  # as when a stick is pulled out
    editor._journal._handle = -1
    player.type("e4")
    assert player.page.heading.text() == "2 e4"
    assert player.page.remark.text().endswith(
        "Editing goes on, but a crash would now lose what is not saved."
    )
    player.menu("undo")
    assert player.page.heading.text() == "1…e5"
    player.save()
    assert "e5" in crossed.read_text()
