"""A list of positions: a diagram and a few lines each, built only when they are looked at."""

from __future__ import annotations

import time
from collections import OrderedDict
from collections.abc import Callable, Sequence
from typing import Any

from PySide6.QtCore import (
    QAbstractListModel,
    QModelIndex,
    QPersistentModelIndex,
    QRect,
    QSize,
    Qt,
    QTimer,
    Signal,
)
from PySide6.QtGui import QColor, QFont, QFontMetrics, QKeyEvent, QPainter, QPen, QPixmap
from PySide6.QtWidgets import (
    QAbstractItemView,
    QListView,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QWidget,
)

from trainer.ui.look import Look
from trainer.ui.mini_board import diagram_pixmap
from trainer.ui.orders.fitting import fitted, wrapped
from trainer.ui.orders.rows import Row
from trainer.ui.theme import system_serif

MakeRow = Callable[[Any], Row]

#: The numbers of edits by their keys: Insert is the first one, as 1 is.
EDIT_KEYS = {
    Qt.Key.Key_Insert: 0,
    **{Qt.Key(Qt.Key.Key_1 + number): number for number in range(9)},
}
_Index = QModelIndex | QPersistentModelIndex

#: How long filtering may keep the window at a time, in seconds.
_SLICE = 0.008
_DIAGRAM = 76
_PIXMAPS = 300
_PADDING = 8
_ORDER_LINES = 2
_REMARK_LINES = 2
_HEADING_LINES = 2
#: How many times wider than the diagram a row must be to have one.
_ROOMY = 3.2


class EntryModel(QAbstractListModel):
    """Entries of any kind, made into rows one by one as they are needed."""

    #: The filter has looked at every entry.
    filtered = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._entries: Sequence[Any] = ()
        self._make: MakeRow | None = None
        self._rows: dict[int, Row] = {}
        self._shown: list[int] = []
        self._needle = ""
        self._next = 0
        self._timer = QTimer(self)
        self._timer.setInterval(0)
        self._timer.timeout.connect(self._go_on)

    def set_entries(self, entries: Sequence[Any], make: MakeRow | None) -> None:
        """Show these instead; `make` turns one into a row."""
        self._entries, self._make, self._rows = entries, make, {}
        self._refilter()

    def set_filter(self, text: str) -> None:
        """Show only the rows with this text in them, upper or lower case alike."""
        needle = text.casefold().strip()
        if needle != self._needle:
            self._needle = needle
            self._refilter()

    @property
    def filtering(self) -> bool:
        """Whether the filter is still looking."""
        return self._timer.isActive()

    def entry(self, row: int) -> Any:
        """The entry that is shown in a row."""
        return self._entries[self._shown[row]]

    def row_of(self, fits: Callable[[Any], bool]) -> int:
        """The first row whose entry fits, -1 for none."""
        return next((row for row, n in enumerate(self._shown) if fits(self._entries[n])), -1)

    def renew(self) -> None:
        """Make all rows anew: what they say has changed."""
        self._rows = {}
        if self._shown:
            self.dataChanged.emit(self.index(0), self.index(len(self._shown) - 1))

    def row(self, index: _Index) -> Row:
        """The row at an index."""
        return self._row(self._shown[index.row()])

    def rowCount(self, parent: _Index | None = None) -> int:
        return 0 if parent is not None and parent.isValid() else len(self._shown)

    def data(self, index: _Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        if not index.isValid() or index.row() >= len(self._shown):
            return None
        if role == Qt.ItemDataRole.DisplayRole:
            return self.row(index).heading
        if role == Qt.ItemDataRole.AccessibleTextRole:
            return self.row(index).spoken
        return None

    def _row(self, number: int) -> Row:
        row = self._rows.get(number)
        if row is None:
            assert self._make is not None
            row = self._rows[number] = self._make(self._entries[number])
        return row

    def _refilter(self) -> None:
        self._timer.stop()
        self.beginResetModel()
        self._shown = [] if self._needle else list(range(len(self._entries)))
        self.endResetModel()
        self._next = 0
        if self._needle:
            self._go_on()
        else:
            self.filtered.emit()

    def _go_on(self) -> None:
        """Look at entries for a few milliseconds, and again when the window has had its turn."""
        end = time.monotonic() + _SLICE
        found: list[int] = []
        while self._next < len(self._entries) and time.monotonic() < end:
            if self._needle in self._row(self._next).spoken.casefold():
                found.append(self._next)
            self._next += 1
        if found:
            begin = len(self._shown)
            self.beginInsertRows(QModelIndex(), begin, begin + len(found) - 1)
            self._shown += found
            self.endInsertRows()
        if self._next < len(self._entries):
            self._timer.start()
        else:
            self._timer.stop()
            self.filtered.emit()


class EntryDelegate(QStyledItemDelegate):
    """Paints a row: the diagram, then heading, order and remark."""

    def __init__(self, look: Look, parent: QWidget) -> None:
        super().__init__(parent)
        self._pixmaps: OrderedDict[tuple[int, int, float], QPixmap] = OrderedDict()
        self.set_look(look)

    def set_look(self, look: Look) -> None:
        """Draw in another look."""
        self._look = look
        self._pixmaps.clear()
        self._heading = QFont(system_serif())
        self._heading.setPointSizeF(12.5 * look.scale)
        self._text = QFont(self.parent().font())
        self._text.setPointSizeF(10.0 * look.scale)

    def _side(self) -> int:
        return round(_DIAGRAM * self._look.scale)

    def sizeHint(self, _option: QStyleOptionViewItem, _index: _Index) -> QSize:
        pad = round(_PADDING * self._look.scale)
        text = QFontMetrics(self._heading).height()
        text += (_ORDER_LINES + _REMARK_LINES) * QFontMetrics(self._text).height()
        return QSize(0, max(self._side(), text) + 2 * pad)

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: _Index) -> None:
        row = index.model().row(index)
        theme, pad = self._look.theme, round(_PADDING * self._look.scale)
        painter.save()
        selected = bool(option.state & QStyle.StateFlag.State_Selected)
        if selected:
            painter.fillRect(option.rect, QColor(theme.paper))
            bar = QRect(option.rect)
            bar.setWidth(max(3, pad // 2))
            painter.fillRect(bar, QColor(theme.ink))
        if selected and option.state & QStyle.StateFlag.State_HasFocus:
            painter.setPen(QPen(QColor(theme.ink), 1))
            painter.drawRect(option.rect.adjusted(0, 0, -1, -1))
        painter.setPen(QPen(QColor(theme.line), 1))
        painter.drawLine(option.rect.bottomLeft(), option.rect.bottomRight())
        inside = option.rect.adjusted(pad + pad // 2, pad, -pad, -pad)
        side = self._side()
        # In a narrow list the words need the room more than the diagram does.
        if inside.width() >= _ROOMY * side:
            painter.drawPixmap(inside.topLeft(), self._pixmap(row, side, painter))
            inside.setLeft(inside.left() + side + round(1.5 * pad))
        self._paint_words(painter, inside, row)
        painter.restore()

    def _paint_words(self, painter: QPainter, inside: QRect, row: Row) -> None:
        theme = self._look.theme
        heading, text = QFontMetrics(self._heading), QFontMetrics(self._text)
        width, y = inside.width(), inside.top()
        first = fitted(row.heading, heading, width, _HEADING_LINES)
        order = _order_lines(row, text, width)
        # The remark has what is left; a long heading takes one of its lines.
        left = inside.height() - len(first) * heading.height() - len(order) * text.height()
        lines = max(1, min(_REMARK_LINES, left // text.height()))
        remark = fitted(row.remark, text, width, lines)
        blocks = (
            (self._heading, heading, theme.ink, first),
            (self._text, text, theme.ink, order),
            (self._text, text, theme.muted, remark),
        )
        for font, metrics, colour, lines_of_it in blocks:
            painter.setFont(font)
            painter.setPen(QColor(colour))
            for line in lines_of_it:
                painter.drawText(inside.left(), y + metrics.ascent(), line)
                y += metrics.height()

    def _pixmap(self, row: Row, side: int, painter: QPainter) -> QPixmap:
        ratio = painter.device().devicePixelRatioF()
        key = (row.key, side, ratio)
        pixmap = self._pixmaps.get(key)
        if pixmap is None:
            look = self._look
            pixmap = diagram_pixmap(row.board, side, ratio, look.theme, flipped=look.flipped)
            self._pixmaps[key] = pixmap
            if len(self._pixmaps) > _PIXMAPS:
                self._pixmaps.popitem(last=False)
        return pixmap


def _order_lines(row: Row, metrics: QFontMetrics, width: int) -> list[str]:
    """The order with its lead, or where there is no room for all of it, its end."""
    if not row.order:
        return []
    whole = wrapped(row.led_order, metrics, width)
    if len(whole) <= _ORDER_LINES:
        return whole
    return fitted(row.order, metrics, width, _ORDER_LINES, front=True)


class EntryList(QListView):
    """The list; arrows choose, Enter goes on to what is chosen."""

    chosen = Signal(object)
    entered = Signal()

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.entries = EntryModel(self)
        self.setModel(self.entries)
        self._delegate = EntryDelegate(look, self)
        self.setItemDelegate(self._delegate)
        self.setUniformItemSizes(True)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setResizeMode(QListView.ResizeMode.Adjust)
        self.setMinimumSize(60, 60)
        self.selectionModel().currentChanged.connect(self._choose)
        self.clicked.connect(lambda _index: self.entered.emit())

    def set_look(self, look: Look) -> None:
        """Draw in another look."""
        self._delegate.set_look(look)
        self.doItemsLayout()
        self.viewport().update()

    def choose_row(self, row: int) -> None:
        """Choose a row as the player would."""
        self.setCurrentIndex(self.entries.index(row))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            if self.currentIndex().isValid():
                self.entered.emit()
        elif event.key() in EDIT_KEYS:
            event.ignore()  # the place asks for the edit
        else:
            super().keyPressEvent(event)

    def _choose(self, index: QModelIndex) -> None:
        if index.isValid():
            self.chosen.emit(self.entries.entry(index.row()))
