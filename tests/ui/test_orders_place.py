"""The place called Move orders: what it finds and says, and what mouse and keys do."""

from __future__ import annotations

import random
import threading
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import chess
import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QFont, QFontMetrics
from PySide6.QtWidgets import QApplication, QLabel, QPushButton
from pytestqt.qtbot import QtBot

from tests.memory_graphs import node_after, repertoire_of
from trainer.memory.course import Course
from trainer.memory.days import StudyDays
from trainer.repertoire.crossings import find_crossings
from trainer.repertoire.graph import Node, Repertoire
from trainer.repertoire.near_misses import find_near_misses
from trainer.repertoire.openings import OpeningBook
from trainer.repertoire.order_graph import OrderGraph
from trainer.repertoire.reader import LoadedRepertoire, read_repertoire
from trainer.repertoire.shortcuts import find_shortcuts
from trainer.resources import repertoire_path
from trainer.storage.log import BugLog
from trainer.storage.settings import Settings
from trainer.ui.look import Look
from trainer.ui.orders import findings
from trainer.ui.orders.detail import line_of
from trainer.ui.orders.edits import AddShortcut, ResolveConflict
from trainer.ui.orders.fitting import fitted
from trainer.ui.orders.place import OrdersPlace
from trainer.ui.orders.plan import plan_of
from trainer.ui.orders.sections import Section
from trainer.ui.orders.words import OrderWords, share
from trainer.ui.tasks import TaskRunner
from trainer.ui.theme import DARK, LIGHT, application_stylesheet

LOOK = Look(LIGHT, "letters", 1.0, flipped=False)
#: One position by two orders, and 2…d5 behind 1…Nf6 that is listed nowhere.
CROSSED = ["Nf3 d5 g3 Nf6 Bg2 e6", "Nf3 Nf6 g3 e6 Bg2 d5 O-O"]
DISPUTED = """[Event "First"]
[RepertoireSide "White"]

1. d3 d5 2. Nf3 (2. g3 Nf6) 2... Nf6 *

[Event "Second"]
[RepertoireSide "White"]

1. d3 d5 2. c3 *
"""
#: By 2 d4 a French Defence, by 2 e4 the same position.
DOORS = ["d4 e6 e4 d5 Nc3 Nf6 Bg5", "e4 e6 d4 d5 Nc3"]
#: The same but for where the rook's pawn stands, with different prepared moves.
ALIKE = ["Nf3 d5 g3 a6 Bg2", "Nf3 d5 g3 a5 c4"]

Show = Callable[..., OrdersPlace]


def course_of(loaded: LoadedRepertoire) -> Course:
    return Course(
        loaded,
        None,
        Settings(),
        clock=lambda: datetime(2026, 3, 1, tzinfo=UTC),
        days=StudyDays(),
        rng=random.Random(1),
    )


def course_on(repertoire: Repertoire) -> Course:
    return course_of(
        LoadedRepertoire(repertoire, [], side_guessed=False, path=Path("made-here.pgn"))
    )


def demo() -> Course:
    return course_of(read_repertoire(repertoire_path("kings-indian-attack.pgn")))


@pytest.fixture
def runner(qtbot: QtBot, tmp_path: Path) -> Iterator[TaskRunner]:
    log = BugLog(tmp_path / "bugs.log")
    runner = TaskRunner(log)
    yield runner
    runner.close()
    log.close()


@pytest.fixture
def show(qtbot: QtBot, qapp: QApplication, runner: TaskRunner) -> Iterator[Show]:
    """Shows the place on a course and waits until everything is found."""
    qapp.setStyle("Fusion")

    def make(
        course: Course,
        *,
        size: tuple[int, int] = (1080, 720),
        look: Look = LOOK,
        editable: bool = False,
    ) -> OrdersPlace:
        qapp.setStyleSheet(application_stylesheet(look.theme, look.scale))
        place = OrdersPlace(runner, editable=editable)
        qtbot.addWidget(place)
        place.resize(*size)
        with qtbot.waitExposed(place):
            place.show()
        place.show_course(course, Settings(reduced_motion=True), look)
        settle(qtbot, place, runner)
        return place

    yield make
    qapp.setStyleSheet("")


def settle(qtbot: QtBot, place: OrdersPlace, runner: TaskRunner) -> None:
    qtbot.waitUntil(lambda: not runner.busy() and not place.seeker.unfinished, timeout=20_000)


def go(qtbot: QtBot, place: OrdersPlace, runner: TaskRunner, section: Section) -> None:
    """Press the word of a list, as the player does."""
    qtbot.mouseClick(place.words.buttons[section], Qt.MouseButton.LeftButton)
    settle(qtbot, place, runner)


def spoken_rows(place: OrdersPlace) -> list[str]:
    model = place.list.model()
    role = Qt.ItemDataRole.AccessibleTextRole
    return [model.index(row, 0).data(role) for row in range(model.rowCount())]


def texts(place: OrdersPlace) -> list[str]:
    return [label.text() for label in place.page.findChildren(QLabel) if label.isVisible()]


def buttons(place: OrdersPlace) -> dict[str, QPushButton]:
    return {
        button.text().replace("&", ""): button
        for button in place.page.findChildren(QPushButton)
        if button.isVisible()
    }


def words_of(repertoire: Repertoire) -> OrderWords:
    return OrderWords(OrderGraph(repertoire), OpeningBook.load(), "letters")


# -- the demo ------------------------------------------------------------------------------------


def test_what_is_looked_for_is_said_while_it_is_looked_for(
    qtbot: QtBot, show: Show, runner: TaskRunner
) -> None:
    place = show(demo())
    place.clear()
    empty = [label.text() for label in place.findChildren(QLabel) if label.isVisible()]
    assert "No repertoire is open." in empty
    place.show_course(demo(), Settings(reduced_motion=True), LOOK)
    said = [label.text() for label in place.findChildren(QLabel) if label.isVisible()]
    assert "No repertoire is open." not in said
    settle(qtbot, place, runner)


def test_each_list_of_the_demo_has_its_count(qtbot: QtBot, show: Show, runner: TaskRunner) -> None:
    course = demo()
    place = show(course)
    graph = OrderGraph(course.repertoire)
    shortcuts = find_shortcuts(graph)
    onward = sum(not one.goes_back for one in shortcuts)
    counts = [button.text() for button in place.words.buttons]
    assert counts[:4] == [
        f"Crossings {len(find_crossings(graph))}",
        f"Shortcuts {onward}",
        f"Near misses {len(find_near_misses(graph))}",
        "Conflicts 0",
    ]
    assert place.words.buttons[0].accessibleName() == f"Crossings, {len(find_crossings(graph))}"
    assert place.status == ""
    go(qtbot, place, runner, Section.SHORTCUTS)
    assert place.list.model().rowCount() == onward
    place.folded.click()
    assert place.list.model().rowCount() == len(shortcuts)
    assert place.folded.text() == f"&Also {len(shortcuts) - onward} that go back"


def test_an_entry_of_every_list_of_the_demo_can_be_shown(
    qtbot: QtBot, show: Show, runner: TaskRunner
) -> None:
    place = show(demo())
    for section in (Section.CROSSINGS, Section.SHORTCUTS, Section.NEAR_MISSES, Section.DOORS):
        go(qtbot, place, runner, section)
        for row in range(min(12, place.list.model().rowCount())):
            place.list.choose_row(row)
            settle(qtbot, place, runner)
            detail = place.page.detail
            assert detail is not None
            assert place.page.title.text() == detail.title
            place.grab()


def test_orders_beyond_the_cap_are_counted(qtbot: QtBot, show: Show, runner: TaskRunner) -> None:
    place = show(demo())
    place.sorting.setCurrentIndex(2)
    place.sorting.activated.emit(2)
    settle(qtbot, place, runner)
    place.list.choose_row(0)
    settle(qtbot, place, runner)
    detail = place.page.detail
    assert detail is not None
    assert detail.lines_title == "The orders, the likeliest first: 20 of 148 orders"
    assert place.page.lines.orders.model().rowCount() == 20


@pytest.mark.parametrize("size", [(700, 520), (1080, 760)])
@pytest.mark.parametrize("scale", [1.0, 2.0, 3.0])
def test_nothing_is_cut_off_at_any_size(
    qtbot: QtBot, show: Show, runner: TaskRunner, size: tuple[int, int], scale: float
) -> None:
    place = show(demo(), size=size, look=Look(DARK, "figurines", scale, flipped=True))
    assert place.size().toTuple() == size
    for section in Section:
        if place.words.isVisible():
            go(qtbot, place, runner, section)
        else:
            place.word_box.setCurrentIndex(section)
            settle(qtbot, place, runner)
        assert place.section is section
        place.list.entered.emit()
        settle(qtbot, place, runner)
        assert place.page.horizontalScrollBar().maximum() == 0
        for button in buttons(place).values():
            assert button.width() >= button.sizeHint().width()
        qtbot.keyClick(place, Qt.Key.Key_Escape)
        assert place.words.isVisible() != place.word_box.isVisible()
        assert place.size().toTuple() == size


# -- crossings -----------------------------------------------------------------------------------


def test_a_crossing_says_who_can_play_what_on_which_order(
    qtbot: QtBot, show: Show, runner: TaskRunner
) -> None:
    repertoire = repertoire_of([*CROSSED, "Nf3 Nf6 g3 c5 Bg2"])
    place = show(course_on(repertoire))
    # 2…c5 is listed on one of the orders only.
    assert place.words.buttons[0].text() == "Crossings 1"
    assert spoken_rows(place) == [
        "1…d5 or Nf6 meet after 3…e6. likeliest by 1 Nf3 d5 2 g3 Nf6 3 Bg2 e6. "
        "2 orders, 75 % of games · King's Indian Attack, with e6"
    ]
    detail = place.page.detail
    assert detail is not None
    assert place.page.subtitle.text() == (
        "King's Indian Attack, with e6: 2 orders, in 75 % of games. The orders part after 1 Nf3."
    )
    first, second = detail.lines
    assert first.text == "1 Nf3 d5 2 g3 Nf6 3 Bg2 e6"
    assert first.remarks[0] == "The likeliest order, in 50 % of games"
    assert second.text == "1 Nf3 Nf6 2 g3 e6 3 Bg2 d5"
    assert second.remarks[0] == "In 25 % of games"
    assert "On this order alone the repertoire also meets 2…c5." in second.remarks
    assert any("Only this order lets Black play" in remark for remark in first.remarks)


def test_technically_another_opening(qtbot: QtBot, show: Show, runner: TaskRunner) -> None:
    """ECO: 1 d4 e6 is the Horwitz Defence (A40), 1 e4 e6 the French (C00); from memory."""
    place = show(course_on(repertoire_of(DOORS)))
    detail = place.page.detail
    assert detail is not None
    remarks = {line.text: line.remarks for line in detail.lines}
    assert "technically a French Defense (C00)" in remarks["1 e4 e6 2 d4"]
    assert "technically a Horwitz Defense (A40)" in remarks["1 d4 e6 2 e4"]


def test_lines_part_and_meet_on_the_plan(show: Show) -> None:
    place = show(course_on(repertoire_of(CROSSED)))
    detail = place.page.detail
    assert detail is not None
    assert detail.plan is not None
    plan = detail.plan
    assert [plan.skipped, plan.width, plan.height] == [(1, 1), 6, 2]
    first, second = plan.passes
    shared = [one for one, other in zip(first, second, strict=True) if one == other]
    # 1…d5 2 g3 Nf6 and 1…Nf6 2 g3 have nothing in common but the two ends.
    assert shared == [first[0], first[-1]] == [plan.parting, plan.meeting]
    assert plan.stations[first[0]].exits == plan.stations[first[-1]].entries == 2
    assert [plan.tracks[track].word for track in plan.takes[0]] == ["d5", "g3", "Nf6", "Bg2", "e6"]
    assert [plan.tracks[track].white for track in plan.takes[0]] == [False, True] * 2 + [False]


def test_a_plan_of_lines_that_repeat_each_other_backwards() -> None:
    lines = ["Nf3 Nf6 Ng1 Ng8 Nc3", "Nc3 Nf6 Nb1 Ng8 Nf3 Nf6 Ng1 Ng8 Nc3"]
    repertoire = repertoire_of(lines)
    words = words_of(repertoire)
    shown = []
    for text in lines:
        board, moves = chess.Board(), []
        for san in text.split():
            moves.append(board.push_san(san))
        shown.append(line_of(words, repertoire.roots[0], moves, text.split()))
    plan = plan_of(shown, [0, 0])
    for line, text in enumerate(lines):
        assert [plan.tracks[track].word for track in plan.takes[line]] == text.split()
        assert len(plan.passes[line]) == len(text.split()) + 1


def test_keys_step_along_the_chosen_order(qtbot: QtBot, show: Show, runner: TaskRunner) -> None:
    repertoire = repertoire_of(CROSSED)
    place = show(course_on(repertoire))
    seen: list[Node] = []
    place.position_chosen.connect(seen.append)
    place.list.setFocus()
    qtbot.keyClick(place.list, Qt.Key.Key_Return)
    orders = place.page.lines.orders
    assert orders.hasFocus()
    panel = place.page.lines
    assert panel.position().epd() == node_after(repertoire, CROSSED[0]).board().epd()
    qtbot.keyClick(orders, Qt.Key.Key_Left)
    assert (panel.ply, panel.where) == (5, "3 Bg2")
    assert seen == [node_after(repertoire, "Nf3 d5 g3 Nf6 Bg2")]
    qtbot.keyClick(orders, Qt.Key.Key_Home)
    assert (panel.ply, panel.where) == (0, "Before the first move")
    qtbot.keyClick(orders, Qt.Key.Key_Right)
    qtbot.keyClick(orders, Qt.Key.Key_Right)
    assert (panel.ply, panel.where) == (2, "1…d5")
    qtbot.keyClick(orders, Qt.Key.Key_Down)
    assert (panel.line, panel.ply, panel.where) == (1, 2, "1…Nf6")
    assert seen[-1] is node_after(repertoire, "Nf3 Nf6")
    qtbot.keyClick(orders, Qt.Key.Key_End)
    assert panel.ply == 6
    assert not panel.on.isEnabled()
    qtbot.mouseClick(panel.back, Qt.MouseButton.LeftButton)
    assert panel.where == "3 Bg2"
    qtbot.keyClick(orders, Qt.Key.Key_Escape)
    assert place.list.hasFocus()


def test_a_station_of_the_plan_can_be_pressed(qtbot: QtBot, show: Show) -> None:
    place = show(course_on(repertoire_of(CROSSED)))
    panel = place.page.lines
    plan = panel.strip._plan
    assert plan is not None
    number = plan.passes[1][2]
    point = panel.strip._point(plan.stations[number].x, plan.stations[number].y)
    qtbot.mouseClick(panel.strip, Qt.MouseButton.LeftButton, pos=point.toPoint())
    assert (panel.line, panel.ply, panel.where) == (1, 3, "2 g3")
    qtbot.mouseClick(panel.strip, Qt.MouseButton.LeftButton, pos=QPoint(2, 2))
    assert (panel.line, panel.ply) == (1, 3)


def test_words_are_in_the_notation_of_the_player(
    qtbot: QtBot, show: Show, runner: TaskRunner
) -> None:
    place = show(course_on(repertoire_of(CROSSED)))
    place.set_look(Settings(notation="figurines"), Look(LIGHT, "figurines", 1.0, flipped=False))
    settle(qtbot, place, runner)
    detail = place.page.detail
    assert detail is not None
    assert detail.lines[0].text == "1 ♘f3 d5 2 g3 ♘f6 3 ♗g2 e6"
    assert "1 ♘f3 d5 2 g3 ♘f6 3 ♗g2 e6" in spoken_rows(place)[0]


# -- shortcuts -----------------------------------------------------------------------------------


def test_a_shortcut_that_lands_after_a_move_of_the_player(
    qtbot: QtBot, show: Show, runner: TaskRunner
) -> None:
    repertoire = repertoire_of(["d3 d5 Nd2 e5 Ngf3 Nf6 e4", "d3 Nf6 Nf3 d5 Nbd2"])
    place = show(course_on(repertoire), editable=True)
    go(qtbot, place, runner, Section.SHORTCUTS)
    rows = spoken_rows(place)
    wanted = next(n for n, row in enumerate(rows) if row.startswith("2…Nf6. after 1 d3 d5 2 Nd2"))
    assert rows[wanted].endswith("known after your 3 Ngf3, 50 % of games")
    place.list.choose_row(wanted)
    settle(qtbot, place, runner)
    assert place.page.subtitle.text() == (
        "After 1 d3 d5 2 Nd2: 2…Nf6 is not in the repertoire but reaches a known position "
        "after your 3 Ngf3. It can come up in 50 % of games."
    )
    edits: list[object] = []
    place.edit_wanted.connect(edits.append)
    qtbot.mouseClick(buttons(place)["Add to the repertoire  [Ins]"], Qt.MouseButton.LeftButton)
    (edit,) = edits
    assert isinstance(edit, AddShortcut)
    assert [move.uci() for move in edit.shortcut.moves] == ["g8f6", "g1f3"]


def test_without_a_workshop_there_are_no_buttons_for_edits(
    qtbot: QtBot, show: Show, runner: TaskRunner
) -> None:
    place = show(demo())
    for section in (Section.SHORTCUTS, Section.NEAR_MISSES):
        go(qtbot, place, runner, section)
        assert set(buttons(place)) <= {"Drill this pair"}


# -- near misses ---------------------------------------------------------------------------------


def test_a_pair_of_look_alikes(qtbot: QtBot, show: Show, runner: TaskRunner) -> None:
    repertoire = repertoire_of(ALIKE)
    place = show(course_on(repertoire), editable=True)
    go(qtbot, place, runner, Section.NEAR_MISSES)
    assert spoken_rows(place) == ["Bg2 or c4. 1 Nf3 d5 2 g3 a6. pawn on a6 or a5"]
    assert place.page.subtitle.text() == (
        "Black’s pawn stands on a6 here, and on a5 there. The prepared moves differ."
    )
    left, right = place.page.pair.boards
    first, second = (node_after(repertoire, f"Nf3 d5 g3 {move}") for move in ("a6", "a5"))
    assert left.board.epd() == first.board().epd()
    assert right.board.epd() == second.board().epd()
    assert left._hint == (chess.A6, None)
    assert right._hint == (chess.A5, None)
    drills: list[list[Node]] = []
    place.drill_wanted.connect(drills.append)
    qtbot.mouseClick(buttons(place)["Drill this pair"], Qt.MouseButton.LeftButton)
    assert drills == [[first, second]]


# -- conflicts -----------------------------------------------------------------------------------


def test_a_conflict_is_settled_by_choosing(
    qtbot: QtBot, show: Show, runner: TaskRunner, tmp_path: Path
) -> None:
    path = tmp_path / "disputed.pgn"
    path.write_text(DISPUTED, encoding="utf-8")
    course = course_of(read_repertoire(path))
    place = show(course, editable=True)
    go(qtbot, place, runner, Section.CONFLICTS)
    assert spoken_rows(place) == ["Nf3 or c3. 1 d3 d5. claimed by 2 sections"]
    assert "1: 2 Nf3 – “First”. It stands first and is asked." in texts(place)
    assert "2: 2 c3 – “Second”." in texts(place)
    edits: list[object] = []
    place.edit_wanted.connect(edits.append)
    qtbot.mouseClick(buttons(place)["Make 2 c3 the main move  [2]"], Qt.MouseButton.LeftButton)
    node = node_after(course.repertoire, "d3 d5")
    edge = node.edge_for(chess.Move.from_uci("c2c3"))
    assert edge is not None
    assert edits == [ResolveConflict(node, edge)]


# -- doors ---------------------------------------------------------------------------------------


def test_doors_into_a_position_given_as_fen(qtbot: QtBot, show: Show, runner: TaskRunner) -> None:
    repertoire = repertoire_of([*CROSSED, "Nf3 f5 g3 Nf6 Bg2"])
    place = show(course_on(repertoire))
    go(qtbot, place, runner, Section.DOORS)
    target = node_after(repertoire, CROSSED[0])
    place.doors.chooser.fen.setText("no position")
    place.doors.chooser.show_fen.click()
    assert place.doors.chooser.sentence.startswith("This is not a FEN")
    place.doors.chooser.fen.setText(chess.STARTING_FEN.replace(" w ", " b "))
    place.doors.chooser.show_fen.click()
    assert place.doors.chooser.sentence == (
        "The repertoire does not know this position; choose one of its own."
    )
    place.doors.chooser.fen.setText(node_after(repertoire, "Nf3 Nf6").board().fen())
    place.doors.chooser.show_fen.click()
    settle(qtbot, place, runner)
    assert place.words.buttons[Section.DOORS].text() == "Entry doors 1"
    place.doors.chooser.fen.setText(target.board().epd())
    qtbot.keyClick(place.doors.chooser.fen, Qt.Key.Key_Return)
    settle(qtbot, place, runner)
    assert place.words.buttons[Section.DOORS].text() == "Entry doors 2"
    assert [row.split(". ")[1] for row in spoken_rows(place)] == [
        "1 Nf3 d5 2 g3 Nf6 3 Bg2 e6",
        "1 Nf3 Nf6 2 g3 e6 3 Bg2 d5",
    ]
    shown = texts(place)
    assert shown[shown.index("First moves that lead here") + 1] == "1 Nf3 d5 · 1 Nf3 Nf6"
    assert shown[shown.index("First moves that leave it") + 1] == "1 Nf3 f5"
    place.list.choose_row(1)
    assert place.page.lines.line == 1
    place.doors.chooser.fen.setText(node_after(repertoire, "Nf3 Nf6 g3").board().fen())
    place.doors.chooser.show_fen.click()
    settle(qtbot, place, runner)
    assert place.words.buttons[Section.DOORS].text() == "Entry doors 1"
    # The program suggests the decision 4 O-O, the only one behind three moves of the player.
    place.doors.chooser.suggested.click()
    settle(qtbot, place, runner)
    assert place.page.detail is not None
    assert place.page.detail.node is target


def test_doors_into_the_position_last_chosen(qtbot: QtBot, show: Show, runner: TaskRunner) -> None:
    repertoire = repertoire_of(CROSSED)
    place = show(course_on(repertoire))
    place.page.lines.step(-1)
    go(qtbot, place, runner, Section.DOORS)
    place.doors.chooser.use_last.click()
    settle(qtbot, place, runner)
    assert place.page.detail is not None
    assert place.page.detail.node is node_after(repertoire, "Nf3 d5 g3 Nf6 Bg2")


# -- lists ---------------------------------------------------------------------------------------


def test_the_filter_shows_what_has_the_text_in_it(
    qtbot: QtBot, show: Show, runner: TaskRunner
) -> None:
    place = show(demo())
    qtbot.keyClick(place, Qt.Key.Key_F, Qt.KeyboardModifier.ControlModifier)
    assert place.filter.hasFocus()
    everything = spoken_rows(place)
    qtbot.keyClicks(place.filter, "slav")
    qtbot.waitUntil(lambda: not place.list.entries.filtering)
    found = spoken_rows(place)
    assert found == [row for row in everything if "slav" in row.casefold()]
    assert 0 < len(found) < len(everything)
    qtbot.keyClick(place.filter, Qt.Key.Key_Return)
    assert place.list.hasFocus()
    place.filter.setText("no such words")
    qtbot.waitUntil(lambda: not place.list.entries.filtering)
    assert place.empty_sentence == "Nothing in this list has “no such words” in it."
    qtbot.keyClick(place.filter, Qt.Key.Key_Escape)
    assert spoken_rows(place) == everything
    settle(qtbot, place, runner)


def test_a_long_list_is_filtered_in_slices(qtbot: QtBot, show: Show, runner: TaskRunner) -> None:
    place = show(demo())
    go(qtbot, place, runner, Section.SHORTCUTS)
    model = place.list.entries
    made = 0

    def slow(entry: object, make=model._make) -> object:
        nonlocal made
        made += 1
        end = threading.Event()
        end.wait(0.002)
        return make(entry)

    model.set_entries(model._entries, slow)
    drawn = made
    model.set_filter("nf6")
    assert model.filtering, "the first slice must leave something for later"
    assert made - drawn < len(model._entries)
    qtbot.waitUntil(lambda: not model.filtering)
    assert all("nf6" in row.casefold() for row in spoken_rows(place))
    assert model.rowCount() > 0


def test_rows_are_built_only_when_they_are_looked_at(
    qtbot: QtBot, show: Show, runner: TaskRunner
) -> None:
    place = show(demo())
    place.grab()
    model = place.list.entries
    assert 0 < len(model._rows) < model.rowCount()


def test_sorting_by_how_early_a_position_comes(
    qtbot: QtBot, show: Show, runner: TaskRunner
) -> None:
    course = demo()
    place = show(course)
    place.sorting.setCurrentIndex(3)
    place.sorting.activated.emit(3)
    graph = OrderGraph(course.repertoire)
    model = place.list.entries
    depths = [graph.depth(model.entry(row).node) for row in range(model.rowCount())]
    assert depths == sorted(depths)
    settle(qtbot, place, runner)


def test_what_is_said_of_empty_lists(qtbot: QtBot, show: Show, runner: TaskRunner) -> None:
    place = show(course_on(Repertoire()))
    said = []
    for section in Section:
        go(qtbot, place, runner, section)
        said.append(place.empty_sentence)
        assert place.page.detail is None
    assert said == [
        "No two move orders of this repertoire reach the same position.",
        "No unlisted reply leads to a position that this repertoire knows.",
        "No two decisions of this repertoire look almost the same.",
        "No two sections or move orders claim different main moves.",
        "This repertoire has no decision yet, so no position where a system begins.",
    ]


def test_with_no_repertoire_open(qtbot: QtBot, runner: TaskRunner) -> None:
    place = OrdersPlace(runner)
    qtbot.addWidget(place)
    place.show()
    assert place.empty_sentence == "No repertoire is open."
    place.show_course(course_on(repertoire_of(CROSSED)), Settings(), LOOK)
    settle(qtbot, place, runner)
    place.clear()
    assert place.empty_sentence == "No repertoire is open."
    assert place.words.buttons[0].text() == "Crossings"


# -- while it is looking -------------------------------------------------------------------------


class Gate:
    """Holds a search until it is opened; tells when one has come."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, name: str) -> None:
        self.come, self.opened = threading.Event(), threading.Event()
        self.given_up = 0
        real = getattr(findings, name)

        def held(*arguments: object) -> object:
            self.come.set()
            cancelled = arguments[-1]
            while not self.opened.wait(0.005):
                if cancelled():
                    self.given_up += 1
                    self.come.clear()
                    break
            return real(*arguments)

        monkeypatch.setattr(findings, name, held)


@pytest.fixture
def looking(
    qtbot: QtBot, runner: TaskRunner, monkeypatch: pytest.MonkeyPatch
) -> Iterator[tuple[OrdersPlace, Gate]]:
    """The place on the demo while it looks for shortcuts."""
    gate = Gate(monkeypatch, "find_piece")
    place = OrdersPlace(runner)
    qtbot.addWidget(place)
    place.show()
    place.show_course(demo(), Settings(reduced_motion=True), LOOK)
    qtbot.waitUntil(lambda: gate.come.is_set() and place.page.detail is not None)
    qtbot.waitUntil(gate.come.is_set)
    yield place, gate
    gate.opened.set()


def test_it_can_be_stopped_and_go_on(
    qtbot: QtBot, looking: tuple[OrdersPlace, Gate], runner: TaskRunner
) -> None:
    place, gate = looking
    assert place.status.startswith("Looking for shortcuts")
    qtbot.mouseClick(place.stop, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: not runner.busy())
    assert place.status == "Stopped; only what was found so far is listed."
    assert place.words.buttons[Section.SHORTCUTS].text() == "Shortcuts"
    assert place.words.buttons[Section.NEAR_MISSES].text() == "Near misses 83"
    gate.opened.set()
    qtbot.mouseClick(place.stop, Qt.MouseButton.LeftButton)
    settle(qtbot, place, runner)
    assert place.words.buttons[Section.SHORTCUTS].text() == "Shortcuts 91"
    assert place.status == ""
    assert place.stop.isHidden()


def test_an_entry_is_shown_while_it_looks_for_more(
    qtbot: QtBot, looking: tuple[OrdersPlace, Gate], runner: TaskRunner
) -> None:
    place, gate = looking
    before = gate.given_up
    place.list.choose_row(5)
    entry = place.list.entries.entry(5)
    qtbot.waitUntil(lambda: place.page.detail is not None and place.page.detail.node is entry.node)
    assert gate.given_up == before + 1
    gate.opened.set()
    settle(qtbot, place, runner)
    assert place.words.buttons[Section.SHORTCUTS].text() == "Shortcuts 91"
    assert place.list.currentIndex().row() == 5


def test_another_repertoire_while_it_is_looking(
    qtbot: QtBot, looking: tuple[OrdersPlace, Gate], runner: TaskRunner
) -> None:
    place, gate = looking
    repertoire = repertoire_of(CROSSED)
    place.show_course(course_on(repertoire), Settings(reduced_motion=True), LOOK)
    assert place.words.buttons[0].text() == "Crossings"
    gate.opened.set()
    settle(qtbot, place, runner)
    assert [button.text() for button in place.words.buttons] == [
        "Crossings 1",
        f"Shortcuts {sum(not s.goes_back for s in find_shortcuts(OrderGraph(repertoire)))}",
        f"Near misses {len(find_near_misses(OrderGraph(repertoire)))}",
        "Conflicts 0",
        "Entry doors 2",
    ]
    assert place.page.detail is not None
    assert place.page.detail.node is node_after(repertoire, CROSSED[0])


def test_it_looks_for_nothing_while_it_is_hidden(
    qtbot: QtBot, looking: tuple[OrdersPlace, Gate], runner: TaskRunner
) -> None:
    place, gate = looking
    place.hide()
    qtbot.waitUntil(lambda: not runner.busy())
    gate.opened.set()
    place.show()
    settle(qtbot, place, runner)
    assert place.words.buttons[Section.SHORTCUTS].text() == "Shortcuts 91"


# -- small parts ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("reach", "text"),
    [
        (1.0, "in 100 % of games"),
        (0.0996, "in 10 % of games"),
        (0.0123, "in 1.2 % of games"),
        (0.0004, "in under 0.1 % of games"),
    ],
)
def test_shares_in_words(reach: float, text: str) -> None:
    assert share(reach) == text


def test_text_is_cut_in_front_to_the_lines_there_are(qapp: QApplication) -> None:
    metrics = QFontMetrics(QFont("sans", 10))
    text = "1 Nf3 d5 2 g3 Nf6 3 Bg2 e6 4 O-O Be7"
    width = metrics.horizontalAdvance("1 Nf3 d5 2 g3")
    assert fitted(text, metrics, 10 * width, 2, front=True) == [text]
    cut = fitted(text, metrics, width, 2, front=True)
    assert len(cut) == 2
    assert cut[0].startswith("… ")
    assert text.endswith(" ".join(cut).removeprefix("… "))
    assert all(metrics.horizontalAdvance(line) <= width for line in cut)
