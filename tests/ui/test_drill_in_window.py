from __future__ import annotations

import random
from datetime import UTC, datetime, timedelta
from pathlib import Path

import chess
import pytest
from PySide6.QtCore import QPoint, Qt
from pytestqt.qtbot import QtBot

from tests.ui.conftest import MakeWindow
from tests.ui.drilling import (
    answer_typed,
    go_on,
    logged,
    press,
    stage_behind_a_box,
    start,
    wait_until_kept,
)
from trainer.memory.drill import PromptKind
from trainer.position import position_key
from trainer.storage.answers import Answer, AnswerKind, Grade
from trainer.storage.locations import find_locations
from trainer.storage.progress import ProgressStore
from trainer.ui.board.widget import BoardWidget
from trainer.ui.drill.controller import Stage
from trainer.ui.main_window import MainWindow


def centre(board: BoardWidget, square: str) -> QPoint:
    geometry = board.geometry_now()
    x, y = geometry.centre(chess.parse_square(square))
    return QPoint(round(x / geometry.ratio), round(y / geometry.ratio))


def click_move(qtbot: QtBot, window: MainWindow, start: str, end: str) -> None:
    board = window.drills.view.board
    for square in (start, end):
        qtbot.mouseClick(board, Qt.MouseButton.LeftButton, pos=centre(board, square))
    wait_until_kept(qtbot, window)


def drag_move(qtbot: QtBot, window: MainWindow, start: str, end: str) -> None:
    board = window.drills.view.board
    qtbot.mousePress(board, Qt.MouseButton.LeftButton, pos=centre(board, start))
    qtbot.mouseMove(board, pos=centre(board, end))
    qtbot.mouseRelease(board, Qt.MouseButton.LeftButton, pos=centre(board, end))
    wait_until_kept(qtbot, window)


@pytest.fixture
def window(qtbot: QtBot, make_window: MakeWindow, small: Path) -> MainWindow:
    window = make_window(small)
    start(qtbot, window)
    return window


def test_a_whole_drill_with_the_mouse(qtbot: QtBot, window: MainWindow) -> None:
    click_move(qtbot, window, "d2", "d3")
    assert window.drills.view.panel.verdict.text() == "Right."
    assert window.drills.view.panel.note.text() == "The modest start."
    qtbot.mouseClick(window.drills.view.continue_button, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: window.drills.controller.stage is Stage.ASKING)
    drag_move(qtbot, window, "g1", "f3")
    assert window.drills.view.panel.verdict.text() == "Right."
    qtbot.mouseClick(window.drills.view.continue_button, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: window.drills.controller.stage is Stage.ASKING)
    assert window.drills.view.order.text() == "1 d3 d5 2 Nf3 Nf6"
    click_move(qtbot, window, "g2", "g3")
    qtbot.mouseClick(window.drills.view.continue_button, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(window.drills.summary.isVisible)
    assert logged() == [
        ("drill", "d2d3", "clean"),
        ("drill", "g1f3", "clean"),
        ("drill", "g2g3", "clean"),
    ]


def test_a_whole_drill_with_the_keyboard(qtbot: QtBot, window: MainWindow) -> None:
    answer_typed(qtbot, window, "d3")
    go_on(qtbot, window)
    answer_typed(qtbot, window, "nf3")
    go_on(qtbot, window)
    answer_typed(qtbot, window, "g2g3")
    press(qtbot, window, Qt.Key.Key_Return)
    qtbot.waitUntil(window.drills.summary.isVisible)
    qtbot.keyClick(window.drills.summary.back_button, Qt.Key.Key_Space)
    assert window.today.isVisible()


def test_arrow_keys_move_over_the_board(qtbot: QtBot, window: MainWindow) -> None:
    board = window.drills.view.board
    press(qtbot, window, Qt.Key.Key_Left)
    qtbot.keyClick(board, Qt.Key.Key_Left)  # from e2 to d2
    qtbot.keyClick(board, Qt.Key.Key_Return)
    qtbot.keyClick(board, Qt.Key.Key_Up)
    qtbot.keyClick(board, Qt.Key.Key_Return)
    wait_until_kept(qtbot, window)
    assert window.drills.view.panel.verdict.text() == "Right."


def test_letters_typed_on_the_board_go_to_the_move_line(qtbot: QtBot, window: MainWindow) -> None:
    window.drills.view.board.setFocus()
    qtbot.keyClicks(window.drills.view.board, "d")
    assert window.drills.view.entry.text() == "d"
    assert window.drills.view.entry.hasFocus()


def test_a_wrong_move_is_shown_and_must_be_played(qtbot: QtBot, window: MainWindow) -> None:
    answer_typed(qtbot, window, "e4")
    assert window.drills.view.panel.verdict.text() == "Not this one."
    assert "the prepared move is d3" in window.drills.view.panel.detail.text()
    answer_typed(qtbot, window, "a3")
    assert window.drills.controller.stage is Stage.CORRECTING
    answer_typed(qtbot, window, "d3")
    assert window.drills.controller.stage is Stage.READING
    assert logged() == [("drill", "d2d3", "missed")]


def test_a_missed_move_comes_back_until_it_is_right(qtbot: QtBot, window: MainWindow) -> None:
    answer_typed(qtbot, window, "e4")
    answer_typed(qtbot, window, "d3")
    for move in ("Nf3", "g3"):
        go_on(qtbot, window)
        answer_typed(qtbot, window, move)
    go_on(qtbot, window)
    assert window.drills.view.asked.text().startswith("Once more")
    answer_typed(qtbot, window, "d3")
    press(qtbot, window, Qt.Key.Key_Space)
    qtbot.waitUntil(window.drills.summary.isVisible)
    assert logged()[-1] == ("repeat", "d2d3", "clean")


def test_an_accepted_alternative_is_no_mistake(qtbot: QtBot, window: MainWindow) -> None:
    answer_typed(qtbot, window, "d3")
    go_on(qtbot, window)
    answer_typed(qtbot, window, "g3")
    assert window.drills.view.panel.verdict.text() == "Prepared as well."
    assert window.drills.view.panel.detail.text() == (
        "g3 is prepared as well; today's main move is Nf3: play it."
    )
    answer_typed(qtbot, window, "Nf3")
    assert window.drills.controller.stage is Stage.READING
    assert logged() == [("drill", "d2d3", "clean")]


def test_hints_in_two_steps_and_the_grade(qtbot: QtBot, window: MainWindow) -> None:
    press(qtbot, window, "?")
    assert window.drills.view.message.text() == "The piece on d2 moves. Once more shows where to."
    press(qtbot, window, "?")
    assert window.drills.view.message.text() == "From d2 to d3."
    answer_typed(qtbot, window, "d3")
    assert logged() == [("drill", "d2d3", "hinted")]


def test_a_slip_can_be_taken_back(qtbot: QtBot, window: MainWindow) -> None:
    click_move(qtbot, window, "e2", "e3")
    assert window.drills.controller.stage is Stage.CORRECTING
    press(qtbot, window, "u")
    assert window.drills.controller.stage is Stage.ASKING
    click_move(qtbot, window, "d2", "d3")
    assert logged()[-1] == ("drill", "d2d3", "clean")
    assert window.drills.view.panel.verdict.text() == "Right."


def test_skip_flag_pause_turn_and_targets(qtbot: QtBot, window: MainWindow) -> None:
    board = window.drills.view.board
    press(qtbot, window, "p")
    assert board.board.piece_map() == {}
    answer_typed(qtbot, window, "d3")
    assert logged() == []
    press(qtbot, window, Qt.Key.Key_Space)
    assert len(board.board.piece_map()) == 32
    press(qtbot, window, "v")
    assert board.geometry_now().flipped
    press(qtbot, window, "t")
    assert window.drills.view.buttons["targets"].isChecked()
    press(qtbot, window, "m")
    with qtbot.waitSignal(window.drills.controller.asked, timeout=10_000):
        press(qtbot, window, "s")
    assert logged() == [("skipped", "d2d3", None)]
    with qtbot.waitSignal(window.ready, timeout=10_000):
        press(qtbot, window, Qt.Key.Key_Escape)
        window.show_today()
    assert [one.edge.san for one in window._flagged] == ["d3"]


def test_a_drill_stands_still_behind_an_open_box(
    qtbot: QtBot, make_window: MakeWindow, small: Path
) -> None:
    window = make_window(small, pace_seconds=0.2)
    start(qtbot, window)
    answer_typed(qtbot, window, "d3")
    assert window.drills.controller.stage is Stage.READING
    assert stage_behind_a_box(window) is Stage.PAUSED
    assert window.drills.controller.stage is Stage.READING
    qtbot.waitUntil(lambda: window.drills.controller.stage is Stage.ASKING)


def test_a_false_alarm_is_told_and_logged(qtbot: QtBot, window: MainWindow) -> None:
    press(qtbot, window, "l")
    assert window.drills.view.panel.verdict.text() == "A known reply."
    assert window.drills.controller.stage is Stage.ASKING
    assert logged()[0][0] == "false_alarm"


def test_what_is_no_move_is_told_and_kept_for_correction(qtbot: QtBot, window: MainWindow) -> None:
    answer_typed(qtbot, window, "Qh5")
    assert window.drills.view.message.text() == "“Qh5” is not a legal move here."
    assert window.drills.view.entry.text() == "Qh5"
    click_move(qtbot, window, "e2", "e5")
    assert logged() == []


def test_escape_ends_the_drill_and_keeps_the_answers(qtbot: QtBot, window: MainWindow) -> None:
    answer_typed(qtbot, window, "d3")
    press(qtbot, window, Qt.Key.Key_Escape)
    assert window.drills.summary.isVisible()
    assert logged() == [("drill", "d2d3", "clean")]


def test_play_goes_on_by_itself_at_the_chosen_pace(
    qtbot: QtBot, make_window: MakeWindow, small: Path
) -> None:
    window = make_window(small, pace_seconds=0.2)
    start(qtbot, window)
    with qtbot.waitSignal(window.drills.controller.asked, timeout=10_000):
        answer_typed(qtbot, window, "d3")
    assert window.drills.view.order.text() == "1 d3 d5"


def learn_small_repertoire(path: Path) -> None:
    """Ten days ago all three decisions were answered right."""
    then = datetime.now(UTC) - timedelta(days=10)
    board = chess.Board()
    with ProgressStore.open(find_locations().progress_file, clock=lambda: then) as store:
        number = store.identify(path, chess.WHITE, [])
        for san in ("d3", "d5", "Nf3", "Nf6", "g3"):
            move = board.parse_san(san)
            if board.turn == chess.WHITE:
                store.record(
                    Answer(
                        repertoire_id=number,
                        key=position_key(board),
                        move=move.uci(),
                        kind=AnswerKind.DRILL,
                        grade=Grade.CLEAN,
                        at=then,
                        seconds=2.0,
                    )
                )
            board.push(move)


def meet_first_stranger(qtbot: QtBot, window: MainWindow) -> None:
    """Answer until the open question stands behind a stranger."""
    for _ in range(4):
        prompt = window.drills.controller._prompt
        assert prompt is not None
        if prompt.kind is PromptKind.STRANGER:
            return
        answer_typed(qtbot, window, prompt.node.edges[0].san)
        go_on(qtbot, window)
    raise AssertionError("no stranger came")


@pytest.fixture
def window_with_strangers(qtbot: QtBot, make_window: MakeWindow, small: Path) -> MainWindow:
    learn_small_repertoire(small)
    # A seed by which the first reply is replaced: below the rate of 0.5.
    seed = next(number for number in range(100) if random.Random(number).random() < 0.5)
    window = make_window(small, rng=random.Random(seed), strangers=True, stranger_rate=0.5)
    start(qtbot, window)
    meet_first_stranger(qtbot, window)
    return window


def test_a_stranger_is_noticed_by_its_key(qtbot: QtBot, window_with_strangers: MainWindow) -> None:
    press(qtbot, window_with_strangers, "l")
    panel = window_with_strangers.drills.view.panel
    assert panel.verdict.text() == "A stranger, noticed."
    assert panel.detail.text().endswith("is not in the repertoire.")
    assert logged()[-1] == ("stranger_noticed", "", None)


def test_a_move_played_against_a_stranger_is_told_apart(
    qtbot: QtBot, window_with_strangers: MainWindow
) -> None:
    answer_typed(qtbot, window_with_strangers, "a3")
    assert window_with_strangers.drills.view.panel.verdict.text() == "A stranger, not noticed."
    assert logged()[-1] == ("stranger_unnoticed", "", None)
    press(qtbot, window_with_strangers, Qt.Key.Key_Escape)
    assert "0 of 1 stranger noticed" in window_with_strangers.drills.summary._strangers.text()


def test_figurines_where_the_player_chose_them(
    qtbot: QtBot, make_window: MakeWindow, small: Path
) -> None:
    window = make_window(small, notation="figurines")
    start(qtbot, window)
    answer_typed(qtbot, window, "d3")
    go_on(qtbot, window)
    window.drills.view.entry.insert("♘f3")
    press(qtbot, window, Qt.Key.Key_Return)
    assert window.drills.view.panel.detail.text() == "♘f3."
    go_on(qtbot, window)
    assert window.drills.view.order.text() == "1 d3 d5 2 ♘f3 ♘f6"


def test_black_stands_at_the_bottom_of_a_repertoire_for_black(
    qtbot: QtBot, make_window: MakeWindow, tmp_path: Path
) -> None:
    path = tmp_path / "black.pgn"
    path.write_text('[Event "B"]\n[RepertoireSide "Black"]\n\n1. e4 c5 2. Nf3 d6 *\n')
    window = make_window(path)
    start(qtbot, window)
    assert window.drills.view.board.geometry_now().flipped
    answer_typed(qtbot, window, "c5")
    assert window.drills.view.panel.verdict.text() == "Right."


def test_promotion_by_typing_and_by_key(
    qtbot: QtBot, make_window: MakeWindow, tmp_path: Path
) -> None:
    path = tmp_path / "endgame.pgn"
    path.write_text(
        '[Event "Push"]\n[RepertoireSide "White"]\n[SetUp "1"]\n'
        '[FEN "7k/P7/8/8/8/8/8/K7 w - - 0 40"]\n\n40. a8=R+ {Not a queen, for once.} *\n'
    )
    window = make_window(path)
    start(qtbot, window)
    assert window.drills.view.order.text() == "Push: the position it begins with"
    board = window.drills.view.board
    click_move(qtbot, window, "a7", "a8")
    assert board.choosing_promotion
    board.setFocus()
    qtbot.keyClicks(board, "r")
    wait_until_kept(qtbot, window)
    assert window.drills.view.panel.verdict.text() == "Right."


def test_moves_are_taken_back_and_another_reply_follows(
    qtbot: QtBot, make_window: MakeWindow, tmp_path: Path
) -> None:
    path = tmp_path / "branches.pgn"
    head = '[Event "Branches"]\n[RepertoireSide "White"]\n\n'
    path.write_text(f"{head}1. e4 e5 (1... c5 2. c3) 2. Nf3 *\n")
    window = make_window(path)
    start(qtbot, window)
    answer_typed(qtbot, window, "e4")
    go_on(qtbot, window)
    first, order = window.drills.view.asked.text(), window.drills.view.order.text()
    assert first == "New to you: what would you play?"
    replies = {"e5": "Nf3", "c5": "c3"}
    before = order.split()[-1]
    answer_typed(qtbot, window, replies.pop(before))
    ((now, answer),) = replies.items()
    with qtbot.waitSignal(window.drills.controller.asked, timeout=10_000):
        press(qtbot, window, Qt.Key.Key_Space)
        watch = f"Back, and another reply: 1…{now} instead of 1…{before}."
        assert window.drills.view.asked.text() == watch
        # The board is where the lines part, then the reply is played.
        assert window.drills.view.board.board.fen().startswith("rnbqkbnr/pppppppp/8/8/4P3")
    assert window.drills.view.order.text() == f"1 e4 {now}"
    asked = window.drills.view.asked.text()
    assert asked == f"New to you, now 1…{now} instead of 1…{before}: what would you play?"
    answer_typed(qtbot, window, answer)
    assert window.drills.view.panel.verdict.text() == "Right."
