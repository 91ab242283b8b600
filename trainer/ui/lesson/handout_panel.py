"""Hand out: what, by whom and on which paper, with the pages as they will be printed."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from pathlib import Path

from PySide6.QtCore import QDate, Qt, Signal
from PySide6.QtGui import QImage, QPixmap, QResizeEvent
from PySide6.QtWidgets import (
    QBoxLayout,
    QComboBox,
    QDateEdit,
    QFileDialog,
    QFormLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from trainer.lesson.handout.model import Paper
from trainer.ui.labels import text_label
from trainer.ui.look import Look

_BESIDE = 680
_FILTERS = (
    "Printed pages (*.pdf);;Page for a browser (*.html);;Games with notes (*.pgn);;"
    "Positions (*.epd);;Pictures (*.png);;Drawings (*.svg)"
)


class HandoutPanel(QWidget):
    """A small form, and the page as it will be printed."""

    #: Something of the form has changed: the pages are to be made again.
    changed = Signal()
    #: The lesson is to be written to this file.
    write_wanted = Signal(object)
    coach_changed = Signal(str)

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._look = look
        self._titles: list[str] = []
        self._pages = 0
        self._page = 0
        self.what = QComboBox()
        self.coach = QLineEdit()
        self.date = QDateEdit(QDate.currentDate())
        self.paper = QComboBox()
        self.write = QPushButton("Write to a fi&le …")
        self.back = QPushButton("‹")
        self.on = QPushButton("›")
        self.page_label = text_label("", "muted")
        self.said = text_label("", "muted")
        self.picture = QLabel()
        self._scroll = QScrollArea()
        self._build()
        self._connect()

    def _build(self) -> None:
        self.what.setAccessibleName("What to hand out")
        self.coach.setAccessibleName("Name of the coach")
        self.date.setAccessibleName("The date that is printed")
        self.date.setDisplayFormat("yyyy-MM-dd")
        self.paper.setAccessibleName("Paper")
        self.back.setAccessibleName("The page before")
        self.on.setAccessibleName("The next page")
        self.picture.setAccessibleName("The page as it will be printed")
        for box in (self.what, self.coach, self.date, self.paper):
            box.setMinimumWidth(60)
        for paper in Paper:
            self.paper.addItem(str(paper), paper)
        form = QFormLayout()
        form.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapLongRows)
        form.addRow("Wh&at", self.what)
        form.addRow("&Coach", self.coach)
        form.addRow("&Date", self.date)
        form.addRow("&Paper", self.paper)
        left = QVBoxLayout()
        left.addLayout(form)
        left.addWidget(self.write, 0, Qt.AlignmentFlag.AlignLeft)
        left.addWidget(self.said)
        left.addStretch(1)
        steps = QHBoxLayout()
        steps.addWidget(self.back)
        steps.addWidget(self.on)
        steps.addWidget(self.page_label, 1)
        self._scroll.setWidget(self.picture)
        self._scroll.setAlignment(Qt.AlignmentFlag.AlignHCenter)
        self._scroll.setAccessibleName("Preview")
        self._scroll.setMinimumHeight(120)
        # Always there, so that the page does not change its width when it is shown.
        self._scroll.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOn)
        right = QVBoxLayout()
        right.addLayout(steps)
        right.addWidget(self._scroll, 1)
        self._split = QBoxLayout(QBoxLayout.Direction.LeftToRight, self)
        self._split.setContentsMargins(0, 0, 0, 0)
        self._split.setSpacing(18)
        self._split.addLayout(left, 2)
        self._split.addLayout(right, 3)

    def _connect(self) -> None:
        self.what.activated.connect(lambda _row: self._restart())
        self.paper.activated.connect(lambda _row: self._restart())
        self.coach.editingFinished.connect(self._coach)
        self.date.dateChanged.connect(lambda _date: self.changed.emit())
        self.write.clicked.connect(lambda _checked=False: self._choose())
        self.back.clicked.connect(lambda _checked=False: self._turn(-1))
        self.on.clicked.connect(lambda _checked=False: self._turn(1))

    def set_look(self, look: Look) -> None:
        """Draw in another look."""
        self._look = look
        self._fit()

    def offer(self, titles: Sequence[str], chosen: int) -> None:
        """What can be handed out, by its titles."""
        self._titles = list(titles)
        self.what.clear()
        self.what.addItems(self._titles)
        self.what.setCurrentIndex(chosen)
        self._page = 0

    @property
    def page(self) -> int:
        """The page that is looked at, from 0."""
        return self._page

    @property
    def chosen_date(self) -> datetime.date:
        """The date that is printed."""
        date = self.date.date()
        return datetime.date(date.year(), date.month(), date.day())

    @property
    def chosen_paper(self) -> Paper:
        """The paper that is chosen."""
        return Paper(self.paper.currentData())

    def page_width(self) -> int:
        """How wide a page is shown, in device pixels."""
        room = max(240, min(760, self._scroll.viewport().width() - 4))
        return round(room * self.devicePixelRatioF())

    def show_page(self, picture: bytes, pages: int) -> None:
        """Show a page as a PNG picture."""
        image = QImage.fromData(picture)
        pixmap = QPixmap.fromImage(image)
        pixmap.setDevicePixelRatio(self.devicePixelRatioF())
        self.picture.setPixmap(pixmap)
        self.picture.adjustSize()
        self._pages = pages
        self._page = min(self._page, pages - 1)
        self.page_label.setText(f"Page {self._page + 1} of {pages}")
        self.back.setEnabled(self._page > 0)
        self.on.setEnabled(self._page + 1 < pages)

    def say(self, sentence: str) -> None:
        """Show a sentence below the form."""
        self.said.setText(sentence)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        beside = self.width() >= _BESIDE * self._look.scale
        direction = QBoxLayout.Direction
        self._split.setDirection(direction.LeftToRight if beside else direction.TopToBottom)

    def _restart(self) -> None:
        self._page = 0
        self.say("")
        self.changed.emit()

    def _turn(self, by: int) -> None:
        self._page = max(0, min(self._page + by, self._pages - 1))
        self.changed.emit()

    def _coach(self) -> None:
        self.coach_changed.emit(self.coach.text().strip())
        self.changed.emit()

    def _choose(self) -> None:
        from trainer.lesson.handout.writing import file_name

        name = file_name(self.what.currentText())
        chosen, kind = QFileDialog.getSaveFileName(
            self, "Write the handout", str(Path.home() / f"{name}.pdf"), _FILTERS
        )
        if chosen:
            path = Path(chosen)
            if not path.suffix and "(*." in kind:
                path = path.with_suffix(kind.rpartition("(*")[2].rstrip(")"))
            self.write_wanted.emit(path)
