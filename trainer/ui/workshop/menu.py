"""The menu of the workshop; its entries tell what can be undone."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtWidgets import QMenu, QMenuBar

#: Name, words, keys. None: a line between.
_ENTRIES: tuple[tuple[str, str, str] | None, ...] = (
    ("edit", "&Edit here", "Ctrl+E"),
    ("before", "Text &before the move", "Ctrl+B"),
    None,
    ("undo", "&Undo", "Ctrl+Z"),
    ("redo", "&Redo", "Ctrl+Shift+Z"),
    None,
    ("save", "&Save", "Ctrl+S"),
    ("save as", "Save &as …", "Ctrl+Shift+S"),
    None,
    ("put right", "&To be put right …", "Ctrl+R"),
    None,
    ("sections", "Se&ctions …", "Ctrl+Shift+T"),
    ("merge", "&Merge another repertoire …", ""),
)


class WorkshopMenu:
    """Built with the window; enabled where a repertoire is open."""

    def __init__(self, bar: QMenuBar, slots: dict[str, Callable[[], None]]) -> None:
        """`slots` has a function for each name: edit, undo, redo, save, save as, put right,
        sections, merge.
        """
        self.menu: QMenu = bar.addMenu("&Workshop")
        self.actions: dict[str, QAction] = {}
        for entry in _ENTRIES:
            if entry is None:
                self.menu.addSeparator()
                continue
            name, words, keys = entry
            action = self.add(words, slots[name])
            if keys:
                action.setShortcut(QKeySequence(keys))
            self.actions[name] = action
        self.show_state(opened=False, undo="", redo="", unsaved=False)

    def add(self, words: str, slot: Callable[[], None]) -> QAction:
        """An entry at the end."""
        action = self.menu.addAction(words)
        action.triggered.connect(lambda _checked=False: slot())
        return action

    def show_state(self, *, opened: bool, undo: str, redo: str, unsaved: bool) -> None:
        """What can be done now; `undo` and `redo` name the steps."""
        self.actions["undo"].setText(f"&Undo {undo}".rstrip())
        self.actions["redo"].setText(f"&Redo {redo}".rstrip())
        self.actions["undo"].setEnabled(bool(undo))
        self.actions["redo"].setEnabled(bool(redo))
        self.actions["save"].setEnabled(unsaved)
        for name in ("edit", "before", "save as", "put right", "sections", "merge"):
            self.actions[name].setEnabled(opened)
