"""The page of the workshop in the real window: walking, adding, ordering, deleting, writing."""

from __future__ import annotations

from pathlib import Path

import chess
from PySide6.QtCore import Qt
from PySide6.QtGui import QTextCursor
from PySide6.QtWidgets import QApplication, QLabel

from tests.benchmarks.bench_window import write_repertoire
from tests.ui.boxes import interpreted_texts
from tests.ui.workshop_window import CROSSED, Player
from trainer.repertoire.reader import read_repertoire
from trainer.ui.workshop.paste_dialog import PasteDialog
from trainer.ui.workshop.signs import SignsDialog

CONTROL = Qt.KeyboardModifier.ControlModifier


def test_walking_with_the_arrow_keys(player: Player, crossed: Path) -> None:
    player.start(crossed)
    player.window.edit_here()
    assert player.window.places.current() is player.page
    assert player.window.places.bar.isHidden()
    assert player.page.heading.text() == "The beginning of 2 sections"
    assert player.lines() == ["1 d3"]
    player.key(Qt.Key.Key_Right)
    assert player.page.heading.text() == "1 d3"
    assert player.lines() == ["1…d5", "1…c5", "1…Nf6"]
    player.key(Qt.Key.Key_Down)
    player.key(Qt.Key.Key_Right)
    assert player.page.heading.text() == "1…c5"
    assert player.page.asked.text().startswith("Nothing is prepared here")
    player.key(Qt.Key.Key_Left)
    # The line that was left is chosen.
    assert player.page.lines.currentRow() == 1
    player.key(Qt.Key.Key_Home)
    assert player.page.heading.text() == "The beginning of 2 sections"
    assert player.page.board.board.fen() == chess.STARTING_FEN
    player.key(Qt.Key.Key_Escape)
    assert player.window.places.current() is player.window.today


def test_what_the_page_says_of_a_position(player: Player, crossed: Path) -> None:
    player.start(crossed)
    player.edit("d3", "d5", "Nf3", "Nf6", "g3")
    assert player.page.heading.text() == "3 g3!"
    assert player.page.signs.text() == "good move"
    assert player.page.order.text() == "1 d3 d5 2 Nf3 Nf6 3 g3"
    assert player.page.opening.text() != ""  # named by its position
    assert player.page.note.toPlainText() == "To g2."
    assert player.page.others.text() == "1 other move order leads here."
    player.letter("x")
    assert player.page.order.text() == "1 d3 Nf6 2 Nf3 d5 3 g3"
    player.key(Qt.Key.Key_Left)
    entering = "1 other move order leads here: 1 d3 d5 2 Nf3 Nf6."
    assert player.page.others.text() == entering
    player.edit("d3", "d5", "Nf3")
    line = player.page.lines.line(0)
    assert (line.move, line.role, line.crosses) == ("2…Nf6", "reply", True)
    assert "crossing of 2 move orders" in line.facts
    player.edit("d3", "d5")
    assert [player.page.lines.line(row).role for row in range(2)] == [
        "main move",
        "accepted alternative",
    ]


def test_a_move_by_two_clicks_by_dragging_and_typed(player: Player, crossed: Path) -> None:
    player.start(crossed)
    player.edit("d3")
    player.click(chess.G7)
    player.click(chess.G6)
    assert player.page.heading.text() == "1…g6"
    assert player.page.state.text() == "Not saved"
    qtbot, board = player.qtbot, player.page.board
    start, end = player.point(chess.G2), player.point(chess.G3)
    qtbot.mousePress(board, Qt.MouseButton.LeftButton, pos=start)
    qtbot.mouseMove(board, (start + end) / 2)
    qtbot.mouseMove(board, end)
    qtbot.mouseRelease(board, Qt.MouseButton.LeftButton, pos=end)
    player.rest()
    assert player.page.heading.text() == "2 g3"
    player.type("Bg7")
    assert player.page.heading.text() == "2…Bg7"
    player.type("Ke5")
    assert "Ke5" in player.page.remark.text()
    assert player.page.entry.selectedText() == "Ke5"
    player.page.entry.clear()
    player.key(Qt.Key.Key_Left)
    # A move that is there already is walked, not added.
    edits = len(player.desk.bench.editor._done)
    player.type("Bg7")
    assert player.page.heading.text() == "2…Bg7"
    assert len(player.desk.bench.editor._done) == edits == 3


def test_a_new_move_that_joins_says_so_and_asks_for_nothing(player: Player, crossed: Path) -> None:
    player.start(crossed)
    player.edit("Nf3", "d5", "d3")
    assert player.page.heading.text() == "2 d3"
    assert player.page.remark.text() == "This is the position after 1 d3 d5 2 Nf3."
    assert player.lines() == ["2…Nf6"]
    # A join where nothing goes on: no prompt.
    player.edit("d3", "g6", "g3")
    player.edit("g3")
    assert player.page.asked.text() == "The line ends here. Play a reply of the opponent to go on."
    player.type("g6")
    player.type("d3")
    assert player.page.remark.text() == "This is the position after 1 d3 g6 2 g3."
    assert player.page.asked.isHidden()


def test_typing_on_the_board_goes_to_the_move_line(player: Player, crossed: Path) -> None:
    player.start(crossed)
    player.edit()
    player.page.board.setFocus()
    player.qtbot.keyClicks(player.page.board, "e")
    assert player.page.entry.text() == "e"
    player.qtbot.keyClicks(player.page.entry, "4")
    player.qtbot.keyClick(player.page.entry, Qt.Key.Key_Return)
    player.rest()
    assert player.page.heading.text() == "1 e4"


def test_reordering_and_making_main(player: Player, crossed: Path) -> None:
    player.start(crossed)
    player.edit("d3", "d5")
    assert player.lines() == ["2 Nf3", "2 g3"]
    player.key(Qt.Key.Key_Down, CONTROL)
    assert player.lines() == ["2 g3", "2 Nf3"]
    assert player.page.lines.currentRow() == 1  # it moved with the line
    player.letter("m")
    assert player.lines() == ["2 Nf3", "2 g3"]
    player.letter("m")
    assert player.page.remark.text() == "Nf3 is the main move already."
    player.page.buttons["down"].click()
    player.rest()
    assert player.lines() == ["2 g3", "2 Nf3"]
    player.page.buttons["up"].click()
    player.rest()
    assert player.lines() == ["2 Nf3", "2 g3"]
    player.key(Qt.Key.Key_Up, CONTROL)  # nothing is above it
    assert player.lines() == ["2 Nf3", "2 g3"]
    assert player.desk.undoable == "reordering moves"


def test_undo_and_redo_go_where_the_step_was(player: Player, crossed: Path) -> None:
    window = player.start(crossed)
    before = crossed.read_text()
    player.edit("d3", "e5", "g3")
    player.edit("d3", "d5")
    player.letter("m")
    player.key(Qt.Key.Key_Down, CONTROL)
    player.key(Qt.Key.Key_Home)
    assert window._workshop.actions["undo"].text() == "&Undo reordering moves"
    player.menu("undo")
    assert player.page.heading.text() == "1…d5"
    assert player.page.remark.text() == "Taken back: reordering moves."
    player.menu("undo")
    assert player.page.heading.text() == "1…e5"
    assert player.lines() == []
    player.menu("undo")
    assert player.page.heading.text() == "1 d3"
    assert window._workshop.actions["undo"].text() == "&Undo"
    assert not window._workshop.actions["undo"].isEnabled()
    assert not player.desk.unsaved
    assert window.windowTitle() == "Two Doors — Stemline"
    for _ in range(3):
        player.menu("redo")
    assert player.page.heading.text() == "1…d5"
    assert player.lines() == ["2 g3", "2 Nf3"]
    assert window.windowTitle() == "Two Doors (not saved) — Stemline"
    assert crossed.read_text() == before


def test_the_keys_of_undo_work_on_an_empty_move_line(player: Player, crossed: Path) -> None:
    player.start(crossed)
    player.edit("d3", "e5")
    player.page.entry.setFocus()
    player.qtbot.keyClick(player.page.entry, Qt.Key.Key_Z, CONTROL)
    player.rest()
    assert player.page.heading.text() == "1 d3"


def test_deleting_tells_what_goes_and_what_stays(player: Player, crossed: Path) -> None:
    player.start(crossed)
    player.edit("d3")
    count = len(player.repertoire.nodes)
    player.boxes.press("Keep")
    player.key(Qt.Key.Key_Delete)
    player.qtbot.waitUntil(lambda: len(player.boxes.said) == 1)
    # Behind 1…d5 are seven positions; those after 2 Nf3 Nf6 are reached by the second door.
    assert (
        "Deleting d5 takes away 3 positions; 4 behind it stay, because other move orders reach "
        "them." in player.boxes.said[0]
    )
    assert len(player.repertoire.nodes) == count
    player.boxes.press("Delete")
    player.key(Qt.Key.Key_Delete)
    player.qtbot.waitUntil(lambda: len(player.boxes.said) == 2)
    player.rest()
    assert len(player.repertoire.nodes) == count - 3
    assert player.lines() == ["1…c5", "1…Nf6"]
    assert player.page.remark.text() == "Gone: 3 positions. It can be undone."
    player.menu("undo")
    assert player.lines() == ["1…d5", "1…c5", "1…Nf6"]
    assert len(player.repertoire.nodes) == count


def test_a_last_move_is_deleted_without_asking(player: Player, crossed: Path) -> None:
    player.start(crossed)
    player.edit("d3")
    player.key(Qt.Key.Key_Down)
    player.key(Qt.Key.Key_Delete)
    assert player.lines() == ["1…d5", "1…Nf6"]


def test_notes_of_several_paragraphs_plans_and_tricks(player: Player, crossed: Path) -> None:
    player.start(crossed)
    player.edit("d3")
    note = player.page.note
    assert note.toPlainText() == "The modest start.\n\nPlan: Nf3, g3 and Bg2."
    player.letter("w")
    assert note.hasFocus()
    player.write(" {Really}.\n\nA second <b>thought</b>.")
    player.qtbot.keyClick(note, Qt.Key.Key_Escape)
    player.rest()
    assert player.page.lines.hasFocus()
    edge = player.repertoire.roots[0].edges[0]
    assert edge.comments[1:] == ("Plan: Nf3, g3 and Bg2. {Really}.", "A second <b>thought</b>.")
    player.letter("t")
    player.write("1...e5 2 Nf3?")
    player.qtbot.keyClick(note, Qt.Key.Key_Return, CONTROL)
    player.rest()
    assert edge.comments[-1] == "Trick: 1...e5 2 Nf3?"
    player.save()
    player.menu("undo")
    assert edge.comments[2:] == ("A second <b>thought</b>.",)
    player.menu("undo")
    assert edge.comments == ("The modest start.", "Plan: Nf3, g3 and Bg2.")
    read = read_repertoire(crossed).repertoire.roots[0].edges[0]
    # A closing brace ends a comment in PGN, so the writer puts something like it.
    assert read.comments[2:] == ("A second <b>thought</b>.", "Trick: 1...e5 2 Nf3?")
    assert interpreted_texts(player.page) == []


def test_a_note_that_is_typed_is_one_step_and_kept_in_pauses(
    player: Player, crossed: Path
) -> None:
    player.start(crossed)
    player.edit("d3", "d5", "Nf3")
    player.letter("w")
    note = player.page.note
    edge = player.repertoire.roots[0].edges[0].child.edges[0].child.edges[0]
    for words in ("Control", " of e5", " and d4"):
        player.qtbot.keyClicks(note, words)
        player.qtbot.waitUntil(lambda: not note.dirty, timeout=3000)
        player.rest()
    assert edge.comments == ("Control of e5 and d4",)
    assert note.hasFocus()
    cursor = note.textCursor()
    assert cursor.position() == len("Control of e5 and d4")
    cursor.movePosition(QTextCursor.MoveOperation.Start)
    note.setTextCursor(cursor)
    player.qtbot.keyClicks(note, "1 ")
    # Leaving in whatever way keeps what was typed.
    player.click(chess.G8)
    assert edge.comments == ("1 Control of e5 and d4",)
    assert player.desk.undoable == "a comment"
    player.menu("undo")
    assert edge.comments == ()
    assert not player.desk.unsaved


def test_the_introduction_of_a_section(player: Player, small: Path) -> None:
    player.start(small)
    player.edit()
    assert player.page.heading.text() == "The quiet system"
    player.letter("w")
    player.qtbot.keyClicks(player.page.note, "What this is about.")
    player.qtbot.keyClick(player.page.note, Qt.Key.Key_Escape)
    player.rest()
    assert player.repertoire.sections[0].intro == ("What this is about.",)


def test_signs_by_keys_alone(player: Player, crossed: Path) -> None:
    player.start(crossed)
    player.edit("d3", "d5", "Nf3", "Nf6", "g3")

    def tick(box: SignsDialog) -> None:
        assert isinstance(box, SignsDialog)
        player.qtbot.keyClicks(box.list, "!?")
        row = box.list.currentRow()
        assert "speculative" in box.list.item(row).text()
        player.qtbot.keyClick(box.list, Qt.Key.Key_Down)
        player.qtbot.keyClick(box.list, Qt.Key.Key_Down)
        player.qtbot.keyClick(box.list, Qt.Key.Key_Space)

    player.boxes.before = tick
    player.boxes.press("OK")
    player.letter("s")
    player.rest()
    assert player.page.heading.text() == "3 g3!? □"
    assert player.page.signs.text() == "speculative move, forced move: all others lose quickly"
    assert player.desk.bench.editor.undoable.nags == (5, 7)


def test_pasting_is_one_step_with_a_report(player: Player, crossed: Path) -> None:
    player.start(crossed)
    player.edit("d3", "d5")
    nodes = len(player.repertoire.nodes)
    text = "2 Nf3 Nf6 3 g3 (3 Bg5 h6\n4 Bh4) c5 4 Bg2 Nc6\n5 Ke4 5 O-O"
    QApplication.clipboard().setText(text)

    def look(box: PasteDialog) -> None:
        assert isinstance(box, PasteDialog)
        assert box.text.toPlainText() == text

    player.boxes.before = look
    player.boxes.press("Add the moves")
    player.qtbot.keyClick(player.page.lines, Qt.Key.Key_V, CONTROL)
    player.rest()
    said = player.page.remark.text()
    assert said.startswith("4 new moves, 5 known already.")
    assert "Line 3:" in said
    assert "Ke4" in said
    assert len(player.repertoire.nodes) == nodes + 4
    player.menu("undo")
    assert len(player.repertoire.nodes) == nodes
    assert player.page.heading.text() == "1…d5"


def test_pasting_much_is_done_by_the_worker(player: Player, crossed: Path) -> None:
    player.start(crossed)
    player.edit("d3")
    board = chess.Board()
    board.push_san("d3")
    lines = []
    for first in list(board.legal_moves):
        after = board.copy()
        words = [after.san(first)]
        after.push(first)
        for second in list(after.legal_moves)[:12]:
            lines.append(" ".join([*words, after.san(second)]) + " *")
    text = "\n\n".join(lines)
    assert len(text) > 2000
    text += "\n\n" + "{" + "x" * 4000 + "}"
    QApplication.clipboard().setText(text)
    player.boxes.press("Add the moves")
    player.letter("l")
    player.page.buttons["paste"].click()
    assert player.desk.bench.busy
    assert not player.window.isEnabled()
    player.rest()
    assert player.window.isEnabled()
    assert "new moves" in player.page.remark.text()
    assert len(player.repertoire.roots[0].edges[0].child.edges) == 20
    player.menu("undo")
    assert len(player.repertoire.roots[0].edges[0].child.edges) == 3


def test_another_section_of_the_text_is_not_lost_by_editing(player: Player, crossed: Path) -> None:
    player.start(crossed)
    player.edit("d3", "e5", "g3")
    player.save()
    assert player.page.remark.text() == "Saved: two-doors.pgn."
    assert not player.desk.unsaved
    loaded = read_repertoire(crossed)
    assert loaded.skipped == []
    assert [section.title for section in loaded.repertoire.sections] == [
        "First door",
        "Second door",
    ]
    assert set(loaded.repertoire.nodes) == set(player.repertoire.nodes)
    assert crossed.with_name("two-doors.pgn.bak").read_text() == CROSSED


def test_an_empty_file_gets_a_section(player: Player, tmp_path: Path) -> None:
    path = tmp_path / "empty.pgn"
    path.write_text("", encoding="utf-8")
    player.boxes.press("White")
    player.start(path)
    player.window.edit_here()
    player.rest()
    player.type("e4")
    assert player.page.heading.text() == "1 e4"
    player.save()
    assert read_repertoire(path).repertoire.edges()


def test_all_texts_fit_and_are_plain(player: Player, crossed: Path) -> None:
    window = player.start(crossed)
    player.edit("d3", "d5", "Nf3", "Nf6", "g3")
    for width, height in ((560, 700), (1080, 760), (1400, 1000)):
        window.resize(width, height)
        player.qtbot.wait(50)
        assert window.width() <= max(width, 560)
        for name, button in player.page.buttons.items():
            assert button.width() >= button.sizeHint().width() - 2, (width, name)
        for label in player.page.findChildren(QLabel):
            assert label.textFormat() == Qt.TextFormat.PlainText


def test_a_large_deletion_and_its_undoing_are_the_workers(player: Player, tmp_path: Path) -> None:
    path = tmp_path / "large.pgn"
    write_repertoire(path, 4_000)
    player.start(path)
    player.edit()
    bench = player.desk.bench
    positions = len(player.repertoire.nodes)
    begin = player.page.heading.text()
    occupied: list[bool] = []
    bench.occupied.connect(occupied.append)
    player.boxes.press("Delete")
    player.page.buttons["delete"].click()
    assert bench.busy
    player.qtbot.waitUntil(lambda: len(player.boxes.said) == 1, timeout=5000)
    player.qtbot.waitUntil(lambda: player.lines() == [], timeout=5000)
    assert occupied == [True, False, True, False]
    assert len(player.repertoire.nodes) == 1
    assert player.window.isEnabled()
    player.rest()
    player.menu("undo")
    assert len(player.repertoire.nodes) == positions
    assert player.page.heading.text() == begin
    player.menu("redo")
    assert len(player.repertoire.nodes) == 1
    player.menu("undo")
    assert not player.desk.unsaved
