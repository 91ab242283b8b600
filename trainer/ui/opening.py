"""Choosing a repertoire file: the dialog, dropped files, recent files, and the side."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QMimeData
from PySide6.QtWidgets import QFileDialog, QMessageBox, QWidget

from trainer.ui.message import Role, ask, message_box

if TYPE_CHECKING:
    import chess

_FILTER = "Repertoires in PGN (*.pgn *.PGN);;All files (*)"


def ask_for_file(parent: QWidget, folder: str) -> Path | None:
    """The file the player chooses, or None."""
    name, _kind = QFileDialog.getOpenFileName(parent, "Open a repertoire", folder, _FILTER)
    return Path(name) if name else None


def dropped_file(data: QMimeData) -> Path | None:
    """The first PGN file of what is being dragged, or None."""
    for url in data.urls():
        if url.isLocalFile() and url.toLocalFile().lower().endswith(".pgn"):
            return Path(url.toLocalFile())
    return None


def ask_for_side(parent: QWidget, name: str, guess: chess.Color) -> chess.Color:
    """Ask whose repertoire it is, when the file does not say."""
    box = message_box(
        parent,
        "Whose repertoire is it?",
        f"{name} does not say for which side it is prepared. It looks like a repertoire for "
        f"{'White' if guess else 'Black'}. Whose is it?",
        icon=QMessageBox.Icon.Question,
    )
    answers = {True: ("&White", Role.AcceptRole), False: ("&Black", Role.AcceptRole)}
    return ask(box, answers, default=bool(guess), escape=bool(guess))


def offer_reading_only(parent: QWidget, sentence: str) -> bool:
    """Another window holds the progress file; whether to go on reading only."""
    box = message_box(
        parent, "Stemline is open already", sentence, icon=QMessageBox.Icon.Information
    )
    answers = {True: ("&Read only", Role.AcceptRole), False: ("&Quit", Role.RejectRole)}
    return ask(box, answers, default=True, escape=False)
