"""What the signs of the plan mean, in words."""

from __future__ import annotations

from collections.abc import Iterator

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from trainer.ui.look import Look
from trainer.ui.map.sign_words import ENTRIES, SignWords

KEYS = (
    "→ main move   ← back   ↑ ↓ beside   Home start   F fold   Enter open   "
    "+ − zoom   0 all   / search   F3 next   Ctrl+Shift+F set up"
)


class Legend(QWidget):
    """Signs with words, in as many rows as the width needs, and the keys in the last one."""

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._look = look
        policy = QSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)
        words = "; ".join(text for _, text in ENTRIES)
        self.setAccessibleName(f"Legend: {words}. Keys: {' '.join(KEYS.split())}")

    def set_look(self, look: Look) -> None:
        """Draw in another look."""
        self._look = look
        self.updateGeometry()
        self.update()

    def hasHeightForWidth(self) -> bool:
        return True

    def heightForWidth(self, width: int) -> int:
        *_, (box, _words) = self._key_rows(width)
        return round(box.bottom() + 4 * self._look.scale)

    def sizeHint(self) -> QSize:
        width = max(self.width(), 300)
        return QSize(width, self.heightForWidth(width))

    def minimumSizeHint(self) -> QSize:
        return QSize(200, self.heightForWidth(max(self.width(), 200)))

    def resizeEvent(self, _event: object) -> None:
        self.updateGeometry()

    @property
    def _signs(self) -> SignWords:
        return SignWords(self._look, QFontMetricsF(self.font()))

    def _key_rows(self, width: float) -> Iterator[tuple[QRectF, str]]:
        """The keys below the signs, in as many rows as they need."""
        signs = self._signs
        metrics, y, line = signs.metrics, signs.height(width), ""
        for part in KEYS.split("   "):
            longer = f"{line}   {part}" if line else part
            if line and metrics.horizontalAdvance(longer) > width:
                yield QRectF(0, y, width, signs.row), line
                y += signs.row
                longer = part
            line = longer
        yield QRectF(0, y, width, signs.row), line

    def paintEvent(self, _event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        self._signs.paint(painter, self.width())
        painter.setPen(QColor(self._look.theme.muted))
        for box, words in self._key_rows(self.width()):
            painter.drawText(box, Qt.AlignmentFlag.AlignVCenter, words)
        painter.end()
