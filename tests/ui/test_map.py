"""The map: what it draws, and what mouse, keys and search do on it."""

from __future__ import annotations

import random
import xml.etree.ElementTree as ET
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from itertools import combinations, pairwise
from pathlib import Path

import cairosvg
import chess
import numpy as np
import pytest
from PySide6.QtCore import QPoint, QPointF, Qt, QTimer
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QImage, QPainter, QWheelEvent
from PySide6.QtWidgets import QApplication, QWidget
from pytestqt.qtbot import QtBot

from tests.memory_graphs import node_after, random_repertoire, repertoire_of
from trainer.memory.course import Course
from trainer.memory.days import StudyDays
from trainer.repertoire.graph import Node, Repertoire
from trainer.repertoire.reader import LoadedRepertoire, read_repertoire
from trainer.resources import repertoire_path
from trainer.storage.answers import Answer, AnswerKind, Grade
from trainer.storage.locations import find_locations
from trainer.storage.log import BugLog
from trainer.storage.settings import Settings
from trainer.ui.look import Look
from trainer.ui.map.afar import strokes
from trainer.ui.map.painter import MapPainter, Marks
from trainer.ui.map.place import MapPlace
from trainer.ui.map.plan import Plan
from trainer.ui.map.scene import CONFLICT, CROSSING, DECISION, END, HOLE, Scene
from trainer.ui.map.symbols import draw_sign
from trainer.ui.map.view import View, fitted
from trainer.ui.setup.dialog import SetupDialog
from trainer.ui.tasks import TaskRunner
from trainer.ui.theme import DARK, LIGHT, Theme, application_stylesheet

NOW = datetime(2026, 3, 1, 12, tzinfo=UTC)
LOOK = Look(LIGHT, "letters", 1.0, flipped=False)
LINES = [
    "Nf3 d5 g3 Nf6 Bg2 e6 O-O",
    "Nf3 d5 g3 c6 Bg2 Bg4",
    "Nf3 Nf6 g3 d5 Bg2 g6 O-O",
    "Nf3 c5 g3 Nc6 Bg2",
]
#: Two sections that prepare different main moves, and a reply that nothing answers.
DISPUTED = """[Event "First"]
[RepertoireSide "White"]

1. d3 d5 2. Nf3 (2. g3 Nf6) 2... Nf6 *

[Event "Second"]
[RepertoireSide "White"]

1. d3 d5 2. c3 *
"""

MakePlace = Callable[..., MapPlace]


def course_of(
    repertoire: Repertoire, path: Path = Path("a-system.pgn"), answers: int = 0
) -> Course:
    loaded = LoadedRepertoire(repertoire, [], side_guessed=False, path=path)
    course = Course(
        loaded, None, Settings(), clock=lambda: NOW, days=StudyDays(), rng=random.Random(1)
    )
    for node in repertoire.decisions()[:answers]:
        course.states.apply(
            Answer(
                key=node.key,
                move=node.edges[0].move.uci(),
                at=NOW - timedelta(days=2),
                kind=AnswerKind.DRILL,
                grade=Grade.CLEAN,
                session_id=1,
                repertoire_id=1,
                seconds=2.0,
            )
        )
    return course


def plan_of(repertoire: Repertoire, answers: int = 0) -> Plan:
    return Plan.of(course_of(repertoire, answers=answers), NOW)


@pytest.fixture
def demo() -> Repertoire:
    return read_repertoire(repertoire_path("kings-indian-attack.pgn")).repertoire


@pytest.fixture
def runner(qapp: QApplication) -> Iterator[TaskRunner]:
    runner = TaskRunner(BugLog(find_locations().log_file))
    yield runner
    runner.close()


@pytest.fixture
def make_place(qtbot: QtBot, runner: TaskRunner) -> MakePlace:
    def make(course: Course, look: Look = LOOK, size: tuple[int, int] = (1280, 800)) -> MapPlace:
        place = MapPlace(runner.start, lambda: NOW)
        qtbot.addWidget(place)
        place.resize(*size)
        place.show()
        qtbot.waitExposed(place)
        place.show_course(course, look)
        settle(qtbot, runner)
        place.canvas.setFocus()
        return place

    return make


@pytest.fixture
def place(make_place: MakePlace) -> MapPlace:
    return make_place(course_of(repertoire_of(LINES)))


def settle(qtbot: QtBot, runner: TaskRunner) -> None:
    qtbot.waitUntil(lambda: not runner.busy(), timeout=20_000)
    QApplication.processEvents()


def screen_point(place: MapPlace, node: Node) -> QPoint:
    number = place.canvas.scene.plan.arrays.number(node)
    x, y = place.canvas.view.to_screen(*place.canvas.scene.point(number))
    return QPoint(round(x), round(y))


def after(place: MapPlace, line: str) -> Node:
    return node_after(place._course.repertoire, line)


def pressed(qtbot: QtBot, place: MapPlace, *keys: Qt.Key) -> Node:
    for key in keys:
        qtbot.keyClick(place.canvas, key)
    return place.chosen_node


def shown_keys(place: MapPlace) -> set[int]:
    scene = place.canvas.scene
    return {scene.plan.node(number).key for number in scene.shown.tolist()}


def searched(place: MapPlace, text: str) -> list[int]:
    place.bar.search.setText(text)
    place.finder.search()
    return [place.canvas.scene.plan.node(number).key for number in place.finder.numbers]


# -- walking ----------------------------------------------------------------------------------


def test_the_walk_begins_at_the_start_and_follows_the_main_moves(
    place: MapPlace, qtbot: QtBot
) -> None:
    assert place.chosen_node is after(place, "")
    assert pressed(qtbot, place, Qt.Key.Key_Right) is after(place, "Nf3")
    assert pressed(qtbot, place, Qt.Key.Key_Right, Qt.Key.Key_Right) is after(place, "Nf3 d5 g3")
    assert pressed(qtbot, place, Qt.Key.Key_Left) is after(place, "Nf3 d5")
    assert pressed(qtbot, place, Qt.Key.Key_Home) is after(place, "")


def test_up_and_down_go_through_the_siblings_as_they_are_drawn(
    place: MapPlace, qtbot: QtBot
) -> None:
    pressed(qtbot, place, Qt.Key.Key_Right, Qt.Key.Key_Right)
    for _ in range(5):
        top = pressed(qtbot, place, Qt.Key.Key_Up)
    met = [top]
    for _ in range(2):
        met.append(pressed(qtbot, place, Qt.Key.Key_Down))
    assert set(met) == {after(place, f"Nf3 {reply}") for reply in ("d5", "Nf6", "c5")}
    heights = [screen_point(place, node).y() for node in met]
    assert heights == sorted(heights)


def test_back_from_a_crossing_goes_the_way_that_was_come(place: MapPlace, qtbot: QtBot) -> None:
    place.choose_node(after(place, "Nf3 Nf6 g3"))
    crossing = after(place, "Nf3 d5 g3 Nf6")
    assert pressed(qtbot, place, Qt.Key.Key_Right) is crossing
    assert pressed(qtbot, place, Qt.Key.Key_Left) is after(place, "Nf3 Nf6 g3")


def test_a_walk_does_not_end_in_a_cycle(make_place: MakePlace, qtbot: QtBot) -> None:
    place = make_place(course_of(repertoire_of(["Nf3 Nf6 Ng1 Ng8"])))
    nodes = [pressed(qtbot, place, Qt.Key.Key_Right) for _ in range(5)]
    assert nodes[3] is after(place, "")
    assert nodes[4] is after(place, "Nf3")
    assert place.canvas.scene.layout.closing.sum() == 1


def test_what_is_chosen_stays_on_the_screen(make_place: MakePlace, qtbot: QtBot) -> None:
    place = make_place(course_of(random_repertoire(5, lines=60, plies=16)))
    place.canvas.zoom(30.0)
    for key in [Qt.Key.Key_Right] * 12 + [Qt.Key.Key_Down] * 10:
        node = pressed(qtbot, place, key)
        assert place.canvas.rect().contains(screen_point(place, node))


def test_enter_and_a_double_click_hand_the_position_over(place: MapPlace, qtbot: QtBot) -> None:
    with qtbot.waitSignal(place.position_chosen) as opened:
        pressed(qtbot, place, Qt.Key.Key_Right, Qt.Key.Key_Return)
    assert opened.args == [after(place, "Nf3")]
    target = after(place, "Nf3 c5")
    with qtbot.waitSignal(place.position_chosen) as opened:
        qtbot.mouseDClick(place.canvas, Qt.MouseButton.LeftButton, pos=screen_point(place, target))
    assert opened.args == [target]


def test_a_click_shows_the_position_on_the_board_with_its_words(
    make_place: MakePlace, qtbot: QtBot
) -> None:
    repertoire = repertoire_of(LINES)
    node = node_after(repertoire, "Nf3 d5 g3")
    node.entries[0].comments = ("The bishop goes to g2.", "A second paragraph.")
    place = make_place(course_of(repertoire, answers=3))
    qtbot.mouseClick(place.canvas, Qt.MouseButton.LeftButton, pos=screen_point(place, node))
    assert place.chosen_node is node
    assert place.side.board.board.board_fen() == node.board().board_fen()
    assert place.side.board.last_move == chess.Move.from_uci("g2g3")
    assert place.side.title.text() == "2 g3"
    assert place.side.order.text() == "1 Nf3 d5 2 g3"
    assert place.side.note.text() == "The bishop goes to g2.\n\nA second paragraph."
    assert "Replies: Nf6 and c6." in place.side.facts.text()
    decision = node_after(repertoire, "Nf3 d5")
    qtbot.mouseClick(place.canvas, Qt.MouseButton.LeftButton, pos=screen_point(place, decision))
    assert "Prepared: g3." in place.side.facts.text()
    assert "Recall" in place.side.facts.text()
    spoken = place.canvas.accessibleDescription()
    assert "1…d5" in spoken
    assert "Prepared: g3." in spoken


def test_a_click_on_nothing_changes_nothing(place: MapPlace, qtbot: QtBot) -> None:
    before = place.chosen_node
    qtbot.mouseClick(place.canvas, Qt.MouseButton.LeftButton, pos=QPoint(8, 500))
    assert place.chosen_node is before


# -- the part that is seen --------------------------------------------------------------------


def test_dragging_moves_the_plan_with_the_pointer(place: MapPlace, qtbot: QtBot) -> None:
    node, before = place.chosen_node, screen_point(place, place.chosen_node)
    canvas = place.canvas
    qtbot.mousePress(canvas, Qt.MouseButton.LeftButton, pos=QPoint(400, 300))
    qtbot.mouseMove(canvas, pos=QPoint(430, 310))
    qtbot.mouseMove(canvas, pos=QPoint(460, 340))
    qtbot.mouseRelease(canvas, Qt.MouseButton.LeftButton, pos=QPoint(460, 340))
    assert screen_point(place, node) == before + QPoint(60, 40)
    assert place.chosen_node is node


def test_the_wheel_enlarges_around_the_pointer(place: MapPlace) -> None:
    at = QPointF(500, 300)
    zoom, under = place.canvas.view.zoom, place.canvas.view.to_plan(at.x(), at.y())
    wheel = QWheelEvent(
        at,
        place.canvas.mapToGlobal(at),
        QPoint(),
        QPoint(0, 120),
        Qt.MouseButton.NoButton,
        Qt.KeyboardModifier.NoModifier,
        Qt.ScrollPhase.NoScrollPhase,
        False,  # noqa: FBT003 -- Qt knows it by its place only
    )
    QApplication.sendEvent(place.canvas, wheel)
    assert place.canvas.view.zoom == pytest.approx(zoom * 1.25)
    assert place.canvas.view.to_plan(at.x(), at.y()) == pytest.approx(under)


def test_keys_zoom_and_nought_shows_all(
    make_place: MakePlace, demo: Repertoire, qtbot: QtBot
) -> None:
    place = make_place(course_of(demo))
    zoom = place.canvas.view.zoom
    qtbot.keyClicks(place.canvas, "+")
    assert place.canvas.view.zoom > zoom
    qtbot.keyClicks(place.canvas, "--")
    assert place.canvas.view.zoom < zoom
    qtbot.keyClicks(place.canvas, "0")
    view, scene = place.canvas.view, place.canvas.scene
    inside = place.canvas.rect()
    assert all(
        inside.contains(QPoint(*map(round, view.to_screen(*scene.point(number)))))
        for number in scene.shown.tolist()
    )


def test_fitting_holds_all_of_the_bounds() -> None:
    view = fitted((-10.0, -20.0, 400.0, 100.0), 800, 600, most=5.0)
    assert view.zoom == 2.0
    assert view.to_screen(-10.0, -20.0) == (0.0, 200.0)
    assert view.to_screen(390.0, 80.0) == (800.0, 400.0)


def test_columns_stay_apart_when_rows_come_close() -> None:
    view = fitted((0.0, 0.0, 1000.0, 10_000.0), 500, 500, most=1.0, widest=0.4)
    assert (view.zoom, view.across) == (0.05, 0.4)
    assert view.to_screen(0.0, 0.0) == pytest.approx((50.0, 0.0))
    x, y = view.to_plan(120.0, 80.0)
    nearer = view.zoomed(20.0, 120.0, 80.0, 0.01, 5.0)
    assert nearer.across == nearer.zoom == 1.0
    assert nearer.to_plan(120.0, 80.0) == pytest.approx((x, y))


def test_a_resized_map_keeps_the_chosen_position_in_place(place: MapPlace) -> None:
    before = screen_point(place, place.chosen_node)
    place.resize(1000, 700)
    QApplication.processEvents()
    assert screen_point(place, place.chosen_node) == before


def test_the_pointer_brings_up_a_small_diagram(place: MapPlace, qtbot: QtBot) -> None:
    qtbot.mouseMove(place.canvas, pos=screen_point(place, after(place, "Nf3 d5")))
    qtbot.waitUntil(place.canvas._hover.isVisible)
    assert place.canvas._hover._words == "1…d5"
    qtbot.mouseMove(place.canvas, pos=QPoint(3, 500))
    assert not place.canvas._hover.isVisible()


# -- folding ----------------------------------------------------------------------------------


def test_folding_hides_what_hangs_on_a_position_and_shows_it_again(
    place: MapPlace, qtbot: QtBot, runner: TaskRunner
) -> None:
    everything = shown_keys(place)
    folded = after(place, "Nf3 d5")
    place.choose_node(folded)
    before = screen_point(place, folded)
    pressed(qtbot, place, Qt.Key.Key_F)
    settle(qtbot, runner)
    hidden = everything - shown_keys(place)
    # The position after 2 … Nf6 is still reached by 1 … Nf6.
    assert hidden == {
        after(place, line).key
        for line in ("Nf3 d5 g3", "Nf3 d5 g3 c6", "Nf3 d5 g3 c6 Bg2", "Nf3 d5 g3 c6 Bg2 Bg4")
    }
    assert f"Folded: {len(hidden)} positions more." in place.side.facts.text()
    assert screen_point(place, folded) == before
    assert place.bar.fold.text() == "Unfold"
    pressed(qtbot, place, Qt.Key.Key_F)
    settle(qtbot, runner)
    assert shown_keys(place) == everything


def test_a_click_on_the_count_unfolds(place: MapPlace, qtbot: QtBot, runner: TaskRunner) -> None:
    everything = shown_keys(place)
    folded = after(place, "Nf3 d5")
    place.choose_node(folded)
    place.toggle_fold()
    settle(qtbot, runner)
    number = place.canvas.scene.plan.arrays.number(folded)
    box = place.canvas._made_painter().stub_box(place.canvas.view, number)
    qtbot.mouseClick(place.canvas, Qt.MouseButton.LeftButton, pos=box.center().toPoint())
    settle(qtbot, runner)
    assert shown_keys(place) == everything


def test_going_to_a_hidden_position_unfolds_it(
    place: MapPlace, qtbot: QtBot, runner: TaskRunner
) -> None:
    place.choose_node(after(place, "Nf3 d5"))
    place.toggle_fold()
    settle(qtbot, runner)
    hidden = after(place, "Nf3 d5 g3 c6")
    assert hidden.key not in shown_keys(place)
    searched(place, "c6")
    place.finder.show_next()
    settle(qtbot, runner)
    assert place.chosen_node is hidden


def test_an_edited_repertoire_keeps_what_was_chosen_and_folded(
    place: MapPlace, qtbot: QtBot, runner: TaskRunner
) -> None:
    place.choose_node(after(place, "Nf3 d5"))
    place.toggle_fold()
    settle(qtbot, runner)
    chosen, at = place.chosen_node, screen_point(place, place.chosen_node)
    longer = repertoire_of(["Nf3 e5", *LINES, "Nf3 f5 d3"])
    place.show_course(course_of(longer), LOOK)
    settle(qtbot, runner)
    assert place.chosen_node.key == chosen.key
    assert screen_point(place, place.chosen_node) == at
    assert node_after(longer, "Nf3 d5 g3").key not in shown_keys(place)
    assert node_after(longer, "Nf3 f5 d3").key in shown_keys(place)


def test_folding_while_an_edit_is_drawn_shows_the_edit(
    place: MapPlace, qtbot: QtBot, runner: TaskRunner
) -> None:
    longer = repertoire_of([*LINES, "Nf3 f5 d3"])
    place.choose_node(after(place, "Nf3 d5"))
    place.show_course(course_of(longer), LOOK)
    place.toggle_fold()
    settle(qtbot, runner)
    assert node_after(longer, "Nf3 f5 d3").key in shown_keys(place)
    assert node_after(longer, "Nf3 d5 g3").key not in shown_keys(place)
    assert place.chosen_node is node_after(longer, "Nf3 d5")


def test_another_repertoire_begins_anew(place: MapPlace, qtbot: QtBot, runner: TaskRunner) -> None:
    place.choose_node(after(place, "Nf3 d5"))
    place.bar.search.setText("Nf6")
    place.show_course(course_of(repertoire_of(["e4 e5"]), Path("another.pgn")), LOOK)
    settle(qtbot, runner)
    assert place.chosen_node is after(place, "")
    assert not place.bar.search.text()


def test_nothing_is_left_once_it_is_cleared(place: MapPlace) -> None:
    place.clear()
    assert place.chosen_node is None
    assert place.canvas.scene is None
    place.finder.show_next()
    place.toggle_fold()
    place.export(Path("never.svg"))
    place.canvas.grab()


# -- searching --------------------------------------------------------------------------------


def test_a_move_is_found_wherever_it_is_played(place: MapPlace) -> None:
    lines = ("Nf3 d5 g3", "Nf3 Nf6 g3", "Nf3 c5 g3")
    assert set(searched(place, "g3")) == {after(place, line).key for line in lines}
    assert place.bar.count.text() == "3 by move"
    assert searched(place, "2. g3") == searched(place, "g3")
    assert set(searched(place, "0-0")) == set(searched(place, "O-O"))
    assert len(searched(place, "O-O")) == 2
    assert searched(place, "♘c6") == [after(place, "Nf3 c5 g3 Nc6").key]


def test_comments_and_names_of_openings_are_found(make_place: MakePlace, demo: Repertoire) -> None:
    place = make_place(course_of(demo))
    commented = next(edge for edge in demo.edges() if edge.comments)
    words = " ".join(commented.comments[0].split()[:4]).upper()
    assert commented.child.key in searched(place, words)
    named = searched(place, "zukertort")
    assert named
    assert "by" in place.bar.count.text()
    names = {str(place._book.name_of(key)) for key in named}
    assert any("Zukertort" in name for name in names)


def test_a_pasted_position_is_found_by_fen_and_by_epd(place: MapPlace) -> None:
    board = chess.Board()
    for san in ["Nf3", "d5", "g3", "Nf6"]:
        board.push_san(san)
    node = after(place, "Nf3 d5 g3 Nf6")
    assert searched(place, board.fen()) == [node.key]
    assert searched(place, board.epd()) == [node.key]
    assert searched(place, chess.Board("4k3/8/8/8/8/8/8/4K3 w - - 0 1").fen()) == []
    assert place.bar.count.text() == "no position"
    assert searched(place, "a/b/c/d/e/f/g/h") == []


def test_results_are_walked_through_in_both_directions(place: MapPlace, qtbot: QtBot) -> None:
    qtbot.keyClicks(place.canvas, "/")
    assert place.bar.search.hasFocus()
    qtbot.keyClicks(place.bar.search, "g3")
    met = []
    for _ in range(4):
        qtbot.keyClick(place.bar.search, Qt.Key.Key_F3)
        met.append(place.chosen_node)
    assert len(set(met[:3])) == 3
    assert met[3] is met[0]
    assert place.bar.count.text() == "1 of 3 by move"
    qtbot.keyClick(place.bar.search, Qt.Key.Key_F3, Qt.KeyboardModifier.ShiftModifier)
    assert place.chosen_node is met[2]
    qtbot.keyClick(place.bar.search, Qt.Key.Key_Escape)
    assert place.canvas.hasFocus()
    qtbot.keyClick(place.canvas, Qt.Key.Key_F, Qt.KeyboardModifier.ControlModifier)
    assert place.bar.search.hasFocus()
    assert place.bar.search.selectedText() == "g3"


def set_up(place: MapPlace, qtbot: QtBot, board: chess.Board) -> None:
    """Open the dialog from the keyboard, put the FEN into it and press Enter."""
    seen: list[QWidget] = []

    def answer() -> None:
        dialog = QApplication.activeModalWidget()
        assert isinstance(dialog, SetupDialog)
        seen.append(dialog)
        dialog.fen.selectAll()
        qtbot.keyClicks(dialog.fen, board.fen())
        qtbot.keyClick(dialog.fen, Qt.Key.Key_Return)

    place.window().activateWindow()  # no window manager does it here
    place.canvas.setFocus()
    qtbot.waitUntil(place.canvas.hasFocus)
    QTimer.singleShot(0, answer)
    control, shift = Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.ShiftModifier
    qtbot.keyClick(place.canvas, Qt.Key.Key_F, control | shift)
    assert seen


def test_a_position_set_up_on_the_board_is_gone_to(place: MapPlace, qtbot: QtBot) -> None:
    node = after(place, "Nf3 d5 g3 Nf6 Bg2")
    set_up(place, qtbot, node.board())
    assert place.chosen_node is node
    assert place.bar.count.text() == "1 of 1 by position"
    assert not place.notice.isVisible()


def test_the_nearest_position_is_shown_and_what_differs_is_said(
    place: MapPlace, qtbot: QtBot
) -> None:
    node = after(place, "Nf3 d5 g3 Nf6")
    other = node.board()
    other.turn = chess.BLACK
    set_up(place, qtbot, other)
    assert place.chosen_node is node
    assert place.notice.text().endswith("only with these pieces, but White to move.")
    rights = node.board()
    rights.castling_rights = chess.BB_EMPTY
    set_up(place, qtbot, rights)
    assert place.chosen_node is node
    assert "other rights to castle" in place.notice.text()
    set_up(place, qtbot, chess.Board("4k3/8/8/8/8/8/8/4K3 w - - 0 1"))
    assert place.chosen_node is node
    assert place.notice.text() == "The repertoire does not have this position."
    assert searched(place, "g3")
    assert not place.notice.isVisible()


def test_what_is_not_there_is_said(place: MapPlace) -> None:
    before = place.chosen_node
    assert searched(place, "no such words") == []
    assert place.bar.count.text() == "no comment or opening name"
    place.finder.show_next()
    assert place.chosen_node is before
    assert searched(place, "") == []
    assert place.bar.count.text() == ""


# -- drawing ----------------------------------------------------------------------------------


def sign_pixels(flags: int, step: int, theme: Theme) -> np.ndarray:
    """A sign as black and white: where ink is."""
    image = QImage(60, 60, QImage.Format.Format_Grayscale8)
    image.fill(QColor(theme.paper))
    painter = QPainter(image)
    draw_sign(painter, 30, 30, 10, flags, step, theme)
    painter.end()
    grey = np.frombuffer(image.constBits(), np.uint8).reshape(60, image.bytesPerLine())[:, :60]
    paper, ink = QColor(theme.paper).lightness(), QColor(theme.ink).lightness()
    return np.abs(grey.astype(int) - ink) < abs(paper - ink) / 3


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=["light", "dark"])
def test_signs_are_told_apart_by_shape_alone(theme: Theme) -> None:
    kinds = (
        0,
        DECISION,
        DECISION | CROSSING,
        CROSSING,
        HOLE,
        DECISION | CONFLICT,
        DECISION | CROSSING | CONFLICT,
        END,
    )
    pictures = [sign_pixels(flags, -1, theme) for flags in kinds]
    for first, second in combinations(pictures, 2):
        assert (first != second).sum() > 8


def test_a_station_fills_as_the_move_is_remembered() -> None:
    filled = []
    for step in range(-1, len(LIGHT.recall)):
        image = QImage(40, 40, QImage.Format.Format_RGB32)
        image.fill(QColor(LIGHT.paper))
        painter = QPainter(image)
        draw_sign(painter, 20, 20, 15, DECISION, step, LIGHT)
        painter.end()
        wanted = QColor(LIGHT.recall[step]).rgb() if step >= 0 else -1
        column = [image.pixel(20, y) for y in range(40)]
        filled.append(column.count(wanted))
    assert filled[0] == 0
    assert filled[1:] == sorted(filled[1:])
    assert 0 < filled[1] < filled[-1] / 3


def painted(scene: Scene, look: Look, view: View, marks: Marks) -> QImage:
    image = QImage(900, 600, QImage.Format.Format_RGB32)
    image.fill(QColor(look.theme.paper))
    painter = QPainter(image)
    MapPainter(scene, look, QFont()).paint(painter, view, (900.0, 600.0), marks)
    painter.end()
    return image


def has_colour(image: QImage, name: str) -> bool:
    wanted = QColor(name).rgb() & 0xFFFFFF
    pixels = np.frombuffer(image.constBits(), np.uint32) & 0xFFFFFF
    return bool((pixels == wanted).any())


def test_the_accent_marks_the_chosen_position_and_nothing_else(qapp: QApplication) -> None:
    repertoire = read_text(DISPUTED)
    scene = Scene.of(plan_of(repertoire, answers=2))
    for look in (LOOK, Look(DARK, "figurines", 2.0, flipped=True)):
        for view in (View(1.5, -60, -90), View(0.1, -600, -900)):
            assert not has_colour(painted(scene, look, view, Marks()), look.theme.accent)
            chosen = painted(scene, look, view, Marks(chosen=0))
            assert has_colour(chosen, look.theme.accent)


def read_text(text: str) -> Repertoire:
    path = find_locations().log_file.parent / "disputed.pgn"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return read_repertoire(path).repertoire


def test_holes_conflicts_crossings_and_ends_are_known() -> None:
    repertoire = read_text(DISPUTED)
    plan = plan_of(repertoire)
    board = chess.Board()
    board.push_san("d3")
    board.push_san("d5")
    disputed = repertoire.node_at(board)
    assert plan.conflict.nonzero()[0].tolist() == [plan.arrays.number(disputed)]
    holes = {plan.node(number) for number in plan.hole.nonzero()[0].tolist()}
    assert holes == {
        node_after(repertoire, "d3 d5 g3 Nf6"),
        node_after(repertoire, "d3 d5 Nf3 Nf6"),
    }
    mate = plan_of(repertoire_of(["f3 e5 g4 Qh4#"]))
    assert not mate.hole.any()  # the game is over, so nothing is missing
    assert mate.end.sum() == 1
    crossed = repertoire_of(["d4 Nf6 Nf3 g6 Nc3 d5 Bf4", "d4 Nf6 Nc3 d5 Bf4 g6 Nf3"])
    plan = plan_of(crossed)
    met = plan.arrays.number(node_after(crossed, "d4 Nf6 Nf3 g6 Nc3 d5 Bf4"))
    assert plan.crossing.nonzero()[0].tolist() == [met]


def test_strokes_from_afar_cover_the_lines_and_no_more() -> None:
    rng = np.random.default_rng(1)
    for _ in range(50):
        start = rng.integers(0, 6, (12, 2)) * 10.0
        end = start + np.stack([np.full(12, 10.0), rng.integers(-2, 3, 12) * 10.0], axis=1)
        rail = start[:, 0] + rng.integers(1, 4, 12)
        pens = rng.integers(0, 2, 12)
        drawn = strokes(pens, start, end, rail, np.zeros(12, np.bool_))
        for pen in np.unique(pens).tolist():
            expected: list[tuple[float, float, float, float]] = []
            for (x0, y0), (x1, y1), x in zip(
                start[pens == pen], end[pens == pen], rail[pens == pen], strict=True
            ):
                bends = [(x0, y0), (x, y0), (x, y1), (x1, y1)]
                expected += [(*first, *second) for first, second in pairwise(bends)]
            lines = [(line.x1(), line.y1(), line.x2(), line.y2()) for line in drawn[pen]]
            assert unit_pieces(lines) == unit_pieces(expected)
            assert len(lines) <= len(expected)


def unit_pieces(lines: list[tuple[float, float, float, float]]) -> set[tuple[int, ...]]:
    """The pieces of length 1 that upright and level lines between whole numbers are made of."""
    pieces = set()
    for x0, y0, x1, y1 in lines:
        assert x0 == x1 or y0 == y1
        for x in range(int(min(x0, x1)), int(max(x0, x1))):
            pieces.add((x, int(y0), x + 1, int(y0)))
        for y in range(int(min(y0, y1)), int(max(y0, y1))):
            pieces.add((int(x0), y, int(x0), y + 1))
    return pieces


def test_moves_carry_their_numbers() -> None:
    repertoire = repertoire_of(["Nf3 d5 g3", "Nf3 Nf6"])
    plan = plan_of(repertoire)
    texts = {plan.move_text(number, "letters") for number in range(len(plan.arrays.edges))}
    assert texts == {"1 Nf3", "d5", "2 g3", "1…Nf6"}
    fen = "4k3/8/8/8/8/8/8/4K3 b - - 0 30"
    ending = repertoire_of(["Kd7 Kd2"], fen=fen)
    ending.sections[0].tags["FEN"] = fen
    late = plan_of(ending)
    assert late.move_text(0, "letters", always_number=True) == "30…Kd7"
    assert late.move_text(1, "figurines") == "31 ♔d2"


@pytest.mark.parametrize(("lines", "plies"), [(1, 4), (40, 14), (340, 18)])
def test_five_five_hundred_and_five_thousand_positions(
    make_place: MakePlace, qtbot: QtBot, runner: TaskRunner, lines: int, plies: int
) -> None:
    repertoire = random_repertoire(2, lines=lines, plies=plies)
    place = make_place(course_of(repertoire, answers=50))
    # Of a large repertoire the likeliest positions are shown first.
    assert place.canvas.scene.layout.folded.any() == (len(repertoire.nodes) > 1200)
    assert place.bar.fold_all.isEnabled() == (len(repertoire.nodes) > 1200)
    qtbot.keyClick(place.canvas, Qt.Key.Key_F, Qt.KeyboardModifier.ShiftModifier)
    settle(qtbot, runner)
    assert len(place.canvas.scene.shown) == len(repertoire.nodes)
    chosen = pressed(qtbot, place, *[Qt.Key.Key_Right] * 4)
    assert chosen is not None
    for text in ("0", "+", "++++++++", "------------------"):
        qtbot.keyClicks(place.canvas, text)
        place.canvas.grab()


def test_nothing_prepared_is_said(make_place: MakePlace) -> None:
    place = make_place(course_of(Repertoire()))
    assert place.canvas.scene is None
    assert place.chosen_node is None
    place.canvas.grab()


@pytest.mark.parametrize("scale", [1.0, 2.0, 3.0])
@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=["light", "dark"])
def test_all_scales_and_themes_fit_a_window(
    make_place: MakePlace, qapp: QApplication, scale: float, theme: Theme
) -> None:
    qapp.setStyleSheet(application_stylesheet(theme, scale))
    try:
        look = Look(theme, "figurines", scale, flipped=False)
        place = make_place(course_of(repertoire_of(LINES)), look, size=(1280, 900))
        assert place.minimumSizeHint().width() <= 1280
        assert place.size().height() <= 900
        for widget in (place.bar.search, place.bar.save, place.canvas, place.side.board):
            assert place.rect().contains(
                widget.geometry().translated(
                    widget.parentWidget().mapTo(place, QPoint())
                    if widget.parentWidget() is not place
                    else QPoint()
                )
            )
        place.set_look(LOOK)
        image = place.canvas.grab().toImage()
        assert image.pixelColor(30, image.height() - 30) == QColor(LIGHT.paper)
    finally:
        qapp.setStyleSheet("")


# -- files ------------------------------------------------------------------------------------


def test_the_whole_map_is_saved_as_svg(
    place: MapPlace, tmp_path: Path, qtbot: QtBot, runner: TaskRunner
) -> None:
    place.canvas.zoom(8.0)  # what is on the screen does not matter
    path = tmp_path / "map.svg"
    place.export(path)
    settle(qtbot, runner)
    root = ET.parse(path).getroot()
    words = {"".join(element.itertext()).strip() for element in root.iter() if element.text}
    edges = range(len(place.canvas.scene.plan.arrays.edges))
    names = {place.canvas.scene.plan.move_text(edge, "letters") for edge in edges}
    missing = names - words
    assert missing <= {"d5"}  # the second way into the crossing stands below it
    assert "A System" in words
    # The signs are explained on the sheet; what is only on the screen is not.
    assert {"hole: nothing is prepared", "a line ends"} <= words
    assert not {"chosen", "found"} & words
    # Who has not got the font sees one of its kind (SVG Tiny 1.2, 10.7: general families).
    families = {
        element.get("font-family") for element in root.iter("{http://www.w3.org/2000/svg}text")
    }
    assert all(family.endswith(("serif", "sans-serif")) for family in families)
    assert str(path) in place.notice.text()


def test_the_whole_map_is_saved_as_pdf(
    place: MapPlace, tmp_path: Path, qtbot: QtBot, runner: TaskRunner
) -> None:
    path = tmp_path / "map.pdf"
    place.export(path)
    settle(qtbot, runner)
    data = path.read_bytes()
    # ISO 32000-1, 7.5.2 and 7.5.5: how a PDF file begins and ends.
    assert data.startswith(b"%PDF-1.")
    assert data.rstrip().endswith(b"%%EOF")
    assert data.count(b"/Type /Page\n") == 1
    # 9.9: every font is inside the file, so it looks the same wherever it is opened.
    fonts = data.count(b"/Type /FontDescriptor")
    assert fonts >= 1
    assert data.count(b"/FontFile") == fonts


def test_a_saved_svg_is_drawn_whole_by_another_program(
    place: MapPlace, tmp_path: Path, qtbot: QtBot, runner: TaskRunner
) -> None:
    path = tmp_path / "map.svg"
    place.export(path)
    settle(qtbot, runner)
    drawn = QImage.fromData(cairosvg.svg2png(url=str(path)))
    paper = QColor(LIGHT.paper)
    marked = [
        (x, y)
        for x in range(0, drawn.width(), 2)
        for y in range(0, drawn.height(), 2)
        if abs(drawn.pixelColor(x, y).lightness() - paper.lightness()) > 60
    ]
    # Nothing is cut off: the ink keeps clear of all four edges.
    assert min(x for x, _ in marked) > 10
    assert max(x for x, _ in marked) < drawn.width() - 10
    assert min(y for _, y in marked) > 5
    assert max(y for _, y in marked) < drawn.height() - 10


def test_names_stand_where_there_is_room_above_them_however_close_the_rows_are() -> None:
    scene = Scene.of(plan_of(repertoire_of(["d4 d5 c4", "d4 Nf6 c4", "d4 f5 c4"])))
    for label, room in zip(scene.labels, scene.label_room.tolist(), strict=True):
        # Held to looking at every other label of the same column, one by one.
        above = [label.y - one.y for one in scene.labels if one.x == label.x and one.y < label.y]
        assert room == min(above, default=np.inf)
    view = View(0.5, -60.0, -60.0)
    painter = MapPainter(scene, LOOK, QFont())
    assert painter._row_pixels(view) < 19
    drawn = painted(scene, LOOK, view, Marks())
    x, y = view.to_screen(scene.label_x[0], scene.label_y[0])
    assert scene.labels[0].words == "1 d4"
    metrics = QFontMetricsF(QFont())
    words = drawn.copy(round(x - 34), round(y - metrics.height() - 1), 20, round(metrics.ascent()))
    assert has_colour(words, LIGHT.ink)


def test_words_below_a_line_stand_clear_of_those_above_the_next() -> None:
    font = QFont("Sans Serif")
    font.setPixelSize(13)
    painter = MapPainter(Scene.of(plan_of(repertoire_of(LINES))), LOOK, font)
    below = QFontMetricsF(painter._small)
    above = QFontMetricsF(font)
    # The ink of small words ends above the capitals of the next row, 30 pixels further down.
    assert 1 + below.ascent() + below.descent() < 30 - 2 - above.descent() - above.capHeight()


@pytest.mark.parametrize(
    ("typed", "kind", "saved"),
    [
        ("mine", "PDF (*.pdf)", "mine.pdf"),
        ("mine", "SVG (*.svg)", "mine.svg"),
        ("v1.2", "SVG (*.svg)", "v1.2.svg"),
        ("mine.pdf", "SVG (*.svg)", "mine.pdf"),
    ],
)
def test_a_name_without_an_ending_gets_that_of_the_chosen_kind(
    place: MapPlace,
    tmp_path: Path,
    qtbot: QtBot,
    runner: TaskRunner,
    monkeypatch: pytest.MonkeyPatch,
    typed: str,
    kind: str,
    saved: str,
) -> None:
    # The system's own file dialog cannot be driven offscreen; it is asked as always.
    asked: list[str] = []

    def answer(_parent: object, _title: str, suggested: str, _kinds: str) -> tuple[str, str]:
        asked.append(suggested)
        return str(tmp_path / typed), kind

    monkeypatch.setattr("trainer.ui.map.saver.QFileDialog.getSaveFileName", answer)
    qtbot.mouseClick(place.bar.save, Qt.MouseButton.LeftButton)
    settle(qtbot, runner)
    assert asked == ["a-system.svg"]
    assert (tmp_path / saved).exists()


@pytest.mark.parametrize(
    ("name", "said"), [("map.png", "neither in .svg nor in .pdf"), ("no/map.svg", "written")]
)
def test_what_cannot_be_saved_is_said_in_a_sentence(
    place: MapPlace, tmp_path: Path, qtbot: QtBot, runner: TaskRunner, name: str, said: str
) -> None:
    place.export(tmp_path / name)
    settle(qtbot, runner)
    assert said in place.notice.text()
    assert place.notice.isVisible()
    assert not (tmp_path / name).exists()
