"""Lines of text do not end within a move, and what was written is what is read back."""

from __future__ import annotations

import chess
import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QTextLayout, QTextOption
from PySide6.QtWidgets import QLabel, QListWidget, QStyleOptionViewItem
from pytestqt.qtbot import QtBot

from trainer.notation.lines import kept_together
from trainer.notation.typed import parse_typed
from trainer.ui.labels import text_label, wrap_items

LINE = "8 Qxd4 c5 9 Qc3 c4 10 a4 cxb3 11 axb5 bxc2 12 Qxc2 Qd7 13 O-O Qxb5 14…O-O-O 15 ♘f3"


def lines_of(text: str, width: float) -> list[str]:
    """How Qt breaks a text, in labels and in lists."""
    layout = QTextLayout(text)
    layout.setTextOption(QTextOption(Qt.AlignmentFlag.AlignLeft))
    layout.beginLayout()
    found = []
    while (line := layout.createLine()).isValid():
        line.setLineWidth(width)
        found.append(text[line.textStart() : line.textStart() + line.textLength()])
    layout.endLayout()
    return found


def plain(text: str) -> str:
    return text.replace("\u2060", "").replace("\u00a0", " ")


@pytest.mark.parametrize("width", range(90, 400, 5))
def test_no_line_ends_within_a_move(qtbot: QtBot, width: int) -> None:
    words = set(LINE.split())
    for line in lines_of(kept_together(LINE), width):
        found = plain(line).split()
        assert set(found) <= words, "castling is torn"
        assert not found[-1].isdigit(), "a number stands without its move"


def test_without_that_lines_do_end_within_moves(qtbot: QtBot) -> None:
    ends = {line.split()[-1] for width in range(90, 400, 5) for line in lines_of(LINE, width)}
    assert "O-" in ends
    assert "13" in ends


@pytest.mark.parametrize(
    "text", ["3 orders, 12 games", "In 20 of 128 of your games (16 %)", "2024 d4", "a - b", "…and"]
)
def test_other_words_stay_as_they_are(text: str) -> None:
    assert kept_together(text) == text


def test_a_label_gives_back_what_was_written(qtbot: QtBot) -> None:
    label = text_label("7 O-O")
    qtbot.addWidget(label)
    assert label.text() == "7 O-O"
    label.setText(LINE)
    assert label.text() == LINE
    assert QLabel.text(label) == kept_together(LINE)


def test_the_items_of_a_list_are_shown_together_and_kept_as_they_are(qtbot: QtBot) -> None:
    view = QListWidget()
    qtbot.addWidget(view)
    wrap_items(view)
    view.addItem(LINE)
    option = QStyleOptionViewItem()
    view.itemDelegate().initStyleOption(option, view.model().index(0, 0))
    assert option.text == kept_together(LINE)
    assert view.item(0).text() == LINE


def test_a_move_copied_from_a_label_can_be_typed() -> None:
    board = chess.Board("r1bqk2r/pppp1ppp/2n2n2/2b1p3/2B1P3/2N2N2/PPPP1PPP/R1BQK2R w KQkq - 0 1")
    assert parse_typed(board, kept_together("O-O")) == chess.Move.from_uci("e1g1")
