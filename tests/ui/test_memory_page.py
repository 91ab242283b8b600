"""The page Memory and exercises, in the real window."""

from __future__ import annotations

import random
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from PySide6.QtCore import QDate, Qt
from pytestqt.qtbot import QtBot

from tests.ui.conftest import MakeWindow
from tests.ui.drilling import press
from trainer.memory.model import PARAMETERS
from trainer.storage.answers import Answer, AnswerKind, Grade
from trainer.ui.main_window import MainWindow
from trainer.ui.memory.exercise_dialog import ExerciseDialog
from trainer.ui.memory.page import MemoryPage

DEMO = Path(__file__).resolve().parents[2] / "repertoires" / "kings-indian-attack.pgn"


def answer_for_weeks(window: MainWindow, *, days: int = 40, decisions: int = 60) -> None:
    """Answers of one who forgets fast, as if given over the past weeks."""
    course = window.course
    assert course is not None
    rng = random.Random(4)
    begin = datetime.now(UTC) - timedelta(days=days + 1)
    for node in course.repertoire.decisions()[:decisions]:
        move = node.edges[0].move.uci()
        day = rng.randint(0, 3)
        while day < days:
            right = rng.random() < 0.6
            answer = Answer(
                repertoire_id=course.repertoire_id,
                key=node.key,
                move=move,
                kind=AnswerKind.DRILL,
                at=begin + timedelta(days=day),
                grade=Grade.CLEAN if right else Grade.MISSED,
                played=move,
                seconds=rng.uniform(1, 6),
            )
            assert course._store is not None
            course._store.record(answer)
            day += rng.choice([1, 2, 5, 9])


@pytest.fixture
def drilled(make_window: MakeWindow, qtbot: QtBot) -> MainWindow:
    """The window on the demo, after weeks of answers."""
    window = make_window(DEMO)
    answer_for_weeks(window)
    with qtbot.waitSignal(window.ready, timeout=20_000):
        window.open(DEMO)
    return window


def open_page(window: MainWindow, qtbot: QtBot) -> MemoryPage:
    window.today.memory_button.click()
    assert window.memory.desk is not None
    page = window.memory.desk.page
    assert window.places.current() is page
    qtbot.waitUntil(lambda: "Looking" not in page._known.text(), timeout=20_000)
    return page


def choose(window: MainWindow, qtbot: QtBot) -> ExerciseDialog:
    window.today.exercise_button.click()
    qtbot.waitUntil(lambda: bool(window.findChildren(ExerciseDialog)), timeout=20_000)
    return window.findChildren(ExerciseDialog)[-1]


def test_the_page_shows_what_is_known_and_leads_back(drilled: MainWindow, qtbot: QtBot) -> None:
    page = open_page(drilled, qtbot)
    assert "Log-loss" in page._known.text()
    assert page.calibration.isVisible()
    assert "right" in page.calibration.accessibleDescription()
    assert "min a day over the coming 30 days" in page._ahead.text()
    assert "A right answer took you" in page._pace.text()
    assert "plans count on 4.0 s for a right answer" in page._pace.text()
    qtbot.keyClick(page.back_button, Qt.Key.Key_Escape)
    assert drilled.places.current() is drilled.today


def test_a_fit_is_tried_told_and_can_be_undone(drilled: MainWindow, qtbot: QtBot) -> None:
    page = open_page(drilled, qtbot)
    page.fit_button.click()
    qtbot.waitUntil(lambda: "log-loss went from" in page.fitted.text(), timeout=60_000)
    course = drilled.course
    assert course is not None
    assert "new parameters are in use" in page.fitted.text()
    qtbot.waitUntil(lambda: course.states.model.parameters != PARAMETERS, timeout=20_000)
    assert page.undo_button.isVisible()
    page.undo_button.click()
    qtbot.waitUntil(lambda: course.states.model.parameters == PARAMETERS, timeout=20_000)
    assert not page.undo_button.isVisible()


def test_a_player_without_answers_is_told_what_will_stand_there(
    make_window: MakeWindow, small: Path, qtbot: QtBot
) -> None:
    window = make_window(small)
    page = open_page(window, qtbot)
    assert page._known.text().startswith("No move was asked on two days yet.")
    assert page._ahead.text().startswith("Nothing is learnt yet")
    assert not page.calibration.isVisible()
    assert not page.fit_button.isEnabled()


def test_a_section_has_its_cost_and_a_tournament_its_minutes(
    drilled: MainWindow, qtbot: QtBot
) -> None:
    page = open_page(drilled, qtbot)
    page.section.setCurrentIndex(page.section.count() - 1)
    page.section.activated.emit(page.section.currentIndex())
    qtbot.waitUntil(lambda: "min a day over 30 days" in page.cost.text(), timeout=30_000)
    page.line_up.setCurrentIndex(1)
    page.day.setDate(QDate.currentDate().addDays(8))
    page.has_tournament.setChecked(True)
    qtbot.waitUntil(lambda: "by " in page.ready.text(), timeout=60_000)
    assert "of full depth on that day" in page.ready.text()
    day = (datetime.now().date() + timedelta(days=8)).isoformat()
    assert drilled.settings.tournament_day == day
    page.has_tournament.setChecked(False)
    assert drilled.settings.tournament_day is None
    assert page.ready.text() == ""


def test_an_exercise_is_chosen_and_asks_only_that(
    make_window: MakeWindow, small: Path, qtbot: QtBot
) -> None:
    window = make_window(small)
    dialog = choose(window, qtbot)
    kinds = [dialog.kind.itemText(number) for number in range(dialog.kind.count())]
    assert kinds[0] == "A section"
    assert "Missed" not in kinds
    dialog.kind.setCurrentText("An opponent's reply")
    dialog.which.setCurrentIndex(1)
    wanted = set(dialog.nodes())
    assert len(wanted) == 1
    dialog.accept()
    qtbot.waitUntil(lambda: window.drills.controller.running, timeout=20_000)
    assert window.drills.controller is not None
    session = window.drills.controller._session
    assert session is not None
    assert session.prompt is not None
    assert {session.prompt.node} == wanted
    assert session.prompt.total == 1


def test_without_the_board_moves_are_announced_and_the_answer_is_typed(
    make_window: MakeWindow, small: Path, qtbot: QtBot
) -> None:
    window = make_window(small)
    dialog = choose(window, qtbot)
    dialog.kind.setCurrentText("An opponent's reply")
    dialog.which.setCurrentIndex(1)
    dialog.blind.setChecked(True)
    dialog.accept()
    controller = window.drills.controller
    assert controller is not None
    qtbot.waitUntil(lambda: controller._prompt is not None, timeout=20_000)
    qtbot.waitUntil(
        lambda: "The board stays behind" in window.drills.view.asked.text(), timeout=20_000
    )
    assert "1. d3 d5 2. Nf3 Nf6" in window.drills.view.asked.text()
    assert window.drills.view.board.board.fen().startswith("rnbqkbnr/pppppppp/8/8/8/8")
    # A false alarm does not bring the board back: it is not that of the question.
    press(qtbot, window, "l")
    assert not window.drills.view.board.interactive
    window.drills.view.entry.setText("g3")
    press(qtbot, window, Qt.Key.Key_Return)
    course = window.course
    assert course is not None
    qtbot.waitUntil(lambda: len(course.answers) == 2, timeout=20_000)
    assert course.answers[0].kind is AnswerKind.FALSE_ALARM
    assert course.answers[1].grade in (Grade.CLEAN, Grade.SLOW)
