"""A quiet row of words of which one is chosen; it breaks into several rows where it must."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QRect, QSize, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QButtonGroup, QSizePolicy, QToolButton, QWidget

from trainer.ui.look import Look
from trainer.ui.theme import system_serif

_GAP = 2


class WordRow(QWidget):
    """One word for each section, with a count behind it. Arrow keys go from word to word."""

    chosen = Signal(int)
    #: The number of a word, and what stands there now.
    reworded = Signal(int, str)

    def __init__(self, words: Sequence[str], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._words = tuple(words)
        self._group = QButtonGroup(self)
        self.buttons: list[QToolButton] = []
        for number, word in enumerate(words):
            button = QToolButton(self)
            button.setCheckable(True)
            button.setAutoRaise(True)
            button.setText(word)
            self._group.addButton(button, number)
            self.buttons.append(button)
        self.buttons[0].setChecked(True)
        self._group.idToggled.connect(self._toggled)
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)

    def set_look(self, look: Look) -> None:
        """Set the words in the serif of titles; the chosen one is underlined in ink."""
        theme, scale = look.theme, look.scale
        pad, line = round(6 * scale), max(2, round(2 * scale))
        self.setStyleSheet(
            f"""QToolButton {{
                background: transparent; color: {theme.muted}; border: {line}px solid transparent;
                border-radius: 0; padding: {pad // 2}px;
                font-family: "{system_serif()}"; font-size: {12.5 * scale:.1f}pt;
            }}
            QToolButton:hover {{ color: {theme.ink}; background: transparent; }}
            QToolButton:checked {{
                color: {theme.ink}; background: transparent; border-bottom-color: {theme.ink};
            }}
            QToolButton:focus {{ border-color: {theme.ink}; padding: {pad // 2}px; }}"""
        )
        self._arrange()

    def set_count(self, number: int, count: int | None, *, more: bool = False) -> None:
        """Show how many entries a section has: None if unknown, `more` where some may come."""
        word = self._words[number]
        button = self.buttons[number]
        text = word if count is None else f"{word} {count:,}" + (" …" if more else "")
        if button.text() == text:
            return
        button.setText(text)
        self.reworded.emit(number, text)
        spoken = "not counted yet" if count is None else f"{count}" + (" so far" if more else "")
        button.setAccessibleName(f"{word}, {spoken}")
        self._arrange()

    @property
    def current(self) -> int:
        """The number of the chosen word."""
        return self._group.checkedId()

    def choose(self, number: int) -> None:
        """Choose a word as the player would."""
        self.buttons[number].setChecked(True)

    def _toggled(self, number: int, checked: bool) -> None:
        if checked:
            self.chosen.emit(number)

    def minimumSizeHint(self) -> QSize:
        return QSize(0, self.minimumHeight())

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._arrange()

    def height_for(self, width: int) -> int:
        """How high the words stand in so much room."""
        return self._places(width)[1]

    def _arrange(self) -> None:
        places, height = self._places(self.width())
        for button, place in zip(self.buttons, places, strict=True):
            button.setGeometry(place)
        if self.minimumHeight() != height:
            self.setFixedHeight(height)

    def _places(self, width: int) -> tuple[list[QRect], int]:
        places: list[QRect] = []
        x = y = height = 0
        for button in self.buttons:
            button.ensurePolished()
            size = button.sizeHint()
            if x and x + size.width() > width:
                x, y = 0, y + height + _GAP
            places.append(QRect(x, y, size.width(), size.height()))
            x += size.width() + _GAP
            height = size.height()
        return places, y + height
