"""One position in a list: a small diagram that can be pressed, with a few lines beside it."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import chess
from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QIcon
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QToolButton, QVBoxLayout, QWidget

from trainer.ui.labels import text_label
from trainer.ui.mini_board import diagram_pixmap
from trainer.ui.theme import Theme


def position_row(
    board: chess.Board,
    heading: str,
    lines: Sequence[str],
    *,
    side: int,
    theme: Theme,
    flipped: bool,
    pressed: Callable[[], None],
    question: tuple[str, Callable[[], None]] | None = None,
) -> QWidget:
    """A row whose diagram, `side` pixels wide, calls `pressed`; the last line is muted.

    `question` is a button below the lines, and what it calls.
    """
    row = QWidget()
    row.setProperty("role", "row")
    button = QToolButton()
    button.setIconSize(QSize(side, side))
    picture = diagram_pixmap(board, side, row.devicePixelRatioF(), theme, flipped=flipped)
    button.setIcon(QIcon(picture))
    button.setToolTip("Show this position")
    button.setAccessibleName(f"Show the position: {heading}")
    button.clicked.connect(lambda _checked=False: pressed())
    words = QVBoxLayout()
    words.addWidget(text_label(heading, "heading"))
    for number, line in enumerate(lines, start=1):
        words.addWidget(text_label(line, "muted" if number == len(lines) else ""))
    if question is not None:
        text, ask = question
        asking = QPushButton(text)
        asking.clicked.connect(lambda _checked=False: ask())
        words.addWidget(asking, 0, Qt.AlignmentFlag.AlignLeft)
    words.addStretch(1)
    layout = QHBoxLayout(row)
    layout.setContentsMargins(0, 0, 0, 0)
    layout.addWidget(button, 0, Qt.AlignmentFlag.AlignTop)
    layout.addLayout(words, 1)
    return row


def clear_layout(layout: QVBoxLayout) -> None:
    """Take all widgets out of `layout`."""
    while (item := layout.takeAt(0)) is not None:
        if (widget := item.widget()) is not None:
            widget.setParent(None)
            widget.deleteLater()
