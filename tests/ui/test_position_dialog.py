"""One position of the repertoire, looked at."""

from __future__ import annotations

import chess
import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel, QScrollArea
from pytestqt.qtbot import QtBot

from tests.ui.boxes import button_called, interpreted_texts
from trainer.memory.today import NotedDecision
from trainer.repertoire.graph import Repertoire
from trainer.repertoire.orders import MoveOrder
from trainer.storage.settings import Settings
from trainer.ui.look import Look
from trainer.ui.position_dialog import PositionDialog
from trainer.ui.theme import DARK, LIGHT


def decision(*comments: str) -> NotedDecision:
    """After 1 d3 d5 the move Nf3 is prepared."""
    board = chess.Board()
    for san in ("d3", "d5"):
        board.push_san(san)
    repertoire = Repertoire()
    node = repertoire.add_position(board)
    move = board.parse_san("Nf3")
    board.push(move)
    edge = repertoire.add_edge(node, move, repertoire.add_position(board), "Nf3")
    edge.comments = comments
    return NotedDecision(node, edge, MoveOrder(("d3", "d5")), "missed once, last on 1 March")


def open_dialog(
    qtbot: QtBot, one: NotedDecision, look: Look | None = None, *, flagged: bool = False
) -> PositionDialog:
    look = look or Look(LIGHT, "letters", 1.0, flipped=False)
    dialog = PositionDialog(one, Settings(), look, flagged=flagged)
    qtbot.addWidget(dialog)
    dialog.show()
    return dialog


def texts(dialog: PositionDialog) -> list[str]:
    return [label.text() for label in dialog.findChildren(QLabel)]


def test_it_shows_position_move_order_and_note(qtbot: QtBot) -> None:
    one = decision("Develops.", "Then Nbd2 and e4.")
    dialog = open_dialog(qtbot, one)
    assert dialog.board.board.board_fen() == one.node.board().board_fen()
    assert texts(dialog) == [
        "Nf3",
        "1 d3 d5",
        "missed once, last on 1 March",
        "Develops.",
        "Then Nbd2 and e4.",
    ]


def test_in_figurines_and_from_the_other_side(qtbot: QtBot) -> None:
    look = Look(DARK, "figurines", 1.0, flipped=True)
    dialog = open_dialog(qtbot, decision("Then Nbd2 and e4."), look)
    assert "♘f3" in texts(dialog)
    assert "Then ♘bd2 and e4." in texts(dialog)
    assert dialog.board.geometry_now().flipped


def test_the_flag_can_be_taken_off_only_where_there_is_one(qtbot: QtBot) -> None:
    assert button_called(open_dialog(qtbot, decision()), "Take the flag off") is None
    dialog = open_dialog(qtbot, decision(), flagged=True)
    assert not dialog.unflag
    button = button_called(dialog, "Take the flag off")
    assert button is not None
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    assert dialog.unflag
    assert not dialog.isVisible()


def test_closing_it_changes_nothing(qtbot: QtBot) -> None:
    dialog = open_dialog(qtbot, decision(), flagged=True)
    qtbot.keyClick(dialog, Qt.Key.Key_Escape)
    assert not dialog.unflag
    assert not dialog.isVisible()


def test_no_move_can_be_made_on_it(qtbot: QtBot) -> None:
    dialog = open_dialog(qtbot, decision())
    with qtbot.assertNotEmitted(dialog.board.move_made):
        for key in (Qt.Key.Key_Return, Qt.Key.Key_Up, Qt.Key.Key_Up, Qt.Key.Key_Return):
            qtbot.keyClick(dialog.board, key)


def test_markup_is_shown_as_it_is_written(qtbot: QtBot) -> None:
    dialog = open_dialog(qtbot, decision("<b>bold</b> <img src='http://127.0.0.1:9/x.png'>"))
    assert interpreted_texts(dialog) == []


def test_the_comment_before_the_move_is_shown_as_well(qtbot: QtBot) -> None:
    one = decision("Develops.")
    one.edge.before = ("The question of this line.",)
    assert texts(open_dialog(qtbot, one))[-2:] == ["The question of this line.", "Develops."]


@pytest.mark.parametrize("words", [400, 4000])
def test_a_long_note_fits_by_scrolling(qtbot: QtBot, words: int) -> None:
    dialog = open_dialog(qtbot, decision(" ".join(["word"] * words)))
    qtbot.waitExposed(dialog)
    assert dialog.height() <= 600
    note = next(label for label in dialog.findChildren(QLabel) if label.text().startswith("word"))
    qtbot.waitUntil(lambda: note.height() >= note.heightForWidth(note.width()))
    bar = dialog.findChildren(QScrollArea)[0].verticalScrollBar()
    assert bar.maximum() + bar.pageStep() >= note.height()
    close = button_called(dialog, "Close")
    assert close is not None
    assert close.mapTo(dialog, close.rect().bottomRight()).y() <= dialog.height()
