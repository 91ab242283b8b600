"""The place called Games: what it shows and says, and what mouse and keys do."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest
from PySide6.QtCore import QMimeData, QPoint, QPointF, Qt, QUrl
from PySide6.QtGui import QDropEvent
from PySide6.QtWidgets import QLabel, QPushButton
from pytestqt.qtbot import QtBot

from tests.memory_graphs import node_after
from tests.ui.conftest import MakeWindow
from trainer.games.departures import Step
from trainer.resources import repertoire_path
from trainer.storage.answers import Answer, AnswerKind, Grade
from trainer.storage.locations import find_locations
from trainer.storage.progress import ProgressStore
from trainer.storage.settings import load_settings
from trainer.ui.games.entries import Kind
from trainer.ui.games.place import GamesPlace
from trainer.ui.games.sections import Section
from trainer.ui.main_window import MainWindow

DEMO = "kings-indian-attack.pgn"
OWNER = "Linden, Mara"


def game(moves: str, **tags: str) -> str:
    head = {
        "Event": "Club evening",
        "Date": "2026.03.02",
        "White": OWNER,
        "Black": "Ash, Bo",
        "Result": "1-0",
        **tags,
    }
    lines = "".join(f'[{name} "{value}"]\n' for name, value in head.items())
    return f"{lines}\n{moves} {head['Result']}\n\n"


#: Against the small repertoire: left by the player, by the opponent, at a line's end, and back.
GAMES = (
    game("1. d3 d5 2. c3 Nf6", Date="2026.03.01", Black="Birch, Cy")
    + game("1. d3 e5 2. e4 d6", Date="2026.03.05", Black="Cedar, Di", Result="0-1")
    + game("1. d3 d5 2. Nf3 Nf6 3. g3 c5", Date="2026.03.09", Black="Elm, Fay")
    + game("1. Nf3 d5 2. d3 Nf6 3. g3", Date="2026.03.12", Black="Fir, Gus")
    + game("1. e4 e5", Date="2026.03.15", White="Gorse, Hal", Black=OWNER)
)


@pytest.fixture
def games(tmp_path: Path) -> Path:
    path = tmp_path / "games" / "mine.pgn"
    path.parent.mkdir()
    path.write_text(GAMES, encoding="utf-8")
    return path


Show = Callable[..., tuple[MainWindow, GamesPlace]]


@pytest.fixture
def show(qtbot: QtBot, make_window: MakeWindow, small: Path) -> Show:
    """Opens the window and goes to Games, as the player does; waits until all is read."""

    def make(path: Path | None = None, **changes: object) -> tuple[MainWindow, GamesPlace]:
        window = make_window(path or small, **changes)
        qtbot.keyClick(window, Qt.Key.Key_4, Qt.KeyboardModifier.ControlModifier)
        place = window.rooms.games
        assert place is not None
        qtbot.waitUntil(place.isVisible)
        settle(qtbot, window)
        return window, place

    return make


def settle(qtbot: QtBot, window: MainWindow) -> None:
    place = window.rooms.games
    assert place is not None
    qtbot.waitUntil(lambda: not place.shelf.reading and not window._runner.busy(), timeout=20_000)


def known_player(games: Path, **changes: object) -> dict[str, object]:
    return {"games_files": (str(games),), "player": OWNER, **changes}


def rows(place: GamesPlace) -> list[str]:
    model = place.list.table.model()
    role = Qt.ItemDataRole.AccessibleTextRole
    return [model.index(row, 0).data(role) for row in range(model.rowCount())]


def texts(place: GamesPlace) -> list[str]:
    return [label.text() for label in place.page.findChildren(QLabel) if label.isVisible()]


def button(place: GamesPlace, text: str) -> QPushButton:
    return next(
        one for one in place.findChildren(QPushButton) if one.isVisible() and text in one.text()
    )


def press(qtbot: QtBot, place: GamesPlace, section: Section) -> None:
    qtbot.mouseClick(place.words.buttons[section], Qt.MouseButton.LeftButton)


def learn(path: Path, line: str, move: str, day: int) -> None:
    """Drill a decision of the small repertoire right on a day of February 2026."""
    from trainer.memory.course import read_course_file

    locations = find_locations()
    locations.progress_file.parent.mkdir(parents=True, exist_ok=True)
    at = datetime(2026, 2, day, 12, tzinfo=UTC)
    with ProgressStore.open(locations.progress_file, clock=lambda: at) as store:
        repertoire = read_course_file(path, store).repertoire
        keys = [node.key for node in repertoire.decisions()]
        store.record(
            Answer(
                repertoire_id=store.identify(path, repertoire.side, keys),
                key=node_after(repertoire, line).key,
                move=move,
                kind=AnswerKind.DRILL,
                at=at,
                grade=Grade.CLEAN,
                played=move,
                seconds=2.0,
            )
        )


def take_back(qtbot: QtBot, window: MainWindow) -> None:
    """Undo the edit, so that nothing asks about it when the window closes."""
    desk = window.desk
    assert desk is not None
    qtbot.waitUntil(lambda: desk.undoable != "", timeout=10_000)
    desk.undo()
    qtbot.waitUntil(lambda: not desk.engaged, timeout=10_000)


# -- the list ------------------------------------------------------------------------------------


def test_the_list_tells_how_far_each_game_was_known_and_who_left(
    qtbot: QtBot, show: Show, games: Path
) -> None:
    _, place = show(**known_player(games))
    assert rows(place) == [
        "2026-03-15, Gorse, Hal, Linden, Mara, Gorse, Hal, 1–0, not at all, your other "
        "colour: 1 e4",
        "2026-03-12, Linden, Mara, Fir, Gus, Fir, Gus, 1–0, from later on, you: 1 Nf3, not "
        "learnt yet",
        "2026-03-09, Linden, Mara, Elm, Fay, Elm, Fay, 1–0, 3 g3, line ended: 3…c5",
        "2026-03-05, Linden, Mara, Cedar, Di, Cedar, Di, 0–1, 1 d3, opponent: 1…e5",
        "2026-03-01, Linden, Mara, Birch, Cy, Birch, Cy, 1–0, 1…d5, you: 2 c3, not learnt yet",
    ]
    assert place.list.status == "5 games."
    assert place.list.table.hasFocus()


def test_filter_kinds_and_sorting(qtbot: QtBot, show: Show, games: Path) -> None:
    _, place = show(**known_player(games))
    qtbot.keyClick(place, Qt.Key.Key_F, Qt.KeyboardModifier.ControlModifier)
    assert place.list.filter.hasFocus()
    qtbot.keyClicks(place.list.filter, "fay g3")
    assert rows(place) == []
    place.list.filter.setText("elm")
    assert len(rows(place)) == 1
    qtbot.mouseClick(button(place, "Show"), Qt.MouseButton.LeftButton)
    expected = {
        Kind.ALL: 5,
        Kind.PLAYER: 2,
        Kind.FORGOTTEN: 0,
        Kind.OPPONENT: 1,
        Kind.LINE_END: 1,
        Kind.CAME_BACK: 1,
        Kind.OTHER_COLOUR: 1,
    }
    for number, (kind, count) in enumerate(expected.items()):
        place.list.kind.setCurrentIndex(number)
        assert len(rows(place)) == count, kind
    place.list.kind.setCurrentIndex(0)
    place.list.table.sortByColumn(3, Qt.SortOrder.AscendingOrder)
    names = [row.split(", ")[5] for row in rows(place)]
    assert len(names) == 5
    place.list.table.sortByColumn(5, Qt.SortOrder.DescendingOrder)
    assert "line ended" in rows(place)[0]


def test_the_player_is_guessed_only_where_it_is_plain_and_can_be_changed(
    qtbot: QtBot, show: Show, games: Path
) -> None:
    window, place = show(games_files=(str(games),))
    assert window.settings.player == OWNER
    qtbot.waitUntil(lambda: load_settings(find_locations().settings_file)[0].player == OWNER)
    assert place.list.player.currentText() == OWNER
    place.list.player.setCurrentIndex(0)
    place.list.player.activated.emit(place.list.player.findText("Ash, Bo"))
    qtbot.waitUntil(lambda: not place.shelf.reading)
    other = place.list.player.findText("Birch, Cy")
    place.list.player.activated.emit(other)
    settle(qtbot, window)
    assert place.list.status == "1 game, 4 of other players left aside."
    place.list.player.activated.emit(0)


def test_games_of_everybody_are_nobodys_memory(
    qtbot: QtBot, show: Show, games: Path, small: Path
) -> None:
    learn(small, "d3 d5", "g1f3", 10)
    window, place = show(**known_player(games))
    assert window.course is not None
    window.course.discount_slips(window.course.counted_slips())
    games.write_text(GAMES.replace("2026.03.01", "2026.03.02"), encoding="utf-8")
    place.list.player.activated.emit(0)
    settle(qtbot, window)
    assert place.list.player.currentText() == "Everybody’s games"
    assert window.settings.player == ""
    assert window.course.counted_slips() == []
    assert place.gathered is not None
    assert place.gathered.forgotten == ()
    assert rows(place)[-1].endswith("1…d5, White: 2 c3")
    place.list.table.choose(4)
    qtbot.keyClick(place.list.table, Qt.Key.Key_Return)
    assert "White left with 2 c3; prepared were 2 Nf3 and g3." in texts(place)


def test_a_name_that_two_people_share_is_said(
    qtbot: QtBot, show: Show, games: Path, tmp_path: Path
) -> None:
    more = tmp_path / "more.pgn"
    more.write_text(game("1. d3", White="Linden, Max"), encoding="utf-8")
    window, place = show(games_files=(str(games), str(more)), player="Linden")
    assert "could be “Linden, Mara” and “Linden, Max”" in place.list.status
    assert rows(place) == []
    choice = place.list.player.findText("Linden, Max")
    place.list.player.activated.emit(choice)
    settle(qtbot, window)
    assert len(rows(place)) == 1


# -- one game ------------------------------------------------------------------------------------


def test_a_game_is_walked_by_keys_and_mouse(qtbot: QtBot, show: Show, games: Path) -> None:
    _, place = show(**known_player(games))
    place.list.table.choose(1)
    qtbot.keyClick(place.list.table, Qt.Key.Key_Return)
    page = place.page
    assert page.isVisible()
    assert page.ribbon.hasFocus()
    assert texts(place)[:2] == ["Linden, Mara – Fir, Gus", "1–0 · 2026-03-12 · Club evening"]
    # 1 Nf3 is not prepared; after 1…d5 2 d3 the position is known again.
    assert page.ply == 1
    assert [bool(page.entry.walk.known_at(ply)) for ply in range(6)] == [
        True,
        False,
        False,
        True,
        True,
        True,
    ]
    qtbot.keyClick(page.ribbon, Qt.Key.Key_N)
    assert page.ply == 3
    assert "After 2 d3, known" in texts(place)
    qtbot.keyClick(page.ribbon, Qt.Key.Key_Right)
    assert page.ply == 4
    qtbot.keyClick(page.ribbon, Qt.Key.Key_End)
    assert page.ply == 5
    assert not page._after.isEnabled()
    qtbot.keyClick(page.ribbon, Qt.Key.Key_Home)
    assert page.ply == 0
    assert page.board.board.fen().startswith("rnbqkbnr/pppppppp")
    strip = page.ribbon.strip
    qtbot.mouseClick(strip, Qt.MouseButton.LeftButton, pos=QPoint(20, round(strip.y_of(3))))
    assert page.ply == 3
    qtbot.keyClick(page.ribbon, Qt.Key.Key_Escape)
    assert place.list.table.isVisible()
    assert place.list.table.hasFocus()


def test_departure_reentry_and_remedy_in_words(qtbot: QtBot, show: Show, games: Path) -> None:
    window, place = show(**known_player(games))
    place.list.table.choose(3)
    qtbot.keyClick(place.list.table, Qt.Key.Key_Return)
    words = texts(place)
    assert "Known up to 1 d3." in words
    assert "Black left with 1…e5; known was 1…d5." in words
    with qtbot.waitSignal(place.answer_wanted) as wanted:
        qtbot.mouseClick(button(place, "Add 1…e5"), Qt.MouseButton.LeftButton)
    node, move = wanted.args
    assert (node.turn, move.uci()) == (False, "e7e5")
    take_back(qtbot, window)


def test_adding_the_opponents_move_opens_the_workshop_there(
    qtbot: QtBot, show: Show, games: Path
) -> None:
    window, place = show(**known_player(games))
    place.list.table.choose(3)
    qtbot.keyClick(place.list.table, Qt.Key.Key_Return)
    qtbot.mouseClick(button(place, "Add 1…e5"), Qt.MouseButton.LeftButton)
    course = window.course
    assert course is not None
    qtbot.waitUntil(
        lambda: "e5" in [edge.san for edge in node_after(course.repertoire, "d3").edges]
    )
    assert window.desk is not None
    assert window.places.current() is window.desk.page
    # Back among the games the move is known.
    qtbot.waitUntil(lambda: not window._runner.busy())
    window.desk.author.leaving.emit()
    qtbot.waitUntil(lambda: window.places.current() is place, timeout=10_000)
    qtbot.waitUntil(lambda: "1…e5" in rows(place)[3].split(", ")[-2], timeout=10_000)
    take_back(qtbot, window)


def test_an_answer_is_chosen_with_the_engine_beside_it(
    qtbot: QtBot, show: Show, games: Path
) -> None:
    """With Stockfish itself; the player never leaves the keys."""
    window, place = show(**known_player(games, engine_seconds=1))
    place.list.filter.setText("Elm")
    place.list.table.choose(0)
    qtbot.keyClick(place.list.table, Qt.Key.Key_Return)
    qtbot.mouseClick(button(place, "Add 3…c5"), Qt.MouseButton.LeftButton)
    panel = window.engine.suggestions
    assert panel is not None
    qtbot.waitUntil(lambda: panel.lines.count() == 3, timeout=60_000)
    # The note on fair play stands there the first time.
    assert "breaks the Laws" in panel.fair_play.text()
    qtbot.waitUntil(lambda: load_settings(find_locations().settings_file)[0].engine_note_read)
    # As long as it looks, the lines may still change places.
    qtbot.waitUntil(lambda: panel._request is None, timeout=60_000)
    first = panel.lines.item(0).text()
    assert first.split("\n")[1].startswith("4 "), first
    panel.lines.setFocus()
    qtbot.keyClick(panel.lines, Qt.Key.Key_Return)
    san = first.split(":")[0]
    course = window.course
    assert course is not None
    qtbot.waitUntil(
        lambda: (
            [edge.san for edge in node_after(course.repertoire, "d3 d5 Nf3 Nf6 g3 c5").edges]
            == [san]
        ),
        timeout=10_000,
    )
    desk = window.desk
    assert desk is not None
    desk.undo()
    take_back(qtbot, window)


def test_the_workshop_opens_at_the_last_known_position(
    qtbot: QtBot, show: Show, games: Path
) -> None:
    window, place = show(**known_player(games))
    place.list.table.choose(3)
    qtbot.keyClick(place.list.table, Qt.Key.Key_Return)
    place.page.go(3)
    window.edit_here()
    assert window.desk is not None
    assert window.places.current() is window.desk.page
    spot = window.desk.author.spot
    assert window.course is not None
    assert spot is not None
    assert spot.node is node_after(window.course.repertoire, "d3")


def test_a_broken_game_is_shown_as_far_as_it_goes(qtbot: QtBot, show: Show, games: Path) -> None:
    games.write_text(game("1. Ke4", Date="2026.05.01") + game("1. d3 Ke4"), encoding="utf-8")
    _, place = show(**known_player(games))
    assert "game 1, line 7: “Ke4” is not a legal move at the start" in place.list.status
    place.list.table.choose(0)
    qtbot.keyClick(place.list.table, Qt.Key.Key_Return)
    page = place.page
    assert (page.ply, len(page._boards)) == (0, 1)
    assert any(text.startswith("Line 7: “Ke4” is not a legal move") for text in texts(place))
    for key in (Qt.Key.Key_N, Qt.Key.Key_Right, Qt.Key.Key_End, Qt.Key.Key_Left):
        qtbot.keyClick(page.ribbon, key)
    assert page.ply == 0
    qtbot.keyClick(page.ribbon, Qt.Key.Key_Escape)
    assert place.list.table.hasFocus()


def test_own_departure_can_be_drilled(qtbot: QtBot, show: Show, games: Path) -> None:
    window, place = show(**known_player(games))
    place.list.table.choose(4)
    qtbot.keyClick(place.list.table, Qt.Key.Key_Return)
    assert "You left with 2 c3; prepared were 2 Nf3 and g3, which you had not learnt yet." in (
        texts(place)
    )
    qtbot.mouseClick(button(place, "Drill it"), Qt.MouseButton.LeftButton)
    qtbot.waitUntil(
        lambda: window.drills.controller is not None and window.drills.controller.running
    )


def test_own_departure_can_be_asked_in_todays_drill(qtbot: QtBot, show: Show, games: Path) -> None:
    window, place = show(**known_player(games))
    place.list.table.choose(4)
    qtbot.keyClick(place.list.table, Qt.Key.Key_Return)
    asked = button(place, "today")
    asked.setFocus()
    qtbot.keyClick(asked, Qt.Key.Key_Space)
    assert asked.text() == "Asked first in today’s drill"
    assert not asked.isEnabled()
    course = window.course
    assert course is not None
    window.start_drill()
    controller = window.drills.controller
    assert controller is not None
    qtbot.waitUntil(lambda: controller.running)
    assert controller._session is not None
    prompt = controller._session.prompt
    assert prompt is not None
    assert prompt.board.epd() == node_after(course.repertoire, "d3 d5").board().epd()


def test_marks_of_the_ribbon_do_not_need_colour(qtbot: QtBot, show: Show, games: Path) -> None:
    _, place = show(**known_player(games))
    place.list.table.choose(1)
    qtbot.keyClick(place.list.table, Qt.Key.Key_Return)
    line = place.page.ribbon._line
    assert line is not None
    assert line.marks == {1: "you left", 3: "back"}
    assert place.page.entry is not None
    assert list(place.page.entry.walk.steps) == [
        Step.LEFT,
        Step.OUTSIDE,
        Step.BACK,
        Step.KNOWN,
        Step.KNOWN,
    ]
    place.page.go(3)
    assert place.page.ribbon.accessibleDescription() == "2 d3, known, back"


# -- many games ----------------------------------------------------------------------------------


def spoken(place: GamesPlace) -> list[str]:
    model = place.figures.list.model()
    role = Qt.ItemDataRole.AccessibleTextRole
    return [model.index(row, 0).data(role) for row in range(model.rowCount())]


def test_places_lead_to_their_games(qtbot: QtBot, show: Show, games: Path) -> None:
    _, place = show(**known_player(games))
    press(qtbot, place, Section.PLACES)
    assert len(spoken(place)) == 4
    assert any(
        "1…e5. after 1 d3; prepared: d5. 1 game, the opponent left" in s for s in spoken(place)
    )
    row = next(n for n, s in enumerate(spoken(place)) if s.startswith("1…e5"))
    place.figures.list.choose_row(row)
    qtbot.keyClick(place.figures.list, Qt.Key.Key_Return)
    assert place.section is Section.GAMES
    assert len(rows(place)) == 1
    qtbot.keyClick(place, Qt.Key.Key_Escape)
    assert len(rows(place)) == 5


def test_depth_by_month_and_what_never_occurs(qtbot: QtBot, show: Show, games: Path) -> None:
    _, place = show(**known_player(games))
    press(qtbot, place, Section.DEPTH)
    assert place.figures.chart.isVisible()
    said = place.figures.chart.accessibleDescription()
    assert said == "March 2026: 1.0 moves in known lines, 4 games"
    press(qtbot, place, Section.NEVER)
    assert "of this repertoire never occurred" in place.figures.note.text() or (
        "There is no reply" in place.figures.note.text()
    )


def test_forgotten_decisions_count_once_and_can_be_taken_back(
    qtbot: QtBot, show: Show, games: Path, small: Path
) -> None:
    learn(small, "d3 d5", "g1f3", 10)
    window, place = show(**known_player(games))
    assert place.list.status == (
        "5 games. 1 forgotten decision now counts for memory; see Forgotten."
    )
    course = window.course
    assert course is not None
    (counted,) = course.counted_slips()
    assert (counted.played, counted.grade) == ("c2c3", Grade.MISSED)
    press(qtbot, place, Section.FORGOTTEN)
    assert spoken(place) == [
        "2 Nf3 was prepared. you played c3, once. last 2026-03-01 against Birch, Cy"
    ]
    qtbot.mouseClick(button(place, "this one"), Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: not place.figures.take_one.isVisible())
    assert course.counted_slips() == []
    # Reading the games again does not count it again.
    place.shelf.refresh()
    settle(qtbot, window)
    assert course.counted_slips() == []
    qtbot.keyClick(place.figures.list, Qt.Key.Key_Return)
    assert place.page.isVisible()
    assert place.page.ply == 3


def test_nothing_is_counted_where_the_player_does_not_want_it(
    qtbot: QtBot, show: Show, games: Path, small: Path
) -> None:
    learn(small, "d3 d5", "g1f3", 10)
    window, place = show(**known_player(games, count_games=False))
    course = window.course
    assert course is not None
    assert course.counted_slips() == []
    press(qtbot, place, Section.FORGOTTEN)
    assert not place.figures.count.isChecked()
    place.figures.count.setChecked(True)
    settle(qtbot, window)
    assert len(course.counted_slips()) == 1
    assert window.settings.count_games


# -- where the games come from -------------------------------------------------------------------


def test_without_games_it_says_what_to_do_and_takes_the_demo(qtbot: QtBot, show: Show) -> None:
    window, place = show(repertoire_path(DEMO))
    assert place.list.add.isVisible()
    assert not place.list.table.isVisible()
    qtbot.mouseClick(place.list.demo, Qt.MouseButton.LeftButton)
    settle(qtbot, window)
    qtbot.waitUntil(lambda: place.list.status.startswith("152 games, 92 of other players"))
    assert window.settings.player == OWNER
    assert [len(rows(place)), place.words.buttons[0].text()] == [152, "Games 152"]


def test_a_dropped_file_is_added(qtbot: QtBot, show: Show, games: Path) -> None:
    window, place = show()
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(games))])
    event = QDropEvent(
        QPointF(20, 20),
        Qt.DropAction.CopyAction,
        data,
        Qt.MouseButton.LeftButton,
        Qt.KeyboardModifier.NoModifier,
    )
    place.list.dropEvent(event)
    settle(qtbot, window)
    qtbot.waitUntil(lambda: len(rows(place)) == 5)
    assert window.settings.games_files == (str(games),)
    assert window.course is not None
    assert window.course.path != games


def test_new_games_of_a_watched_folder_appear_by_themselves(
    qtbot: QtBot, show: Show, games: Path
) -> None:
    window, place = show(games_folders=(str(games.parent),), player=OWNER)
    assert len(rows(place)) == 5
    # Half written: a comment that has no end yet, and no result.
    new = games.parent / "new.pgn"
    whole = game("1. d3 d5 2. Nf3 {a long thought} g6", Date="2026.04.01", Black="Holly, Ida")
    new.write_text(whole[: whole.index("long")], encoding="utf-8")
    qtbot.waitUntil(lambda: len(rows(place)) == 6, timeout=20_000)
    assert "new.pgn, game 1" in place.list.status
    new.write_text(whole, encoding="utf-8")
    qtbot.waitUntil(lambda: "opponent: 2…g6" in rows(place)[0], timeout=20_000)
    qtbot.waitUntil(lambda: "new.pgn" not in place.list.status, timeout=20_000)
    # Replaced in one step, as careful programs save: still watched.
    other = games.parent / "new.tmp"
    other.write_text(whole + whole.replace("04.01", "04.02"), encoding="utf-8")
    other.replace(new)
    qtbot.waitUntil(lambda: len(rows(place)) == 7, timeout=20_000)
    new.unlink()
    qtbot.waitUntil(lambda: len(rows(place)) == 5, timeout=20_000)
    settle(qtbot, window)


def test_a_game_that_stands_in_two_files_is_shown_once(
    qtbot: QtBot, show: Show, games: Path
) -> None:
    shutil.copy(games, games.with_name("copy.pgn"))
    _, place = show(games_folders=(str(games.parent),), player=OWNER)
    assert len(rows(place)) == 5
    assert "5 stood in the files more than once" in place.list.status


def test_reading_shows_how_far_it_is_and_can_be_stopped(
    qtbot: QtBot, show: Show, make_window: MakeWindow, small: Path, tmp_path: Path
) -> None:
    many = tmp_path / "many.pgn"
    text = repertoire_path("demo-games.pgn").read_text(encoding="utf-8")
    with many.open("w", encoding="utf-8") as file:
        for year in range(40):
            file.write(text.replace('[Date "202', f'[Date "{150 + year}'))
    window = make_window(small, **known_player(many))
    window.places.go(3)
    place = window.rooms.games
    assert place is not None
    qtbot.waitUntil(lambda: place.list.status.startswith("Reading games … "), timeout=20_000)
    qtbot.mouseClick(place.list.stop, Qt.MouseButton.LeftButton)
    assert not place.shelf.reading
    assert place.list.status == "Reading was stopped, so games are missing here."
    assert place.gathered is None
    many.write_text(GAMES, encoding="utf-8")
    qtbot.mouseClick(place.list.stop, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: len(rows(place)) == 5, timeout=20_000)
    settle(qtbot, window)
    assert place.list.status == "5 games."
    assert not place.list.stop.isVisible()


def test_a_missing_file_is_said_and_the_others_are_shown(
    qtbot: QtBot, show: Show, games: Path, tmp_path: Path
) -> None:
    gone = tmp_path / "gone.pgn"
    _, place = show(games_files=(str(gone), str(games)), player=OWNER)
    assert len(rows(place)) == 5
    assert f"There is no file {gone}" in place.list.status


def test_another_repertoire_takes_the_games_along(qtbot: QtBot, show: Show, games: Path) -> None:
    window, place = show(**known_player(games))
    with qtbot.waitSignal(window.ready, timeout=20_000):
        window.open(repertoire_path(DEMO))
    assert place.gathered is None
    window.places.go(3)
    settle(qtbot, window)
    assert len(rows(place)) == 5
    assert "1 d3" in rows(place)[-1]


@pytest.mark.parametrize("size", [(560, 640), (1400, 1000)])
@pytest.mark.parametrize("scale", [1.0, 2.0])
def test_every_part_has_room(
    qtbot: QtBot, show: Show, games: Path, size: tuple[int, int], scale: float
) -> None:
    window, place = show(**known_player(games, scale=scale))
    window.resize(*size)
    qtbot.wait(50)
    assert place.width() <= size[0]
    place.list.table.choose(1)
    qtbot.keyClick(place.list.table, Qt.Key.Key_Return)
    qtbot.wait(50)
    page = place.page
    assert place.width() <= size[0]
    board = page.board.geometry()
    assert not board.intersects(page.ribbon.geometry())
    assert page.rect().contains(board)
    assert page.rect().contains(page.ribbon.geometry())


# -- reach by what was played --------------------------------------------------------------------


def test_reach_follows_the_games_and_is_kept(
    qtbot: QtBot, show: Show, make_window: MakeWindow, games: Path, small: Path
) -> None:
    text = small.read_text(encoding="utf-8").replace("1. d3 {", "1. d3 (1. c3 d5) {")
    small.write_text(text.replace("d5 2. Nf3", "d5 (1... e5 2. g3) 2. Nf3"), encoding="utf-8")
    window, _ = show(small, **known_player(games))
    course = window.course
    assert course is not None
    after_d3 = node_after(course.repertoire, "d3")
    qtbot.waitUntil(lambda: bool(course.replies.own), timeout=10_000)
    settle(qtbot, window)
    # 1…d5 was met twice and 1…e5 once; the base, which there is none of, makes both alike.
    assert course.replies.own[after_d3.key] == {"d7d5": 2, "e7e5": 1}
    numbers = [
        course.arrays.number(node_after(course.repertoire, f"d3 {san}")) for san in ("d5", "e5")
    ]
    shares = [float(course.reach[number]) for number in numbers]
    assert shares[0] / shares[1] == pytest.approx((2 + 5) / (1 + 5))
    window.close()
    again = make_window(small, **known_player(games))
    assert again.course is not None
    assert again.course.replies == course.replies
    assert [float(again.course.reach[number]) for number in numbers] == pytest.approx(shares)


# -- while another place is on the screen --------------------------------------------------------


def told(window: MainWindow) -> tuple[str, str]:
    """What stands at the place Games, and what the status line says."""
    return window.places.bar.tabText(3), window.statusBar().currentMessage()


def test_games_count_before_anybody_looks_at_them(
    qtbot: QtBot, make_window: MakeWindow, games: Path, small: Path
) -> None:
    learn(small, "d3 d5", "g1f3", day=3)
    window = make_window(small, games_folders=(str(games.parent),), player=OWNER)
    course = window.course
    assert course is not None
    qtbot.waitUntil(lambda: course.replies.games == 5, timeout=20_000)
    qtbot.waitUntil(lambda: told(window)[0] == "Games · 5 new", timeout=20_000)
    assert window.places.current() is window.today
    assert "5 new games; 1 forgotten decision counts for memory now." in told(window)[1]
    assert len(course.counted_slips()) == 1
    after_d3 = node_after(course.repertoire, "d3")
    assert course.replies.own[after_d3.key]["d7d5"] == 2
    qtbot.waitUntil(lambda: not window._runner.busy(), timeout=20_000)
    # The focus stays where the player has put it, though the figures are renewed.
    window.today.minutes.setFocus()
    new = games.with_name("new.pgn")
    new.write_text(game("1. d3 d5 2. Nf3 g6", Date="2026.04.01", Black="Holly, Ida"), "utf-8")
    qtbot.waitUntil(lambda: told(window)[0] == "Games · 1 new", timeout=20_000)
    assert told(window)[1] == "Your games: 1 new game."
    qtbot.waitUntil(lambda: course.replies.own[after_d3.key]["d7d5"] == 3, timeout=20_000)
    qtbot.waitUntil(lambda: not window._runner.busy(), timeout=20_000)
    assert window.today.minutes.hasFocus()
    # Going there shows them at once: nothing is read a second time.
    window.places.go(3)
    place = window.rooms.games
    assert place is not None
    assert len(rows(place)) == 6
    assert told(window)[0] == "Games"
    settle(qtbot, window)
    window.close()
    # Nothing is new the next time.
    again = make_window(small, games_folders=(str(games.parent),), player=OWNER)
    qtbot.waitUntil(
        lambda: again.rooms._own is not None and again.rooms._own.reading is not None,
        timeout=20_000,
    )
    assert told(again)[0] == "Games"


def test_a_drill_is_not_disturbed_by_new_games(
    qtbot: QtBot, make_window: MakeWindow, games: Path, small: Path
) -> None:
    window = make_window(small, games_folders=(str(games.parent),), player=OWNER)
    qtbot.waitUntil(lambda: told(window)[0] == "Games · 5 new", timeout=20_000)
    qtbot.waitUntil(lambda: not window._runner.busy(), timeout=20_000)
    own = window.rooms._own
    assert own is not None
    window.start_drill()
    qtbot.waitUntil(lambda: window.drills.controller.running, timeout=20_000)
    new = games.with_name("new.pgn")
    new.write_text(game("1. d3 d5 2. Nf3 g6", Date="2026.04.01", Black="Holly, Ida"), "utf-8")
    # Longer than it takes to see the file and to look whether the drill is over.
    qtbot.wait(2_500)
    assert not own.shelf.reading
    assert told(window)[0] == "Games · 5 new"
    window.drills.leave()
    qtbot.waitUntil(lambda: told(window)[0] == "Games · 1 new", timeout=20_000)


def test_the_base_measures_reach_before_anybody_goes_to_games(
    qtbot: QtBot, make_window: MakeWindow, games: Path, small: Path, tmp_path: Path
) -> None:
    from trainer.games.base.builder import build_base

    text = small.read_text(encoding="utf-8").replace("1. d3 {", "1. d3 (1. c3 d5) {")
    small.write_text(text.replace("d5 2. Nf3", "d5 (1... e5 2. g3) 2. Nf3"), encoding="utf-8")
    base = tmp_path / "all.base"
    build_base(base, [games], jobs=1)
    window = make_window(small, base_file=str(base))
    course = window.course
    assert course is not None
    after_d3 = node_after(course.repertoire, "d3")
    qtbot.waitUntil(lambda: bool(course.replies.base), timeout=20_000)
    assert course.replies.base[after_d3.key] == {"d7d5": 2, "e7e5": 1}
    assert window.places.current() is window.today
    qtbot.waitUntil(lambda: not window._runner.busy(), timeout=20_000)


def test_what_was_counted_goes_with_the_games_and_the_base(
    qtbot: QtBot, make_window: MakeWindow, games: Path, small: Path, tmp_path: Path
) -> None:
    from trainer.games.base.builder import build_base

    text = small.read_text(encoding="utf-8").replace("1. d3 {", "1. d3 (1. c3 d5) {")
    small.write_text(text.replace("d5 2. Nf3", "d5 (1... e5 2. g3) 2. Nf3"), encoding="utf-8")
    base = tmp_path / "all.base"
    build_base(base, [games], jobs=1)
    window = make_window(small, **known_player(games))
    course = window.course
    assert course is not None
    qtbot.waitUntil(lambda: bool(course.replies.own), timeout=20_000)
    # A base that is chosen in its own box is asked without going to Games.
    window.rooms.base_desk().choose(base)
    qtbot.waitUntil(lambda: bool(course.replies.base), timeout=20_000)
    window.rooms.base_desk().choose(None)
    qtbot.waitUntil(lambda: not course.replies.base, timeout=20_000)
    assert course.replies.own
    qtbot.waitUntil(lambda: not window._runner.busy(), timeout=20_000)
    window.close()
    again = make_window(small, player=OWNER)
    course = again.course
    assert course is not None
    assert course.replies.own
    qtbot.waitUntil(lambda: not course.replies, timeout=20_000)
    qtbot.waitUntil(lambda: not again._runner.busy(), timeout=20_000)
