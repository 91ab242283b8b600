"""A short list of move orders in words, as tall as what it holds."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from PySide6.QtCore import (
    QAbstractListModel,
    QModelIndex,
    QPersistentModelIndex,
    QPointF,
    QSize,
    Qt,
    Signal,
)
from PySide6.QtGui import (
    QColor,
    QFont,
    QFontMetricsF,
    QKeyEvent,
    QPainter,
    QPen,
    QResizeEvent,
    QTextCharFormat,
    QTextLayout,
)
from PySide6.QtWidgets import (
    QAbstractItemView,
    QListView,
    QSizePolicy,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QWidget,
)

from trainer.ui.look import Look
from trainer.ui.orders.plan import Line
from trainer.ui.theme import system_sans, system_serif

_Index = QModelIndex | QPersistentModelIndex
_PADDING = 7


class _LineModel(QAbstractListModel):
    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.lines: tuple[Line, ...] = ()

    def set_lines(self, lines: Sequence[Line]) -> None:
        self.beginResetModel()
        self.lines = tuple(lines)
        self.endResetModel()

    def rowCount(self, parent: _Index | None = None) -> int:
        return 0 if parent is not None and parent.isValid() else len(self.lines)

    def data(self, index: _Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        line = self.lines[index.row()] if index.isValid() else None
        if line is None:
            return None
        if role == Qt.ItemDataRole.DisplayRole:
            return line.text
        if role == Qt.ItemDataRole.AccessibleTextRole:
            return ". ".join((line.text, *line.remarks))
        return None


class _LineDelegate(QStyledItemDelegate):
    """An order in serif with the move on the board underlined, and its remarks below."""

    def __init__(self, look: Look, parent: OrderList) -> None:
        super().__init__(parent)
        self.look = look

    def sizeHint(self, _option: QStyleOptionViewItem, index: _Index) -> QSize:
        view = self.parent()
        return QSize(0, self._lay_out(index, view.viewport().width(), None))

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: _Index) -> None:
        theme, pad = self.look.theme, round(_PADDING * self.look.scale)
        rect = option.rect
        painter.save()
        if option.state & QStyle.StateFlag.State_Selected:
            painter.fillRect(rect.adjusted(0, pad // 2, pad // 2 - rect.width(), 0), theme.ink)
            if option.state & QStyle.StateFlag.State_HasFocus:
                painter.setPen(QPen(QColor(theme.ink), 1))
                painter.drawRect(rect.adjusted(0, 0, -1, -1))
        painter.translate(rect.topLeft())
        self._lay_out(index, rect.width(), painter)
        painter.restore()

    def _lay_out(self, index: _Index, width: int, painter: QPainter | None) -> int:
        """The height of a row; painted as well where there is a painter."""
        view, look = self.parent(), self.look
        line = index.model().lines[index.row()]
        pad = _PADDING * look.scale
        text = QFont(system_serif())
        text.setPointSizeF(11.5 * look.scale)
        small = QFont(system_sans())
        small.setPointSizeF(9.5 * look.scale)
        blocks = [(line.text, text, look.theme.ink)]
        blocks += [(_unbroken(remark), small, look.theme.muted) for remark in line.remarks]
        y = pad
        for number, (words, font, colour) in enumerate(blocks):
            layout = QTextLayout(words, font)
            if number == 0 and index.row() == view.line:
                layout.setFormats(self._marks(line, view.ply))
            y = _place(layout, width - 2.5 * pad, y)
            if painter is not None:
                painter.setPen(QColor(colour))
                layout.draw(painter, QPointF(1.5 * pad, 0))
        return round(y + pad)

    def _marks(self, line: Line, ply: int) -> list[QTextLayout.FormatRange]:
        if not 0 < ply <= len(line.words):
            return []
        mark = QTextLayout.FormatRange()
        mark.length = len(line.words[ply - 1])
        mark.start = line.ends[ply - 1] - mark.length
        style = QTextCharFormat()
        style.setFontUnderline(True)
        mark.format = style
        return [mark]


def _unbroken(text: str) -> str:
    """No line ends between the number of a move and the move: `2…Nf6`."""
    return text.replace("…", "…\u2060")


def _place(layout: QTextLayout, width: float, y: float) -> float:
    """Break a text into lines from `y` on; where it ends."""
    height = QFontMetricsF(layout.font()).height()
    layout.beginLayout()
    while (line := layout.createLine()).isValid():
        line.setLineWidth(max(20.0, width))
        line.setPosition(QPointF(0, y))
        y += max(height, line.height())
    layout.endLayout()
    return y


class OrderList(QListView):
    """Up and Down choose an order, Left and Right go along it, Home and End to its ends."""

    chosen = Signal(int)
    stepped = Signal(int)

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.line, self.ply = 0, 0
        self._model = _LineModel(self)
        self.setModel(self._model)
        self._delegate = _LineDelegate(look, self)
        self.setItemDelegate(self._delegate)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setResizeMode(QListView.ResizeMode.Adjust)
        self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setMinimumWidth(60)
        self.setAccessibleName("Move orders")
        self.selectionModel().currentChanged.connect(self._choose)

    def set_look(self, look: Look) -> None:
        """Draw in another look."""
        self._delegate.look = look
        self._fit()

    def set_lines(self, lines: Sequence[Line]) -> None:
        """Show other orders."""
        self._model.set_lines(lines)
        self._fit()

    def show_step(self, line: int, ply: int) -> None:
        """Choose an order without telling anybody, and mark the move on the board."""
        self.line, self.ply = line, ply
        index = self._model.index(line)
        if self.currentIndex() != index:
            self.selectionModel().blockSignals(True)
            self.setCurrentIndex(index)
            self.selectionModel().blockSignals(False)
        self.viewport().update()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Left, Qt.Key.Key_Right, Qt.Key.Key_Home, Qt.Key.Key_End):
            event.ignore()  # the panel goes along the order
        else:
            super().keyPressEvent(event)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        if event.size().width() != event.oldSize().width():
            self._fit()

    def _fit(self) -> None:
        self.scheduleDelayedItemsLayout()
        rows = range(self._model.rowCount())
        height = sum(self.sizeHintForIndex(self._model.index(row)).height() for row in rows)
        self.setFixedHeight(height + 2 * self.frameWidth() + 2)

    def _choose(self, index: QModelIndex) -> None:
        if index.isValid():
            self.chosen.emit(index.row())
