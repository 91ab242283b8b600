"""Enumerations that PySide makes late come with the reading of a repertoire."""

from __future__ import annotations

import subprocess
import sys

_PROGRAM = """
import enum, sys
from PySide6.QtCore import QRect
from PySide6.QtGui import QColor, QPainter, QPixmap
from PySide6.QtWidgets import QApplication, QPlainTextEdit
import trainer.ui.main_window, trainer.ui.drill.view, trainer.ui.workshop.page
{first}
app = QApplication([])
app.setStyle("Fusion")
made = []
make = enum.EnumType._create_
enum.EnumType._create_ = lambda cls, *names, **how: made.append(1) or make(cls, *names, **how)
QPlainTextEdit().viewport()
pixmap = QPixmap(9, 9)
painter = QPainter(pixmap)
painter.fillRect(QRect(0, 0, 9, 9), QColor("white"))
painter.end()
print(len(made))
"""


def made_late(first: str) -> int:
    program = _PROGRAM.format(first=first)
    done = subprocess.run([sys.executable, "-c", program], check=True, capture_output=True)
    return int(done.stdout)


def test_what_comes_late_in_qt_has_come_by_then() -> None:
    plain, prepared = made_late(""), made_late("import trainer.ui.first_use")
    # How many there are is PySide's own affair; that most of them have been made is ours.
    assert prepared <= plain / 4
