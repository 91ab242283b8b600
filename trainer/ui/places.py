"""The places of the window: a bar to choose one, and below it the place itself."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QStackedWidget, QTabBar, QVBoxLayout, QWidget


class Places(QWidget):
    """Shows one place at a time.

    What is shown with `show_alone` (a drill) takes the whole window, without the bar: there is
    nothing to choose until it is over.
    """

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.bar = QTabBar()
        self.bar.setProperty("role", "places")
        self.bar.setDrawBase(False)
        self.bar.setExpanding(False)
        self.bar.setAccessibleName("Places")
        self._stack = QStackedWidget()
        self._opening: list[Callable[[], QWidget]] = []
        self._names: list[str] = []
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        layout.addWidget(self.bar, 0, Qt.AlignmentFlag.AlignLeft)
        layout.addWidget(self._stack, 1)
        self.bar.currentChanged.connect(self._go)

    def add(self, name: str, opening: Callable[[], QWidget]) -> int:
        """Add a place; `opening` gives its widget each time the player goes there."""
        self._opening.append(opening)
        self._names.append(name)
        return self.bar.addTab(name)

    def tell_at(self, number: int, news: str) -> None:
        """Put a word beside the name of a place, or take it away with ""."""
        name = self._names[number]
        self.bar.setTabText(number, f"{name} · {news}" if news else name)

    def current(self) -> QWidget:
        """What is shown now."""
        return self._stack.currentWidget()

    def go(self, number: int) -> None:
        """Go to a place as the player would, by its number."""
        if self.bar.isHidden():
            return
        if self.bar.currentIndex() == number:
            self._go(number)
        else:
            self.bar.setCurrentIndex(number)

    def show_place(self, number: int, widget: QWidget) -> None:
        """Show the widget of a place without telling anybody."""
        self.bar.blockSignals(True)
        self.bar.setCurrentIndex(number)
        self.bar.blockSignals(False)
        self.bar.show()
        self._show(widget)

    def come_back(self, number: int) -> None:
        """Go to a place from what was shown alone."""
        self.bar.show()
        self.go(number)

    def show_alone(self, widget: QWidget) -> None:
        """Show what is no place and leaves no choice."""
        self.bar.hide()
        self._show(widget)

    def _go(self, number: int) -> None:
        if 0 <= number < len(self._opening):
            widget = self._opening[number]()
            self._show(widget)
            widget.setFocus()

    def _show(self, widget: QWidget) -> None:
        if self._stack.indexOf(widget) < 0:
            self._stack.addWidget(widget)
        self._stack.setCurrentWidget(widget)
