"""The moves that go on from a position, as lines of text to choose from."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, QRect, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFont, QFontMetrics, QKeyEvent, QPainter, QPen, QResizeEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QListWidget,
    QListWidgetItem,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QWidget,
)

from trainer.ui.look import Look
from trainer.ui.orders.fitting import fitted, wrapped
from trainer.ui.theme import system_serif
from trainer.ui.workshop.words import Line

_LINE = Qt.ItemDataRole.UserRole
_PADDING = 6
_MOST_NOTE_LINES = 2
_Index = QModelIndex | QPersistentModelIndex


class LineDelegate(QStyledItemDelegate):
    """Paints a line: the move as in a book, what it is, and the beginning of its note."""

    def __init__(self, look: Look, parent: LineList) -> None:
        super().__init__(parent)
        self._list = parent
        self.set_look(look)

    def set_look(self, look: Look) -> None:
        """Draw in another look."""
        self._look = look
        self._move = QFont(system_serif())
        self._move.setPointSizeF(13 * look.scale)
        self._note = QFont(system_serif())
        self._note.setPointSizeF(11 * look.scale)
        self._small = QFont(self._list.font())
        self._small.setPointSizeF(9.5 * look.scale)

    def _pad(self) -> int:
        return round(_PADDING * self._look.scale)

    def _blocks(self, line: Line, width: int) -> list[tuple[QFont, str, list[str]]]:
        """Font, colour and the lines of text below each other."""
        theme = self._look.theme
        blocks = []
        small, note = QFontMetrics(self._small), QFontMetrics(self._note)
        if line.facts:
            blocks.append((self._small, theme.muted, wrapped(line.facts, small, width)))
        if line.note:
            shown = fitted(line.note, note, width, _MOST_NOTE_LINES)
            blocks.append((self._note, theme.ink, shown))
        return blocks

    def _width(self) -> int:
        return max(60, self._list.viewport().width() - 4 * self._pad())

    def sizeHint(self, _option: QStyleOptionViewItem, index: _Index) -> QSize:
        line = index.data(_LINE)
        height = QFontMetrics(self._move).height() + 2 * self._pad()
        for font, _, texts in self._blocks(line, self._width()):
            height += len(texts) * QFontMetrics(font).height()
        return QSize(0, height)

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: _Index) -> None:
        line: Line = index.data(_LINE)
        theme, pad = self._look.theme, self._pad()
        painter.save()
        if option.state & QStyle.StateFlag.State_Selected:
            painter.fillRect(option.rect, QColor(theme.paper))
            bar = QRect(option.rect)
            bar.setWidth(max(3, pad // 2))
            painter.fillRect(bar, QColor(theme.ink))
            if option.state & QStyle.StateFlag.State_HasFocus:
                painter.setPen(QPen(QColor(theme.ink), 1))
                painter.drawRect(option.rect.adjusted(0, 0, -1, -1))
        painter.setPen(QPen(QColor(theme.line), 1))
        painter.drawLine(option.rect.bottomLeft(), option.rect.bottomRight())
        inside = option.rect.adjusted(2 * pad, pad, -2 * pad, -pad)
        metrics = QFontMetrics(self._move)
        painter.setFont(self._move)
        painter.setPen(QColor(theme.ink))
        y = inside.top()
        painter.drawText(inside.left(), y + metrics.ascent(), line.move)
        used = metrics.horizontalAdvance(line.move + "  ")
        painter.setFont(self._small)
        painter.setPen(QColor(theme.muted))
        role = QFontMetrics(self._small).elidedText(
            line.role, Qt.TextElideMode.ElideRight, max(0, inside.width() - used)
        )
        painter.drawText(inside.left() + used, y + metrics.ascent(), role)
        y += metrics.height()
        for font, colour, texts in self._blocks(line, self._width()):
            painter.setFont(font)
            painter.setPen(QColor(colour))
            metrics = QFontMetrics(font)
            for text in texts:
                painter.drawText(inside.left(), y + metrics.ascent(), text)
                y += metrics.height()
        painter.restore()


class LineList(QListWidget):
    """As high as its lines are; the page around it is what scrolls."""

    #: A key that is a command of the page: its name.
    command = Signal(str)
    #: A letter was pressed: the event, for the line where moves are typed.
    typed = Signal(QKeyEvent)

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._delegate = LineDelegate(look, self)
        self.setItemDelegate(self._delegate)
        self.setAccessibleName("Moves from here")
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.itemDoubleClicked.connect(lambda _item: self.command.emit("on"))

    def set_look(self, look: Look) -> None:
        """Draw in another look."""
        self._delegate.set_look(look)
        self.doItemsLayout()
        self.viewport().update()
        self._fit()

    def show_lines(self, lines: Sequence[Line], chosen: int) -> None:
        """Replace the lines, and choose one."""
        self.blockSignals(True)
        self.clear()
        for line in lines:
            item = QListWidgetItem()
            item.setData(_LINE, line)
            item.setData(Qt.ItemDataRole.AccessibleTextRole, line.spoken)
            self.addItem(item)
        if lines:
            self.setCurrentRow(min(max(chosen, 0), len(lines) - 1))
        self.blockSignals(False)
        self._fit()

    def line(self, row: int) -> Line:
        """The line in a row."""
        line = self.item(row).data(_LINE)
        assert isinstance(line, Line)
        return line

    def _fit(self) -> None:
        index = self.model().index
        height = sum(
            self._delegate.sizeHint(QStyleOptionViewItem(), index(row, 0)).height()
            for row in range(self.count())
        )
        frame = self.height() - self.viewport().height() if self.isVisible() else 6
        least = QFontMetrics(self.font()).height()
        self.setFixedHeight(max(height, least) + max(6, frame))

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        if event.size().width() != event.oldSize().width():
            self.doItemsLayout()
            self._fit()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key, modifiers = event.key(), event.modifiers()
        control = bool(modifiers & Qt.KeyboardModifier.ControlModifier)
        name = (_WITH_CONTROL if control else _ALONE).get(key)
        if name is not None:
            self.command.emit(name)
        elif event.text() and event.text().isprintable() and event.text() != " " and not control:
            self.typed.emit(event)
        else:
            super().keyPressEvent(event)


_ALONE = {
    Qt.Key.Key_Left: "back",
    Qt.Key.Key_Right: "on",
    Qt.Key.Key_Return: "on",
    Qt.Key.Key_Enter: "on",
    Qt.Key.Key_Home: "start",
    Qt.Key.Key_Delete: "delete",
}
_WITH_CONTROL = {Qt.Key.Key_Up: "up", Qt.Key.Key_Down: "down"}
