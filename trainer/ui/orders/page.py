"""One entry of a list, shown in full."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent, QResizeEvent
from PySide6.QtWidgets import (
    QFrame,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from trainer.repertoire.near_misses import NearMiss
from trainer.storage.settings import Settings
from trainer.ui.kept_text import KeptText
from trainer.ui.labels import text_label
from trainer.ui.look import Look
from trainer.ui.orders.detail import Detail
from trainer.ui.orders.edits import TellApart
from trainer.ui.orders.lines_panel import LinesPanel
from trainer.ui.orders.pair_panel import PairPanel
from trainer.ui.position_row import clear_layout

#: Room for a name in large type, in lines of text.
_TITLE_ROOM = 26


class DetailPage(QScrollArea):
    """Title, what it is in a sentence, then orders to step through or two boards."""

    back_wanted = Signal()
    drill_wanted = Signal(list)
    edit_wanted = Signal(object)
    #: The board shows another position: a `chess.Board`.
    stepped = Signal(object)

    def __init__(
        self, settings: Settings, look: Look, *, editable: bool, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._editable = editable
        self.detail: Detail | None = None
        #: What was said to be shown.
        self.shows: object = None
        #: Where a note on the pair that is shown can be written.
        self.note: KeptText | None = None
        self._title_fits = True
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setMinimumWidth(60)
        self.back = QPushButton("‹ Back to the &list")
        self.title = text_label("", "title")
        self.subtitle = text_label("", "note")
        self.lines = LinesPanel(settings, look)
        self.pair = PairPanel(settings, look)
        self._more = QWidget()
        self._more_layout = QVBoxLayout(self._more)
        self._more_layout.setContentsMargins(0, 0, 0, 0)
        page = QWidget()
        column = QVBoxLayout(page)
        column.setContentsMargins(16, 0, 10, 12)
        column.setSpacing(10)
        column.addWidget(self.back, 0, Qt.AlignmentFlag.AlignLeft)
        for widget in (self.title, self.subtitle, self.lines, self.pair, self._more):
            column.addWidget(widget)
        column.addStretch(1)
        self.setWidget(page)
        self.back.clicked.connect(lambda _checked=False: self.back_wanted.emit())
        self.back.hide()
        self.lines.stepped.connect(self.stepped)
        self.clear("")

    def set_look(self, settings: Settings, look: Look) -> None:
        """Draw in another look."""
        self.lines.set_look(settings, look)
        self.pair.set_look(settings, look)

    def clear(self, sentence: str) -> None:
        """Show a sentence only."""
        self.flush()
        self.detail = self.shows = None
        self.title.hide()
        self.subtitle.setText(sentence)
        for part in (self.lines, self.pair, self._more):
            part.hide()

    def show_detail(
        self, detail: Detail, below: Sequence[QWidget] = (), *, of: object = None
    ) -> None:
        """Show an entry, with `below` at the end of the page; `of` is what `shows` tells then."""
        self.flush()
        self.detail, self.shows = detail, of
        self.title.setText(detail.title)
        self.title.show()
        self.subtitle.setText(detail.subtitle)
        self.lines.setVisible(bool(detail.lines))
        self.pair.setVisible(detail.pair is not None)
        if detail.pair is not None:
            self.pair.show_pair(detail.pair)
        self._show_more(detail, below)
        if detail.lines:
            self.lines.show_detail(detail)
        self.verticalScrollBar().setValue(0)

    def flush(self) -> None:
        """Have a note kept that was written and not kept yet."""
        if self.note is not None:
            self.note.flush()
            self.note = None

    @property
    def place(self) -> tuple[int, int, int]:
        """How far the page is scrolled, and the line and move on the board."""
        return self.verticalScrollBar().value(), self.lines.line, self.lines.ply

    def go_to(self, place: tuple[int, int, int]) -> None:
        """Go where the page was, as far as it is still as long."""
        scrolled, line, ply = place
        if self.detail is not None and line < len(self.detail.lines):
            self.lines.go(line, ply)
        self.verticalScrollBar().setValue(scrolled)

    def enter(self) -> None:
        """Give the keys to what can be stepped through or pressed."""
        detail = self.detail
        if detail is None:
            return
        if detail.lines and detail.show_list:
            self.lines.orders.setFocus()
        elif detail.lines:
            self.lines.back.setFocus()
            self.lines.on.setFocus()
        elif (button := self._more.findChild(QPushButton)) is not None:
            button.setFocus()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        # A long name in large type would leave no room for what it names.
        role = (
            "title"
            if self.width() > _TITLE_ROOM * self.subtitle.fontMetrics().height()
            else "heading"
        )
        if self._title_fits != (role == "title"):
            self._title_fits = role == "title"
            self.title.setProperty("role", role)
            self.title.style().unpolish(self.title)
            self.title.style().polish(self.title)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Left, Qt.Key.Key_Right):
            event.ignore()  # nothing lies to the side
        else:
            super().keyPressEvent(event)

    def _show_more(self, detail: Detail, below: Sequence[QWidget]) -> None:
        for widget in below:
            widget.setParent(None)
        beside = bool(detail.lines) and not detail.show_list
        clear_layout(self._more_layout)
        clear_layout(self.lines.aside)
        layout = self.lines.aside if beside else self._more_layout
        # A widget that is put on a page which stands on the screen is shown only later by itself.
        if detail.drill:
            drill = self._button(
                detail.drill_text, lambda: self.drill_wanted.emit([*detail.drill])
            )
            layout.addWidget(drill, 0, Qt.AlignmentFlag.AlignLeft)
            drill.show()
        for title, texts in detail.paragraphs:
            for label in (text_label(title, "heading"), *map(text_label, texts)):
                layout.addWidget(label)
                label.show()
        for text, edit in detail.actions if self._editable else ():
            button = self._button(text, lambda edit=edit: self.edit_wanted.emit(edit))
            layout.addWidget(button, 0, Qt.AlignmentFlag.AlignLeft)
            button.show()
        if detail.near_miss is not None:
            self._add_note(detail.near_miss, detail.note)
        for widget in below:
            self._more_layout.addWidget(widget)
            widget.show()
        self._more.setVisible(self._more_layout.count() > 0)

    @staticmethod
    def _button(text: str, pressed: Callable[[], None]) -> QPushButton:
        button = QPushButton(text)
        button.clicked.connect(lambda _checked=False: pressed())
        return button

    def _add_note(self, pair: NearMiss, text: str) -> None:
        self.note = KeptText(
            "&What tells them apart",
            "What tells them apart",
            "Shown in the drill when one of the two is missed",
        )
        self.note.show_text(text)
        self.note.kept.connect(
            lambda text: self.edit_wanted.emit(TellApart(pair.first, pair.second, text))
        )
        self._more_layout.addWidget(self.note)
        self.note.show()
