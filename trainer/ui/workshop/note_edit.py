"""A note that is written in place: paragraphs of plain text, with an empty line between two."""

from __future__ import annotations

import time

from PySide6.QtCore import QEvent, Qt, QTimer, Signal
from PySide6.QtGui import (
    QFocusEvent,
    QFont,
    QKeyEvent,
    QResizeEvent,
    QSyntaxHighlighter,
    QTextCharFormat,
    QTextCursor,
)
from PySide6.QtWidgets import QPlainTextEdit, QSizePolicy, QWidget

from trainer.repertoire.notes import NoteKind, lead, note_kind

#: What is typed is kept after a pause, and while typing goes on, so that a crash loses little.
_PAUSE_MS, _LONGEST_S = 900, 1.5
_LEAST_LINES, _MOST_LINES = 2, 16


class _Leads(QSyntaxHighlighter):
    """The word that makes a paragraph a plan or a trick stands out."""

    def highlightBlock(self, text: str) -> None:
        kind = note_kind(text)
        if kind is not NoteKind.REASON:
            shown = QTextCharFormat()
            shown.setFontWeight(QFont.Weight.Bold)
            begin = len(text) - len(text.lstrip())
            self.setFormat(begin, len(lead(kind)), shown)


class NoteEdit(QPlainTextEdit):
    """As high as its text; says what was written when the player pauses or goes elsewhere."""

    #: The whole text.
    written = Signal(str)
    #: The player is done with it, and goes back to the lines by a key.
    finished = Signal()
    #: The keys have gone elsewhere.
    left = Signal()

    def __init__(self, name: str, hint: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName(name)
        self.setPlaceholderText(hint)
        self.setTabChangesFocus(True)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self._leads = _Leads(self.document())
        self._dirty = False
        self._dirty_since = 0.0
        self._pause = QTimer(self)
        self._pause.setSingleShot(True)
        self._pause.timeout.connect(self.keep)
        self.textChanged.connect(self._changed)
        self._showing = False
        self._fit()

    def show_text(self, text: str) -> None:
        """Replace the text; what was typed and not kept is forgotten."""
        self._pause.stop()
        self._dirty = False
        if text != self.toPlainText():
            self._showing = True
            self.setPlainText(text)
            self._showing = False
        self._fit()

    def keep(self) -> None:
        """Say what was written, if anything was."""
        self._pause.stop()
        if self._dirty:
            self._dirty = False
            self.written.emit(self.toPlainText())

    @property
    def dirty(self) -> bool:
        """Whether something was typed that was not told yet."""
        return self._dirty

    def begin(self, kind: NoteKind = NoteKind.REASON) -> None:
        """Put the cursor at the end, in a new paragraph of this kind."""
        self.setFocus(Qt.FocusReason.ShortcutFocusReason)
        cursor = self.textCursor()
        cursor.movePosition(QTextCursor.MoveOperation.End)
        if kind is not NoteKind.REASON:
            text = self.toPlainText()
            gap = "" if not text.strip() else "\n" if text.endswith("\n") else "\n\n"
            cursor.insertText(f"{gap}{lead(kind)} ")
        self.setTextCursor(cursor)

    def _changed(self) -> None:
        self._fit()
        if self._showing:
            return
        now = time.monotonic()
        if not self._dirty:
            self._dirty, self._dirty_since = True, now
        if now - self._dirty_since >= _LONGEST_S:
            self.keep()
        else:
            self._pause.start(_PAUSE_MS)

    def _fit(self) -> None:
        line = self.fontMetrics().lineSpacing()
        block, height = self.document().begin(), 0.0
        while block.isValid() and height <= _MOST_LINES * line:
            height += self.blockBoundingRect(block).height()
            block = block.next()
        off, needed = Qt.ScrollBarPolicy.ScrollBarAlwaysOff, Qt.ScrollBarPolicy.ScrollBarAsNeeded
        self.setVerticalScrollBarPolicy(needed if height > _MOST_LINES * line else off)
        height = max(_LEAST_LINES * line, min(height, _MOST_LINES * line))
        frame = self.height() - self.viewport().height()
        margins = 2 * self.document().documentMargin() + max(frame, line // 2)
        self.setFixedHeight(round(height + margins))

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        if event.size().width() != event.oldSize().width():
            self._fit()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        super().focusOutEvent(event)
        if event.reason() != Qt.FocusReason.PopupFocusReason:
            self.keep()
            self.left.emit()

    def event(self, event: QEvent) -> bool:
        if event.type() == QEvent.Type.ShortcutOverride:
            assert isinstance(event, QKeyEvent)
            if _ends_writing(event):
                # Elsewhere in the window these keys begin a drill.
                event.accept()
                return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if _ends_writing(event):
            self.keep()
            self.finished.emit()
        else:
            super().keyPressEvent(event)


def _ends_writing(event: QKeyEvent) -> bool:
    """Whether a key is Escape, or Enter with Ctrl."""
    control = bool(event.modifiers() & Qt.KeyboardModifier.ControlModifier)
    enter = event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter)
    return event.key() == Qt.Key.Key_Escape or (control and enter)
