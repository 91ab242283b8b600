"""How an entry of a list is painted: a diagram, then heading, order and remark."""

from __future__ import annotations

import time
from collections import OrderedDict

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, QRect, QSize
from PySide6.QtGui import QColor, QFont, QFontMetrics, QPainter, QPen, QPixmap
from PySide6.QtWidgets import QStyle, QStyledItemDelegate, QStyleOptionViewItem, QWidget

from trainer.ui.look import Look
from trainer.ui.mini_board import diagram_pixmap
from trainer.ui.orders.fitting import fitted, wrapped
from trainer.ui.orders.rows import Row
from trainer.ui.theme import system_serif

_Index = QModelIndex | QPersistentModelIndex

#: How long what was never painted before may keep the window at a time, in seconds.
_BUDGET = 0.012
_DIAGRAM = 76
_PIXMAPS = 300
_PADDING = 8
_ORDER_LINES = 2
_REMARK_LINES = 2
_HEADING_LINES = 2
#: How many times wider than the diagram a row must be to have one.
_ROOMY = 3.2


class EntryDelegate(QStyledItemDelegate):
    """Paints a row: the diagram, then heading, order and remark."""

    def __init__(self, look: Look, parent: QWidget) -> None:
        super().__init__(parent)
        self._pixmaps: OrderedDict[tuple[int, int, float], QPixmap] = OrderedDict()
        self._until = 0.0
        #: Whether something was not painted yet, for want of time.
        self.left_out = False
        self.set_look(look)

    def begin(self) -> None:
        """The view is going to be painted."""
        self._until = time.monotonic() + _BUDGET
        self.left_out = False

    def _has_time(self) -> bool:
        self.left_out = self.left_out or time.monotonic() > self._until
        return not self.left_out

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
        if index.model().is_made(index) or self._has_time():
            inside = option.rect.adjusted(pad + pad // 2, pad, -pad, -pad)
            self._paint_row(painter, inside, index.model().row(index))
        painter.restore()

    def _paint_row(self, painter: QPainter, inside: QRect, row: Row) -> None:
        side = self._side()
        # In a narrow list the words need the room more than the diagram does.
        if inside.width() >= _ROOMY * side:
            pixmap = self._pixmap(row, side, painter)
            if pixmap is not None:
                painter.drawPixmap(inside.topLeft(), pixmap)
            inside.setLeft(inside.left() + side + round(1.5 * _PADDING * self._look.scale))
        self._paint_words(painter, inside, row)

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

    def _pixmap(self, row: Row, side: int, painter: QPainter) -> QPixmap | None:
        ratio = painter.device().devicePixelRatioF()
        key = (row.key, side, ratio)
        pixmap = self._pixmaps.get(key)
        if pixmap is None and self._has_time():
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
