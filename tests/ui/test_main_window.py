"""The main window as its user meets it: files, boxes, settings, trouble with the disk."""

from __future__ import annotations

import random
import resource
import sqlite3
import threading
from pathlib import Path

import chess
import pytest
from PySide6.QtCore import QMimeData, QPoint, QPointF, Qt, QUrl
from PySide6.QtGui import QDragEnterEvent, QDropEvent, QPalette
from PySide6.QtWidgets import QApplication, QLabel, QScrollArea, QToolButton, QWidget
from pytestqt.qtbot import QtBot

from tests.ui.boxes import BoxPresser, interpreted_texts
from tests.ui.conftest import LONG_WAIT, NewWindow, open_file
from tests.ui.drilling import answer_typed, go_on, press, start
from tests.ui.plain_settings import save_plain_settings
from trainer.errors import ProgressLockedError
from trainer.resources import repertoire_path
from trainer.storage.locations import find_locations
from trainer.storage.progress import ProgressStore
from trainer.storage.settings import load_settings, utc_now
from trainer.ui.app import first_file
from trainer.ui.drill.controller import Stage
from trainer.ui.main_window import DEMO, MainWindow
from trainer.ui.theme import DARK, LIGHT

WHITE = '[Event "{name}"]\n[RepertoireSide "White"]\n\n'


@pytest.fixture
def new_window(boxes: BoxPresser, new_window: NewWindow) -> NewWindow:
    """In these tests no box comes that was not expected."""
    save_plain_settings(appearance="light")
    return new_window


def write(path: Path, moves: str, *, head: str | None = None) -> Path:
    text = WHITE.format(name=path.stem) if head is None else head
    path.write_text(f"{text}{moves}\n", encoding="utf-8")
    return path


def open_in_vain(qtbot: QtBot, window: MainWindow, path: Path) -> str:
    """The sentence that stands on Today instead of figures."""
    window.open(path)
    qtbot.waitUntil(lambda: not window._runner.busy(), timeout=LONG_WAIT)
    return window.today._summary.text()


def shown(widget: QWidget) -> str:
    """All text that stands on the screen in `widget`."""
    return "\n".join(
        label.text() for label in widget.findChildren(QLabel) if label.isVisibleTo(widget)
    )


def choose(window: MainWindow, *texts: str) -> None:
    """Choose an entry of the menu bar: the menus by their texts, then the entry."""
    actions = window.menuBar().actions()
    *menus, last = texts
    for text in menus:
        menu = next(a for a in actions if a.text().replace("&", "") == text).menu()
        actions = menu.actions()
    action = next(a for a in actions if a.text().replace("&", "") == last)
    assert action.isEnabled(), last
    action.trigger()


def back_to_today(qtbot: QtBot, window: MainWindow) -> None:
    qtbot.waitUntil(window.drills.summary.isVisible)
    with qtbot.waitSignal(window.ready, timeout=LONG_WAIT):
        qtbot.mouseClick(window.drills.summary.back_button, Qt.MouseButton.LeftButton)


def answers_kept() -> list[tuple[str, str | None]]:
    connection = sqlite3.connect(find_locations().progress_file)
    rows = connection.execute("SELECT move, grade FROM answers ORDER BY id").fetchall()
    connection.close()
    return rows


def big_file(path: Path, lines: int = 1500) -> Path:
    """A repertoire that takes a while to read: random lines of 40 half-moves."""
    rng = random.Random(7)
    games = []
    for number in range(lines):
        board = chess.Board()
        words = []
        for _ in range(40):
            moves = list(board.legal_moves)
            if not moves:
                break
            move = rng.choice(moves)
            words.append(board.san(move))
            board.push(move)
        games.append(WHITE.format(name=f"Line {number}") + " ".join(words) + " *\n")
    path.write_text("\n".join(games), encoding="utf-8")
    return path


def working_threads() -> list[threading.Thread]:
    return [thread for thread in threading.enumerate() if thread.name.startswith("work")]


# -- opening -------------------------------------------------------------------------------------


def test_the_first_start_opens_the_demo_and_explains_itself(
    qtbot: QtBot, new_window: NewWindow
) -> None:
    window = new_window()
    open_file(qtbot, window, first_file(window, None))
    assert window.windowTitle() == "Kings Indian Attack — Stemline"
    assert "worth asking now" in shown(window.today)
    assert "a few minutes a day" in shown(window.today)
    assert window.today.start_button.isEnabled()
    assert window.today.start_button.hasFocus()


def test_recent_files_and_the_last_one(
    qtbot: QtBot, new_window: NewWindow, tmp_path: Path
) -> None:
    one = write(tmp_path / "first & foremost.pgn", "1. d3 *")
    two = write(tmp_path / "second.pgn", "1. e4 *")
    window = new_window()
    open_file(qtbot, window, one)
    open_file(qtbot, window, two)
    entries = [action.text() for action in window._recent_menu.actions()]
    assert entries == ["&1 second.pgn", "&2 first && foremost.pgn"]
    with qtbot.waitSignal(window.ready, timeout=LONG_WAIT):
        window._recent_menu.actions()[1].trigger()
    assert window.windowTitle() == "First & Foremost — Stemline"
    window.close()
    second = new_window()
    assert first_file(second, None) == one
    one.unlink()
    assert first_file(second, None) == repertoire_path(DEMO)


def drop(window: MainWindow, *urls: QUrl) -> tuple[bool, bool]:
    """Drag `urls` onto the window and let go; whether each of the two was accepted."""
    data = QMimeData()
    data.setUrls(list(urls))
    middle = QPoint(300, 300)
    buttons, modifiers = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
    enter = QDragEnterEvent(middle, Qt.DropAction.CopyAction, data, buttons, modifiers)
    enter.ignore()
    QApplication.sendEvent(window, enter)
    let_go = QDropEvent(QPointF(middle), Qt.DropAction.CopyAction, data, buttons, modifiers)
    let_go.ignore()
    QApplication.sendEvent(window, let_go)
    return enter.isAccepted(), let_go.isAccepted()


def test_a_dropped_pgn_is_opened(qtbot: QtBot, new_window: NewWindow, tmp_path: Path) -> None:
    path = write(tmp_path / "Dropped.PGN", "1. d3 *")
    window = new_window()
    with qtbot.waitSignal(window.ready, timeout=LONG_WAIT):
        assert drop(window, QUrl("http://example.org/x.pgn"), QUrl.fromLocalFile(str(path))) == (
            True,
            True,
        )
    assert window.windowTitle() == "Dropped — Stemline"


def test_what_is_no_pgn_of_this_machine_cannot_be_dropped(
    new_window: NewWindow, tmp_path: Path
) -> None:
    window = new_window()
    for url in (QUrl("http://example.org/x.pgn"), QUrl.fromLocalFile(str(tmp_path / "x.txt"))):
        assert drop(window, url) == (False, False)
    assert window.course is None


def test_the_side_is_asked_once_where_the_file_does_not_say(
    qtbot: QtBot, new_window: NewWindow, boxes: BoxPresser, tmp_path: Path
) -> None:
    path = write(tmp_path / "mine.pgn", "1. d3 d5 2. Nf3 *", head='[Event "?"]\n\n')
    window = new_window()
    boxes.press("White")
    open_file(qtbot, window, path)
    assert "mine.pgn does not say for which side it is prepared." in boxes.said[0]
    assert window.course.side == chess.WHITE
    window.close()
    # Remembered: a box would be unexpected now.
    again = open_file(qtbot, new_window(), path)
    assert again.course.side == chess.WHITE


def test_a_wrong_guess_is_corrected_and_remembered(
    qtbot: QtBot, new_window: NewWindow, boxes: BoxPresser, tmp_path: Path
) -> None:
    path = write(tmp_path / "mine.pgn", "1. e4 c5 2. Nf3 d6 3. d4 *", head='[Event "?"]\n\n')
    window = new_window()
    boxes.press("Black")
    open_file(qtbot, window, path)
    assert "It looks like a repertoire for White" in boxes.said[0]
    assert window.course.side == chess.BLACK
    start(qtbot, window)
    answer_typed(qtbot, window, "c5")
    assert window.drills.view.panel.verdict.text() == "Right."
    window.close()
    assert open_file(qtbot, new_window(), path).course.side == chess.BLACK


BROKEN = (
    WHITE.format(name="One")
    + "1. d3 d5 2. Nf3 Nf6 3. Qh7 *\n\n"
    + WHITE.format(name="Two")
    + "1. d3 e5 2. Ke3 *\n"
)


def test_what_was_not_read_is_told_with_game_and_line(
    qtbot: QtBot, new_window: NewWindow, boxes: BoxPresser, tmp_path: Path
) -> None:
    path = write(tmp_path / "broken.pgn", "", head=BROKEN)
    window = open_file(qtbot, new_window(), path)
    notice = window.today._notice.text()
    assert notice.startswith("broken.pgn, game 1, line 4: ")
    assert "Qh7" in notice
    assert notice.endswith("(1 more: File, What was not read)")
    assert "2 positions are worth asking" in shown(window.today)
    boxes.press("OK")
    choose(window, "File", "What was not read …")
    assert "The rest of broken.pgn was read." in boxes.said[0]
    assert "Game 1, line 4: " in boxes.said[0]
    assert "Game 2, line 9: " in boxes.said[0]


UNREADABLE = {
    "missing": Path.exists,
    "a folder": Path.mkdir,
    "binary": lambda path: path.write_bytes(bytes(range(256)) * 20),
}
SENTENCES = {
    "missing": "There is no file {path}; check the name or choose another file.",
    "a folder": "{path} is a folder; choose a PGN file in it.",
    "binary": ("{path} is not a text file; choose a repertoire in PGN, saved as plain text."),
}


@pytest.mark.parametrize("kind", UNREADABLE)
def test_a_file_that_cannot_be_read_leaves_the_window_usable(
    qtbot: QtBot, new_window: NewWindow, small: Path, tmp_path: Path, kind: str
) -> None:
    path = tmp_path / "bad.pgn"
    UNREADABLE[kind](path)
    window = open_file(qtbot, new_window(), small)
    assert open_in_vain(qtbot, window, path) == SENTENCES[kind].format(path=path)
    assert not window.today.start_button.isEnabled()
    assert window.windowTitle() == "Stemline"
    # Nothing of the repertoire before is left to be taken for this one.
    assert "Nothing was missed" not in shown(window.today)
    assert str(path) not in window.settings.recent_files
    open_file(qtbot, window, small)
    start(qtbot, window)
    answer_typed(qtbot, window, "d3")
    assert answers_kept() == [("d2d3", "clean")]


def test_a_file_without_games(
    qtbot: QtBot, new_window: NewWindow, boxes: BoxPresser, tmp_path: Path
) -> None:
    path = tmp_path / "empty.pgn"
    path.write_text("")
    boxes.press("White")
    window = open_file(qtbot, new_window(), path)
    assert "This repertoire has no prepared move yet." in shown(window.today)
    assert not window.today.start_button.isEnabled()
    window.start_drill()
    qtbot.waitUntil(lambda: not window._runner.busy())
    assert window.today.isVisible()


def test_a_repertoire_of_its_first_position_only(
    qtbot: QtBot, new_window: NewWindow, tmp_path: Path
) -> None:
    window = open_file(qtbot, new_window(), write(tmp_path / "bare.pgn", "*"))
    assert "This repertoire has no prepared move yet." in shown(window.today)


def test_a_disputed_main_move_is_told(qtbot: QtBot, new_window: NewWindow, tmp_path: Path) -> None:
    games = "1. d3 d5 2. Nf3 *\n\n" + WHITE.format(name="Other") + "1. d3 d5 2. g3 *"
    window = open_file(qtbot, new_window(), write(tmp_path / "two.pgn", games))
    assert window.today._notice.text() == (
        "1 position of this repertoire has two main moves in different sections; the first one "
        "is asked."
    )


MARKUP = (
    "<b>bold</b> <img src='http://127.0.0.1:9/x.png'> <a href='file:///etc/passwd'>file</a> &amp;"
)


def test_markup_in_a_file_is_shown_and_never_interpreted(
    qtbot: QtBot, new_window: NewWindow, boxes: BoxPresser, tmp_path: Path
) -> None:
    head = f'[Event "{MARKUP}"]\n[RepertoireSide "White"]\n[SetUp "1"]\n'
    head += f'[FEN "{chess.STARTING_FEN}"]\n\n'
    # Written with a wrong move, so that the report quotes the file as well.
    path = write(
        tmp_path / "<i>slanted<i>.pgn", f"{{{MARKUP}}} 1. d3 {{{MARKUP}}} d5 2. <b>x *", head=head
    )
    window = open_file(qtbot, new_window(), path)
    interpreted = interpreted_texts(window)
    start(qtbot, window)
    answer_typed(qtbot, window, "e4")
    interpreted += interpreted_texts(window)
    answer_typed(qtbot, window, "d3")
    assert MARKUP in window.drills.view.panel.note.text()
    interpreted += interpreted_texts(window)
    qtbot.keyClick(window.drills.view.entry, Qt.Key.Key_Escape)
    interpreted += interpreted_texts(window)
    back_to_today(qtbot, window)
    interpreted += interpreted_texts(window)
    (row,) = window.today.missed.findChildren(QToolButton)
    boxes.press("Close", "OK")
    qtbot.mouseClick(row, Qt.MouseButton.LeftButton)
    assert MARKUP in boxes.said[0]
    choose(window, "File", "What was not read …")
    assert "<i>slanted<i>.pgn" in boxes.said[1]
    assert interpreted + boxes.interpreted == []


# -- settings ------------------------------------------------------------------------------------


def colour_of(window: MainWindow, square: str) -> str:
    """The colour in the middle of a square of the board, as `#RRGGBB`."""
    geometry = window.drills.view.board.geometry_now()
    x, y = geometry.centre(chess.parse_square(square))
    return window.drills.view.board.grab().toImage().pixelColor(round(x), round(y)).name().upper()


def test_changed_settings_take_effect_and_are_there_the_next_time(
    qtbot: QtBot, new_window: NewWindow, boxes: BoxPresser, qapp: QApplication, small: Path
) -> None:
    window = open_file(qtbot, new_window(), small)
    start(qtbot, window)
    answer_typed(qtbot, window, "d3")
    go_on(qtbot, window)
    sheet = qapp.styleSheet()
    assert colour_of(window, "h3") == LIGHT.board_paper
    assert qapp.palette().color(QPalette.ColorRole.Window).name().upper() == LIGHT.paper

    def change(dialog: QWidget) -> None:
        for name, data in (("appearance", "dark"), ("notation", "figurines"), ("scale", 2.0)):
            box = getattr(dialog, name)
            box.setCurrentIndex(box.findData(data))
        dialog.board_style.setCurrentIndex(dialog.board_style.findData("plain"))
        dialog.coordinates.setChecked(False)

    boxes.before = change
    boxes.press("OK")
    choose(window, "File", "Settings …")
    assert qapp.palette().color(QPalette.ColorRole.Window).name().upper() == DARK.paper
    assert qapp.styleSheet() != sheet
    assert colour_of(window, "h3") == DARK.board_paper
    assert window.drills.controller.stage is Stage.ASKING
    answer_typed(qtbot, window, "Nf3")
    assert window.drills.view.panel.detail.text().startswith(
        "♘f3"
    )  # on a busy machine: but slowly
    window.close()
    expected = {
        "appearance": "dark",
        "notation": "figurines",
        "scale": 2.0,
        "board_style": "plain",
        "coordinates": False,
    }
    saved, notice = load_settings(find_locations().settings_file)
    assert notice is None
    assert {name: getattr(saved, name) for name in expected} == expected
    second = new_window()
    assert {name: getattr(second.settings, name) for name in expected} == expected
    open_file(qtbot, second, small)
    start(qtbot, second)
    assert colour_of(second, "h3") == DARK.board_paper


def test_cancelled_settings_change_nothing(
    qtbot: QtBot, new_window: NewWindow, boxes: BoxPresser, small: Path
) -> None:
    window = open_file(qtbot, new_window(), small)
    before = window.settings
    boxes.before = lambda dialog: dialog.minutes.setValue(99)
    boxes.press("Cancel")
    choose(window, "File", "Settings …")
    assert window.settings == before


def test_damaged_settings_are_told_and_kept_aside(
    qtbot: QtBot, new_window: NewWindow, small: Path
) -> None:
    path = find_locations().settings_file
    path.write_text('{"minutes": ')
    window = new_window()
    assert "was damaged and is kept as settings.json.damaged-" in (
        window.statusBar().currentMessage()
    )
    open_file(qtbot, window, small)
    assert len(list(path.parent.glob("settings.json.damaged-*"))) == 1


def test_settings_that_cannot_be_written_are_told(
    qtbot: QtBot, new_window: NewWindow, small: Path
) -> None:
    window = new_window()
    path = find_locations().settings_file
    path.unlink()
    path.mkdir()
    open_file(qtbot, window, small)
    said = f"The settings file {path} cannot be written"
    qtbot.waitUntil(lambda: window.statusBar().currentMessage().startswith(said))
    path.rmdir()


def test_other_minutes_plan_anew_and_are_kept(
    qtbot: QtBot, new_window: NewWindow, boxes: BoxPresser
) -> None:
    window = open_file(qtbot, new_window(), repertoire_path(DEMO))
    plan = window.today._plan.text()
    with qtbot.waitSignal(window.ready, timeout=LONG_WAIT):
        window.today.minutes.setValue(3)
    assert window.today._plan.text() != plan
    qtbot.waitUntil(lambda: load_settings(find_locations().settings_file)[0].minutes == 3)


def test_minutes_changed_just_before_the_start_hold_for_the_drill_and_later(
    qtbot: QtBot, new_window: NewWindow
) -> None:
    window = open_file(qtbot, new_window(), repertoire_path(DEMO))
    window.today.minutes.setValue(2)
    start(qtbot, window)
    qtbot.waitUntil(lambda: load_settings(find_locations().settings_file)[0].minutes == 2)
    # No figures are counted while the drill changes what they are counted from.
    assert not window._replan.isActive()
    assert not window._runner.busy()


def test_a_drill_asked_for_on_the_command_line_begins_by_itself(
    qtbot: QtBot, new_window: NewWindow, small: Path
) -> None:
    window = new_window()
    window.open(small, drill_minutes=7)
    qtbot.waitUntil(
        lambda: (
            window.drills.controller is not None and window.drills.controller.stage is Stage.ASKING
        ),
        timeout=LONG_WAIT,
    )
    assert window.drills.view.isVisible()
    with sqlite3.connect(find_locations().progress_file) as connection:
        assert connection.execute("SELECT minutes FROM sessions").fetchall() == [(7,)]
    connection.close()


def test_a_box_opened_by_one_result_lets_the_others_through(
    qtbot: QtBot, new_window: NewWindow, boxes: BoxPresser, small: Path
) -> None:
    window = open_file(qtbot, new_window(), small)
    heard: list[str] = []

    def listen(sentence: str) -> None:
        heard.append(sentence)
        if sentence == "first":
            window._complain(sentence)

    boxes.press("OK")
    for sentence in ("first", "second"):
        window._runner.start(
            lambda _control, sentence=sentence: sentence, done=listen, failed=heard.append
        )
    qtbot.waitUntil(lambda: heard == ["first", "second"])
    assert boxes.said == ["Stemline\nfirst"]


# -- drills --------------------------------------------------------------------------------------


def test_starting_twice_begins_one_drill(qtbot: QtBot, new_window: NewWindow, small: Path) -> None:
    window = open_file(qtbot, new_window(), small)
    with qtbot.waitSignal(window.drills.controller.asked, timeout=LONG_WAIT):
        window.start_drill()
        window.start_drill()
    qtbot.waitUntil(lambda: not window._runner.busy())
    answer_typed(qtbot, window, "d3")
    assert window.drills.controller.stage is Stage.READING
    with sqlite3.connect(find_locations().progress_file) as connection:
        assert connection.execute("SELECT count(*) FROM sessions").fetchone() == (1,)
    connection.close()


def test_another_file_opened_while_a_drill_begins(
    qtbot: QtBot, new_window: NewWindow, small: Path, tmp_path: Path
) -> None:
    window = open_file(qtbot, new_window(), small)
    other = write(tmp_path / "other.pgn", "1. e4 *")
    window.start_drill()
    open_file(qtbot, window, other)
    qtbot.waitUntil(lambda: not window._runner.busy())
    assert not window.drills.controller.running
    assert window.today.isVisible()
    assert window.today.start_button.isEnabled()


def test_drill_again(qtbot: QtBot, new_window: NewWindow, tmp_path: Path) -> None:
    path = write(tmp_path / "long.pgn", "1. d3 d5 2. Nf3 Nf6 3. g3 *")
    window = open_file(qtbot, new_window(), path)
    start(qtbot, window)
    answer_typed(qtbot, window, "d3")
    qtbot.keyClick(window.drills.view.entry, Qt.Key.Key_Escape)
    assert "1 position asked, 1 right at once" in shown(window.drills.summary)
    with qtbot.waitSignal(window.drills.controller.asked, timeout=LONG_WAIT):
        qtbot.mouseClick(window.drills.summary.again_button, Qt.MouseButton.LeftButton)
    answer_typed(qtbot, window, "Nf3")
    assert answers_kept() == [("d2d3", "clean"), ("g1f3", "clean")]


def test_drill_again_where_nothing_is_left_to_ask(
    qtbot: QtBot, new_window: NewWindow, tmp_path: Path
) -> None:
    window = open_file(qtbot, new_window(), write(tmp_path / "one.pgn", "1. d3 *"))
    start(qtbot, window)
    answer_typed(qtbot, window, "d3")
    qtbot.keyClick(window.drills.view.entry, Qt.Key.Key_Space)
    qtbot.waitUntil(window.drills.summary.isVisible)
    with qtbot.waitSignal(window.ready, timeout=LONG_WAIT):
        qtbot.mouseClick(window.drills.summary.again_button, Qt.MouseButton.LeftButton)
    assert window.today.isVisible()
    assert "Nothing is worth asking now" in shown(window.today)
    assert "a few minutes a day" not in shown(window.today)


def test_a_flagged_position_is_shown_and_the_flag_taken_off(
    qtbot: QtBot, new_window: NewWindow, boxes: BoxPresser, small: Path
) -> None:
    window = open_file(qtbot, new_window(), small)
    assert "Flagged positions" not in shown(window.today)
    start(qtbot, window)
    press(qtbot, window, "m")
    qtbot.keyClick(window.drills.view.entry, Qt.Key.Key_Escape)
    back_to_today(qtbot, window)
    assert "Flagged positions" in shown(window.today)
    assert "flagged on " in shown(window.today)
    boxes.press("Take the flag off")
    with qtbot.waitSignal(window.ready, timeout=LONG_WAIT):
        qtbot.mouseClick(
            window.today.flagged.findChildren(QToolButton)[0], Qt.MouseButton.LeftButton
        )
    assert "Flagged positions" not in shown(window.today)
    assert "The modest start." in boxes.said[0]


def test_a_long_comment_can_be_scrolled(
    qtbot: QtBot, new_window: NewWindow, tmp_path: Path
) -> None:
    comment = " ".join(f"word{number}" for number in range(2000))
    window = open_file(qtbot, new_window(), write(tmp_path / "long.pgn", f"1. d3 {{{comment}}} *"))
    start(qtbot, window)
    answer_typed(qtbot, window, "d3")
    assert window.drills.view.panel.note.text() == comment
    scroll = window.drills.view.panel.findChildren(QScrollArea)[0]
    qtbot.waitUntil(lambda: scroll.verticalScrollBar().maximum() > 0)
    assert scroll.horizontalScrollBar().maximum() == 0
    assert window.height() <= 900


@pytest.mark.parametrize("width", [600, 700, 1080])
@pytest.mark.parametrize("scale", [1.0, 1.5])
def test_nothing_written_in_the_drill_is_cut_off(
    qtbot: QtBot, new_window: NewWindow, small: Path, width: int, scale: float
) -> None:
    window = new_window()
    window._change(scale=scale)
    window._apply_settings()
    open_file(qtbot, window, small)
    window.resize(width, 640)
    start(qtbot, window)
    drill = window.drills.view
    drill.show_count(100, 123, 99.0)
    parts = [drill.count, drill.continue_button, *drill.buttons.values()]
    qtbot.waitUntil(lambda: all(part.width() >= part.sizeHint().width() for part in parts))


# -- closing -------------------------------------------------------------------------------------


def check_all_is_free() -> None:
    """No thread of the window is left, and its progress file is whole and free."""
    assert working_threads() == []
    with ProgressStore.open(find_locations().progress_file, clock=utc_now) as store:
        assert store.notice is None
        assert store.integrity_check() == []


def test_closing_while_a_file_is_read(qtbot: QtBot, new_window: NewWindow, tmp_path: Path) -> None:
    path = big_file(tmp_path / "big.pgn")
    window = new_window()
    window.open(path)
    qtbot.waitUntil(lambda: "%" in window.today._summary.text(), timeout=LONG_WAIT)
    window.close()
    check_all_is_free()


def test_closing_while_figures_are_counted(qtbot: QtBot, new_window: NewWindow) -> None:
    window = open_file(qtbot, new_window(), repertoire_path(DEMO))
    window.show_today()
    assert window._runner.busy()
    window.close()
    check_all_is_free()


def test_closing_while_a_drill_is_planned(qtbot: QtBot, new_window: NewWindow) -> None:
    window = open_file(qtbot, new_window(), repertoire_path(DEMO))
    window.start_drill()
    window.close()
    check_all_is_free()


def test_closing_in_the_middle_of_a_drill_loses_no_answer(
    qtbot: QtBot, new_window: NewWindow, small: Path
) -> None:
    window = open_file(qtbot, new_window(), small)
    start(qtbot, window)
    answer_typed(qtbot, window, "d3")
    go_on(qtbot, window)
    answer_typed(qtbot, window, "a3")
    assert window.drills.controller.stage is Stage.CORRECTING
    window.close()
    check_all_is_free()
    assert answers_kept() == [("d2d3", "clean"), ("g1f3", "missed")]
    with sqlite3.connect(find_locations().progress_file) as connection:
        ended = connection.execute("SELECT count(*) FROM sessions WHERE ended IS NOT NULL")
        assert ended.fetchone() == (1,)
    connection.close()
    second = open_file(qtbot, new_window(), small)
    qtbot.waitUntil(lambda: "Nf3" in shown(second.today.missed))
    assert "missed once" in shown(second.today.missed)


# -- trouble with the progress file --------------------------------------------------------------


def test_a_second_window_reads_only_and_says_so(
    qtbot: QtBot, new_window: NewWindow, boxes: BoxPresser, small: Path
) -> None:
    first = open_file(qtbot, new_window(), small)
    start(qtbot, first)
    answer_typed(qtbot, first, "d3")
    second = new_window()
    boxes.press("Read only")
    open_file(qtbot, second, small)
    assert "Another Stemline window is using the progress file" in boxes.said[0]
    assert second.today._notice.text() == (
        "Read only: another Stemline window keeps the answers, those given here are forgotten."
    )
    # It knows what was answered in the first one, and drills without keeping anything.
    assert "a few minutes a day" not in shown(second.today)
    start(qtbot, second)
    answer_typed(qtbot, second, "Nf3")
    assert second.drills.view.panel.verdict.text() == "Right."
    go_on(qtbot, second)
    press(qtbot, second, "m")
    assert second.drills.view.message.text() == (
        "Nothing is kept in this window, so a flag would be lost."
    )
    second.close()
    assert answers_kept() == [("d2d3", "clean")]
    with pytest.raises(ProgressLockedError):
        ProgressStore.open(find_locations().progress_file, clock=utc_now)
    go_on(qtbot, first)
    answer_typed(qtbot, first, "Nf3")
    assert answers_kept()[-1] == ("g1f3", "clean")


def test_a_second_window_that_is_declined_closes(
    qtbot: QtBot, new_window: NewWindow, boxes: BoxPresser, small: Path
) -> None:
    open_file(qtbot, new_window(), small)
    second = new_window()
    boxes.press("Quit")
    second.open(small)
    qtbot.waitUntil(lambda: not second.isVisible(), timeout=LONG_WAIT)
    assert second.course is None
    assert boxes.said


def test_a_progress_folder_that_cannot_be_made(
    qtbot: QtBot, new_window: NewWindow, small: Path
) -> None:
    folder = find_locations().data
    folder.write_text("in the way")
    window = open_file(qtbot, new_window(), small)
    assert window.today._notice.text().startswith(
        f"Answers given now are forgotten when you close: The folder {folder} cannot be made"
    )
    start(qtbot, window)
    answer_typed(qtbot, window, "d3")
    assert window.drills.view.panel.verdict.text() == "Right."
    assert folder.read_text() == "in the way"


def test_a_disk_that_is_full_when_another_repertoire_is_opened(
    qtbot: QtBot, new_window: NewWindow, small: Path, tmp_path: Path
) -> None:
    window = open_file(qtbot, new_window(), small)
    other = write(tmp_path / "other.pgn", "1. e4 *")
    start(qtbot, window)
    answer_typed(qtbot, window, "d3")
    log = find_locations().progress_file.with_name("progress.sqlite-wal")
    # The operating system refuses to let files of this process grow.
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (log.stat().st_size, before[1]))
    try:
        open_file(qtbot, window, other)
        notice = window.today._notice.text()
        start(qtbot, window)
        answer_typed(qtbot, window, "e4")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
    assert notice.startswith(
        "Answers given now are forgotten when you close: The progress file "
        f"{find_locations().progress_file} cannot be written: "
    )
    assert window.drills.view.panel.verdict.text() == "Right."
    # Now there is room again.
    open_file(qtbot, window, small)
    assert window.today._notice.text() == ""
    assert "a few minutes a day" not in shown(window.today)
    start(qtbot, window)
    answer_typed(qtbot, window, "Nf3")
    window.close()
    check_all_is_free()
    assert answers_kept() == [("d2d3", "clean"), ("g1f3", "clean")]


def test_a_damaged_progress_file_is_kept_aside(
    qtbot: QtBot, new_window: NewWindow, small: Path
) -> None:
    path = find_locations().progress_file
    path.parent.mkdir(parents=True)
    path.write_bytes(b"This is no database. " * 500)
    window = open_file(qtbot, new_window(), small)
    notice = window.today._notice.text()
    assert notice.startswith(f"The progress file {path} was damaged (")
    assert notice.endswith("a new, empty one was started.")
    (kept,) = [one for one in path.parent.iterdir() if "damaged" in one.name]
    assert kept.read_bytes().startswith(b"This is no database.")
    start(qtbot, window)
    answer_typed(qtbot, window, "d3")
    assert answers_kept() == [("d2d3", "clean")]


def test_a_missing_progress_file_is_told(qtbot: QtBot, new_window: NewWindow, small: Path) -> None:
    window = open_file(qtbot, new_window(), small)
    window.close()
    path = find_locations().progress_file
    for entry in path.parent.glob("progress.sqlite*"):
        if not entry.name.endswith(".lock"):
            entry.unlink()
    second = open_file(qtbot, new_window(), small)
    assert second.today._notice.text() == (
        f"The progress file {path} is missing and a new, empty one was started; if you moved it, "
        "close Stemline and put it back."
    )
