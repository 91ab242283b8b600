"""Results as a strip of ink: open for White, hatched for draws, solid for Black; and figures."""

from __future__ import annotations

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, QRectF, QSize, Qt
from PySide6.QtGui import QBrush, QColor, QPainter, QPen
from PySide6.QtWidgets import QStyle, QStyledItemDelegate, QStyleOptionViewItem, QWidget

from trainer.ui.theme import Theme, tabular

#: The share of a row's height that the strip takes.
_HEIGHT = 0.42
_LEAST_STRIP = 40
#: The shares that need the most room, in per cent.
WIDEST_SHARES = "33 · 33 · 34"


class ResultDelegate(QStyledItemDelegate):
    """Paints the three shares of a `MoveRow`; the figures stand behind the strip."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.theme = theme

    def paint(
        self,
        painter: QPainter,
        option: QStyleOptionViewItem,
        index: QModelIndex | QPersistentModelIndex,
    ) -> None:
        chosen = bool(option.state & QStyle.StateFlag.State_Selected)
        ground = QColor(self.theme.ink if chosen else self.theme.surface)
        ink = QColor(self.theme.paper if chosen else self.theme.ink)
        painter.save()
        painter.fillRect(option.rect, ground)
        row = index.data(Qt.ItemDataRole.UserRole)
        font = tabular(option.font)
        painter.setFont(font)
        painter.setPen(ink)
        text = index.data(Qt.ItemDataRole.DisplayRole)
        pad = 6
        inside = option.rect.adjusted(pad, 0, -pad, 0)
        widest = painter.fontMetrics().horizontalAdvance(WIDEST_SHARES)
        strip = inside.width() - widest - pad
        if strip >= _LEAST_STRIP:
            height = max(6.0, _HEIGHT * inside.height())
            top = inside.center().y() + 0.5 - height / 2
            area = QRectF(inside.left() + 0.5, top, strip, height)
            paint_strip(painter, area, (row.white, row.draws, row.black), ink, ground)
            inside.setLeft(inside.left() + strip + pad)
        painter.setPen(ink)
        painter.drawText(inside, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignRight, text)
        painter.restore()

    def sizeHint(
        self, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> QSize:
        size = super().sizeHint(option, index)
        return QSize(size.width() + _LEAST_STRIP, size.height())


def paint_strip(
    painter: QPainter, area: QRectF, counts: tuple[int, int, int], ink: QColor, ground: QColor
) -> None:
    """Draw three counts as parts of `area`: open, hatched and solid."""
    total = sum(counts)
    left = area.left()
    if total:
        fills = (
            QBrush(ground),
            QBrush(ink, Qt.BrushStyle.BDiagPattern),
            QBrush(ink),
        )
        for count, fill in zip(counts, fills, strict=True):
            width = area.width() * count / total
            part = QRectF(left, area.top(), width, area.height())
            if count:
                painter.fillRect(part, fill)
                painter.setPen(QPen(ink, 1))
                painter.drawLine(part.topLeft(), part.bottomLeft())
            left += width
    painter.setPen(QPen(ink, 1))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawRect(area)
