"""Presses the buttons of the modal boxes that the window opens, as the player would."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QObject, QTimer
from PySide6.QtGui import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton, QApplication, QDialog, QLabel, QMessageBox, QWidget

_LOOK_EVERY_MS = 5


class BoxPresser(QObject):
    """Waits for modal boxes; presses in each the button that was named for it.

    `said` holds what the labels of each box showed, and `interpreted` those texts that a label
    would show as rich text. A box that nobody expected is closed and noted in `unexpected`.
    `before`, where it is set, is called once with the next box before its button is pressed.
    """

    def __init__(self) -> None:
        super().__init__()
        self.said: list[str] = []
        self.waiting: list[str] = []
        self.interpreted: list[str] = []
        self.unexpected: list[str] = []
        self.before: Callable[[QDialog], None] | None = None
        self._timer = QTimer(self)
        self._timer.setInterval(_LOOK_EVERY_MS)
        self._timer.timeout.connect(self._look)
        self._timer.start()

    def press(self, *names: str) -> None:
        """In the next boxes, press the buttons with these texts (without `&`), in turn."""
        self.waiting.extend(names)

    def _look(self) -> None:
        box = QApplication.activeModalWidget()
        if not isinstance(box, QDialog) or not box.isVisible():
            return
        text = box_text(box)
        if not self.waiting:
            self.unexpected.append(text)
            box.reject()
            return
        name = self.waiting.pop(0)
        self.said.append(text)
        self.interpreted += interpreted_texts(box)
        before, self.before = self.before, None
        if before is not None:
            before(box)
        button = button_called(box, name)
        if button is None:
            self.unexpected.append(f"no button {name!r} in: {text}")
            box.reject()
            return
        QTest.mouseClick(button, Qt.MouseButton.LeftButton)


def box_text(box: QWidget) -> str:
    """What the labels of a box show, and the details that are folded away."""
    texts = [box.windowTitle()]
    texts += [label.text() for label in box.findChildren(QLabel) if label.text()]
    if isinstance(box, QMessageBox) and box.detailedText():
        texts.append(box.detailedText())
    return "\n".join(texts)


def button_called(box: QWidget, name: str) -> QAbstractButton | None:
    """The visible button with this text, mnemonics aside."""
    for button in box.findChildren(QAbstractButton):
        if button.text().replace("&", "") == name and button.isVisible():
            return button
    return None


def interpreted_texts(widget: QWidget) -> list[str]:
    """The texts of labels that show markup as what it means and not as it is written."""
    automatic, plain = Qt.TextFormat.AutoText, Qt.TextFormat.PlainText
    return [
        label.text()
        for label in widget.findChildren(QLabel)
        if label.textFormat() != plain
        and (label.textFormat() != automatic or Qt.mightBeRichText(label.text()))
    ]
