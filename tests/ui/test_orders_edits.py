"""Move orders in the real window: edits asked for there, notes on look-alikes, what was met."""

from __future__ import annotations

import random
import sqlite3
from pathlib import Path

import chess
import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel, QPushButton
from pytestqt.qtbot import QtBot

from tests.memory_graphs import node_after
from tests.ui.conftest import MakeWindow
from tests.ui.drilling import answer_typed
from tests.ui.workshop_window import Player
from trainer.memory.course import Course
from trainer.position import position_key
from trainer.repertoire.reader import read_repertoire
from trainer.storage.locations import find_locations
from trainer.ui.main_window import MainWindow
from trainer.ui.orders.place import OrdersPlace
from trainer.ui.orders.sections import Section

WAIT = 20_000
#: 2…Nf6 after 1 d3 d5 2 Nd2 is listed nowhere, but after 3 Ngf3 it is the second section.
SHORTCUT = """[Event "By the knight"]
[RepertoireSide "White"]

1. d3 d5 2. Nd2 e5 (2... c6 3. g3) 3. Ngf3 Nf6 4. e4 *

[Event "The other way"]
[RepertoireSide "White"]

1. d3 Nf6 2. Nf3 d5 3. Nbd2 *
"""
DISPUTED = """[Event "First"]
[RepertoireSide "White"]

1. d3 d5 2. Nf3 (2. g3 Nf6) 2... Nf6 *

[Event "Second"]
[RepertoireSide "White"]

1. d3 d5 2. c3 *
"""
#: The same but for the rook's pawn, with different moves.
ALIKE = """[Event "Look-alikes"]
[RepertoireSide "White"]

1. Nf3 d5 2. g3 a6 (2... a5 3. c4) 3. Bg2 *
"""


def file_of(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "orders.pgn"
    path.write_text(text, encoding="utf-8")
    return path


def settle(qtbot: QtBot, window: MainWindow) -> OrdersPlace:
    """Wait until the window has nothing under way and the place has found everything."""
    place = window.rooms.orders
    assert place is not None

    def still() -> bool:
        return not (window._runner.busy() or place.seeker.unfinished or window._is_stale())

    qtbot.waitUntil(still, timeout=WAIT)
    return place


def go_there(qtbot: QtBot, window: MainWindow, section: Section) -> OrdersPlace:
    qtbot.keyClick(window, Qt.Key.Key_3, Qt.KeyboardModifier.ControlModifier)
    place = settle(qtbot, window)
    qtbot.mouseClick(place.words.buttons[section], Qt.MouseButton.LeftButton)
    return settle(qtbot, window)


def headings(place: OrdersPlace) -> list[str]:
    model = place.list.model()
    return [model.index(row, 0).data() for row in range(model.rowCount())]


def spoken(place: OrdersPlace) -> list[str]:
    model, role = place.list.model(), Qt.ItemDataRole.AccessibleTextRole
    return [model.index(row, 0).data(role) for row in range(model.rowCount())]


def button_of(qtbot: QtBot, place: OrdersPlace, begins: str) -> QPushButton:
    """The button on the page whose text begins so, once it stands there."""

    def found() -> list[QPushButton]:
        pressable = place.page.findChildren(QPushButton)
        return [one for one in pressable if one.isVisible() and one.text().startswith(begins)]

    qtbot.waitUntil(lambda: len(found()) == 1, timeout=WAIT)
    return found()[0]


# -- edits ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("by_key", [True, False])
def test_a_shortcut_is_added_in_one_step(
    qtbot: QtBot, player: Player, tmp_path: Path, by_key: bool
) -> None:
    window = player.start(file_of(tmp_path, SHORTCUT))
    place = go_there(qtbot, window, Section.SHORTCUTS)
    before = spoken(place)
    row = next(n for n, text in enumerate(before) if text.startswith("2…Nf6. after 1 d3 d5 2 Nd2"))
    place.list.choose_row(row)
    settle(qtbot, window)
    blanks: list[bool] = []
    place.page.stepped.connect(lambda _board: blanks.append(place.page.detail is None))
    repertoire = window.course.repertoire
    crossings = place.words.buttons[Section.CROSSINGS].text()
    if by_key:
        place.list.setFocus()
        qtbot.keyClick(place.list, Qt.Key.Key_Insert)
    else:
        qtbot.mouseClick(button_of(qtbot, place, "&Add"), Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: not window._is_stale(), timeout=WAIT)
    settle(qtbot, window)
    assert window.course.repertoire is repertoire
    after = node_after(repertoire, "d3 d5 Nd2 Nf6")
    assert [edge.san for edge in after.edges] == ["Ngf3"]
    assert after.edges[0].child is node_after(repertoire, "d3 Nf6 Nf3 d5 Nbd2")
    assert before[row] not in spoken(place)
    assert place.section is Section.SHORTCUTS
    # What has come in its place is chosen and shown, and the keys stay in the list.
    assert place.list.currentIndex().row() == min(row, len(spoken(place)) - 1)
    assert place.page.detail is not None
    assert place.page.title.text() == headings(place)[place.list.currentIndex().row()]
    assert place.list.hasFocus()
    assert not any(blanks)
    assert place.words.buttons[Section.CROSSINGS].text() != crossings
    # It is one step, and it can be undone; the workshop shows where.
    player.menu("undo")
    assert window.places.current() is player.page
    player.key(Qt.Key.Key_Escape)
    settle(qtbot, window)
    assert window.places.current() is place
    assert spoken(place) == before
    assert place.words.buttons[Section.CROSSINGS].text() == crossings


def test_a_conflict_is_settled_by_its_number(qtbot: QtBot, player: Player, tmp_path: Path) -> None:
    window = player.start(file_of(tmp_path, DISPUTED))
    place = go_there(qtbot, window, Section.CONFLICTS)
    assert headings(place) == ["Nf3 or c3"]
    qtbot.keyClick(place.list, Qt.Key.Key_3)  # there is no third one
    assert window.course.repertoire.conflicts()
    qtbot.keyClick(place.list, Qt.Key.Key_2)
    qtbot.waitUntil(lambda: not window._is_stale(), timeout=WAIT)
    settle(qtbot, window)
    node = node_after(window.course.repertoire, "d3 d5")
    # The other one stays as an accepted alternative.
    assert [edge.san for edge in node.edges] == ["c3", "Nf3", "g3"]
    assert place.empty_sentence == "No two sections or move orders claim different main moves."
    assert place.page.detail is None
    assert place.words.buttons[Section.CONFLICTS].text() == "Conflicts 0"
    window._with_desk(lambda desk: desk.save())
    settle(qtbot, window)
    saved = read_repertoire(window.course.path).repertoire
    assert saved.conflicts() == []
    assert [edge.san for edge in node_after(saved, "d3 d5").edges] == ["c3", "Nf3", "g3"]


def test_digits_in_the_filter_are_text(
    qtbot: QtBot, make_window: MakeWindow, tmp_path: Path
) -> None:
    window = make_window(file_of(tmp_path, DISPUTED))
    place = go_there(qtbot, window, Section.CONFLICTS)
    qtbot.keyClick(place, Qt.Key.Key_F, Qt.KeyboardModifier.ControlModifier)
    qtbot.keyClicks(place.filter, "2")
    assert place.filter.text() == "2"
    assert window.course.repertoire.conflicts()


def test_what_was_chosen_stays_chosen_when_something_else_is_edited(
    qtbot: QtBot, player: Player
) -> None:
    from trainer.repertoire.workshop.edits import Paste
    from trainer.resources import repertoire_path

    window = player.start(repertoire_path("kings-indian-attack.pgn"))
    place = go_there(qtbot, window, Section.CROSSINGS)
    place.list.choose_row(7)
    settle(qtbot, window)
    place.page.lines.go(1, 3)
    entry, heading = place.list.entries.entry(7), headings(place)[7]
    place.page.verticalScrollBar().setValue(40)
    shown: list[object] = []
    place.page.stepped.connect(lambda _board: shown.append(place.page.detail))
    course, root = window.course, window.course.repertoire.roots[0]
    window._with_desk(lambda desk: desk.do(Paste(root.key, "1. Nf3 h5 2. g3 Rh6 3. Bg2")))
    qtbot.waitUntil(lambda: window.course is not course, timeout=WAIT)
    settle(qtbot, window)
    again = place.list.entries.entry(place.list.currentIndex().row())
    assert again is not entry
    assert (again.node, headings(place)[place.list.currentIndex().row()]) == (entry.node, heading)
    assert (place.page.lines.line, place.page.lines.ply) == (1, 3)
    assert place.page.verticalScrollBar().value() == 40
    assert None not in shown


def test_nothing_is_looked_for_in_what_has_changed(
    qtbot: QtBot, make_window: MakeWindow, tmp_path: Path
) -> None:
    window = make_window(file_of(tmp_path, SHORTCUT))
    place = go_there(qtbot, window, Section.CROSSINGS)
    course = window.course
    repertoire, board = course.repertoire, chess.Board()
    board.push_san("a3")
    # An edit from elsewhere, of which the place has not been told yet.
    child = repertoire.add_position(board)
    repertoire.add_edge(repertoire.roots[0], chess.Move.from_uci("a2a3"), child, "a3")
    asked: list[object] = []
    place.seeker.ask(lambda: asked.append("worked out"), asked.append)
    settle(qtbot, window)
    assert asked == []
    place.seeker.begin(course)
    settle(qtbot, window)
    assert not place.seeker.unfinished
    assert place.status == ""


# -- what tells look-alikes apart ----------------------------------------------------------------


def write_note(qtbot: QtBot, place: OrdersPlace, text: str) -> None:
    note = place.page.note
    assert note is not None
    note.paper.setFocus()
    note.paper.selectAll()
    qtbot.keyClicks(note.paper, text) if text else qtbot.keyClick(note.paper, Qt.Key.Key_Delete)


def kept_notes() -> list[str]:
    with sqlite3.connect(find_locations().progress_file) as connection:
        rows = connection.execute("SELECT note FROM pair_notes ORDER BY at").fetchall()
    connection.close()
    return [text for (text,) in rows]


def test_a_note_is_kept_survives_a_restart_and_follows_the_file(
    qtbot: QtBot, make_window: MakeWindow, tmp_path: Path
) -> None:
    path = file_of(tmp_path, ALIKE)
    window = make_window(path)
    place = go_there(qtbot, window, Section.NEAR_MISSES)
    assert spoken(place) == ["Bg2 or c4. 1 Nf3 d5 2 g3 a6. pawn on a6 or a5"]
    write_note(qtbot, place, "With a5 there is no b5: take the centre.")
    assert place.page.note is not None
    qtbot.waitUntil(lambda: place.page.note.said == "Kept.", timeout=WAIT)
    assert spoken(place)[0].endswith("With a5 there is no b5: take the centre.")
    assert kept_notes() == ["With a5 there is no b5: take the centre."]
    window.close()
    moved = path.with_name("renamed.pgn")
    path.rename(moved)
    again = make_window(moved)
    place = go_there(qtbot, again, Section.NEAR_MISSES)
    assert place.page.note is not None
    assert place.page.note.text == "With a5 there is no b5: take the centre."
    write_note(qtbot, place, "")
    qtbot.mouseClick(place.words.buttons[Section.CROSSINGS], Qt.MouseButton.LeftButton)
    assert kept_notes() == []


def test_a_note_is_not_lost_by_going_on_or_closing(
    qtbot: QtBot, make_window: MakeWindow, tmp_path: Path
) -> None:
    window = make_window(file_of(tmp_path, ALIKE))
    place = go_there(qtbot, window, Section.NEAR_MISSES)
    write_note(qtbot, place, "first")
    qtbot.keyClick(place.page.note.paper, Qt.Key.Key_Escape)
    assert kept_notes() == ["first"]
    write_note(qtbot, place, "second")
    window.close()
    assert kept_notes() == ["second"]


def test_a_note_that_cannot_be_kept_says_so(
    qtbot: QtBot, make_window: MakeWindow, tmp_path: Path
) -> None:
    window = make_window(file_of(tmp_path, ALIKE))
    place = go_there(qtbot, window, Section.NEAR_MISSES)
    with sqlite3.connect(find_locations().progress_file) as other:
        other.execute("DROP TABLE pair_notes")
    other.close()
    write_note(qtbot, place, "lost?")
    assert place.page.note is not None
    place.page.note.flush()
    assert str(find_locations().progress_file) in place.page.note.said
    assert place.page.note.text == "lost?"


def test_after_a_miss_the_drill_shows_what_tells_them_apart(
    qtbot: QtBot, make_window: MakeWindow, tmp_path: Path
) -> None:
    window = make_window(file_of(tmp_path, ALIKE), rng=random.Random(1))
    place = go_there(qtbot, window, Section.NEAR_MISSES)
    write_note(qtbot, place, "With a5 there is no b5: take the centre.")
    drill = button_of(qtbot, place, "&Drill")
    with qtbot.waitSignal(window.drills.controller.asked, timeout=WAIT):
        qtbot.mouseClick(drill, Qt.MouseButton.LeftButton)
    reminders = window.drills.view.panel.look_alikes

    def said() -> list[str]:
        return [label.text() for label in reminders.findChildren(QLabel) if label.text()]

    for prepared, other, order in (("Bg2", "c4", "2 g3 a5"), ("c4", "Bg2", "2 g3 a6")):
        assert reminders.isHidden()
        answer_typed(qtbot, window, "e4")
        assert reminders.isVisible()
        assert said() == [
            "What tells them apart",
            "With a5 there is no b5: take the centre.",
            f"Not to be taken for the position after 1 Nf3 d5 {order}, where {other} is prepared.",
        ]
        answer_typed(qtbot, window, prepared)
        assert reminders.isVisible()
        with qtbot.waitSignal(window.drills.controller.asked, timeout=WAIT):
            qtbot.keyClick(window.drills.view.entry, Qt.Key.Key_Space)


# -- how often orders were met -------------------------------------------------------------------

CROSSED = """[Event "Two ways"]
[RepertoireSide "White"]

1. Nf3 d5 (1... Nf6 2. g3 d5) 2. g3 Nf6 3. Bg2 *
"""


def test_what_was_drilled_is_counted(
    qtbot: QtBot, make_window: MakeWindow, tmp_path: Path
) -> None:
    window = make_window(file_of(tmp_path, CROSSED))
    place = go_there(qtbot, window, Section.CROSSINGS)
    assert "likeliest by 1 Nf3 Nf6 2 g3 d5" in spoken(place)[0]
    node = node_after(window.course.repertoire, "Nf3 d5 g3 Nf6")
    for _ in range(2):
        with qtbot.waitSignal(window.drills.controller.asked, timeout=WAIT):
            window.drill_positions([node])
        way = window.drills.controller._prompt.last_move.uci()
        answer_typed(qtbot, window, "Bg2")
        qtbot.keyClick(window.drills.view.entry, Qt.Key.Key_Space)
        qtbot.waitUntil(window.drills.summary.isVisible, timeout=WAIT)
        window.show_today()
    place = go_there(qtbot, window, Section.CROSSINGS)
    assert "once in drills" in spoken(place)[0]
    assert "most often by" in spoken(place)[0]
    assert place.page.detail is not None
    remarks = {line.text: line.remarks[0] for line in place.page.detail.lines}
    assert sum("once in drills" in remark for remark in remarks.values()) == 2
    assert way in ("g8f6", "d7d5")


def test_games_are_counted_where_there_are_any(qtbot: QtBot, make_window: MakeWindow) -> None:
    from trainer.resources import repertoire_path

    window = make_window(repertoire_path("kings-indian-attack.pgn"))

    def games_of(course: Course) -> list[list[int]]:
        assert course is window.course
        board = chess.Board()
        keys = [position_key(board)]
        for san in ["Nf3", "b6", "g3", "Bb7", "Bg2", "Nf6", "O-O", "e6"]:
            board.push_san(san)
            keys.append(position_key(board))
        return [keys] * 3

    place = OrdersPlace(window._runner, games_of=games_of)
    qtbot.addWidget(place)
    place.show()
    place.show_course(window.course, window.settings, window._look())
    qtbot.waitUntil(
        lambda: not window._runner.busy() and not place.seeker.unfinished, timeout=WAIT
    )
    place.sorting.setCurrentIndex(1)
    place.sorting.activated.emit(1)
    assert "3 times in games" in spoken(place)[0]
