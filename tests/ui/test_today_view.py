from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import chess
import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QLabel, QToolButton
from pytestqt.qtbot import QtBot

from trainer.memory.today import DayLoad, Depth, NotedDecision, Today
from trainer.repertoire.graph import Repertoire
from trainer.repertoire.orders import MoveOrder
from trainer.ui.look import Look
from trainer.ui.theme import DARK, LIGHT
from trainer.ui.today.view import TodayView


def make_today(**changes: object) -> Today:
    today = Today(
        decisions=200,
        learnt=40,
        worth_asking=57,
        minutes_needed=13.2,
        questions=20,
        new_questions=6,
        planned_minutes=9.8,
        depth=Depth(now=3.2, without=3.0, drilled=3.9, full=8.4),
        load=tuple(
            DayLoad(date(2026, 3, 1) + timedelta(days=n), n * 3, n * 0.5) for n in range(14)
        ),
        missed=(),
        flagged=(),
    )
    return replace(today, **changes)


def one_missed() -> NotedDecision:
    repertoire = Repertoire()
    board = chess.Board()
    root = repertoire.add_position(board)
    move = board.parse_san("Nf3")
    board.push(move)
    edge = repertoire.add_edge(root, move, repertoire.add_position(board), "Nf3")
    edge.comments = ("Keeps the choice.",)
    return NotedDecision(root, edge, MoveOrder(()), "missed 2 times, last on 1 March")


def show(view: TodayView, today: Today) -> str:
    view.show_today(
        today,
        title="A system",
        notice="",
        look=Look(LIGHT, "letters", 1.0, flipped=False),
    )
    QApplication.processEvents()
    labels = view.findChildren(QLabel)
    return "\n".join(label.text() for label in labels if label.isVisibleTo(view))


@pytest.fixture
def view(qtbot: QtBot) -> TodayView:
    view = TodayView(LIGHT)
    qtbot.addWidget(view)
    view.resize(900, 700)
    view.show()
    return view


def test_the_figures_are_on_the_screen(view: TodayView) -> None:
    text = show(view, make_today())
    assert "57 positions are worth asking now, about 14 minutes in all." in text
    assert "The next drill asks 20 positions, 6 of them new." in text
    assert "3.2 prepared moves in a row" in text
    assert "Nothing was missed lately." in text


def test_the_first_start_explains_itself_in_two_sentences(view: TodayView) -> None:
    welcome = "a few minutes a day"
    assert welcome in show(view, make_today(learnt=0))
    assert welcome not in show(view, make_today(learnt=1))


def test_start_hands_over_the_minutes(view: TodayView, qtbot: QtBot) -> None:
    show(view, make_today())
    view.set_minutes(12)
    with qtbot.waitSignal(view.start) as caught:
        qtbot.mouseClick(view.start_button, Qt.MouseButton.LeftButton)
    assert caught.args == [12]


def test_changing_the_minutes_is_told_but_setting_them_is_not(
    view: TodayView, qtbot: QtBot
) -> None:
    with qtbot.assertNotEmitted(view.minutes_changed):
        view.set_minutes(7)
    with qtbot.waitSignal(view.minutes_changed) as caught:
        qtbot.keyClick(view.minutes, Qt.Key.Key_Up)
    assert caught.args == [8]


def test_nothing_to_ask_leaves_nothing_to_start(view: TodayView) -> None:
    text = show(view, make_today(worth_asking=0, questions=0, minutes_needed=0.0))
    assert "Nothing is worth asking now" in text
    assert not view.start_button.isEnabled()


def test_a_missed_move_shows_its_position_when_pressed(view: TodayView, qtbot: QtBot) -> None:
    missed = one_missed()
    text = show(view, make_today(missed=(missed,)))
    assert "missed 2 times, last on 1 March" in text
    button = view.missed.findChildren(QToolButton)[0]
    with qtbot.waitSignal(view.decision_chosen) as caught:
        qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    assert caught.args == [missed]


def test_it_paints_in_both_themes_and_when_narrow(view: TodayView, qtbot: QtBot) -> None:
    show(view, make_today(missed=(one_missed(),)))
    wide = view.grab().toImage()
    view.set_theme(DARK)
    assert view.grab().toImage() != wide
    view.resize(360, 500)
    qtbot.wait(20)
    assert view.horizontalScrollBar().maximum() == 0
