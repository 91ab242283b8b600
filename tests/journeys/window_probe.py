"""Runs the real window, and keeps writing to a file what stands where on the screen.

Run as a process: `python window_probe.py STATE_FILE [REPERTOIRE]`. The window is built and opened
as `trainer.ui.app.run` does it. Nothing here presses or types: whoever reads the file does that,
with real events of the X server. Points are in pixels of the screen.
"""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path
from typing import Any

import chess
from PySide6.QtCore import QPoint, Qt, QTimer
from PySide6.QtWidgets import (
    QAbstractButton,
    QApplication,
    QDialog,
    QLabel,
    QPlainTextEdit,
    QWidget,
)

from trainer.storage.log import install_excepthook
from trainer.ui.app import build_application, first_file
from trainer.ui.board.widget import BoardWidget
from trainer.ui.main_window import MainWindow
from trainer.ui.setup.board import SetupBoard

WRITE_EVERY_MS = 50


def main() -> int:
    state_file = Path(sys.argv[1])
    path = Path(sys.argv[2]) if len(sys.argv) > 2 else None
    app, window = build_application(sys.argv[:1])
    install_excepthook(window.log, window.tell_later)
    window.painted.connect(lambda: window.open(first_file(window, path)))
    window.show()
    timer = QTimer(window)
    timer.setInterval(WRITE_EVERY_MS)
    timer.timeout.connect(lambda: write(state_file, state_of(window)))
    timer.start()
    return app.exec()


def write(path: Path, state: dict[str, Any]) -> None:
    beside = path.with_suffix(".new")
    beside.write_text(json.dumps(state), encoding="utf-8")
    os.replace(beside, path)  # noqa: PTH105 - the one call that is atomic everywhere


def state_of(window: MainWindow) -> dict[str, Any]:
    place = window.places.current()
    assert place is not None
    state: dict[str, Any] = {
        "window": int(window.winId()),
        "active": window.isActiveWindow(),
        "ready": window.course is not None and not window._runner.busy(),
        "place": type(place).__name__,
        "text": shown_text(place),
        "points": {"start": middle(window.today.start_button)},
    }
    state["title"] = window.windowTitle()
    state |= box_state()
    state |= workshop_state(window)
    state |= orders_state(window)
    state |= games_state(window)
    controller = window.drills.controller
    if controller is None:
        return state
    drill = window.drills.view
    state["points"] |= {
        "continue": middle(drill.continue_button),
        "entry": middle(drill.entry),
        "back": middle(window.drills.summary.back_button),
    }
    state["stage"] = controller.stage.name
    state["can_continue"] = drill.continue_button.isEnabled()
    state["asked"] = drill.asked.text()
    state["verdict"] = drill.panel.verdict.text()
    state["message"] = drill.message.text()
    state["squares"] = square_points(window.drills.view.board)
    prompt = controller._prompt
    if prompt is not None and prompt.node.edges:
        prepared = [edge.move for edge in prompt.node.edges]
        state["number"] = prompt.number
        state["san"] = prompt.node.edges[0].san
        state["uci"] = prepared[0].uci()
        state["wrong"] = next(
            move.uci() for move in prompt.board.legal_moves if move not in prepared
        )
    return state


def middle(widget: QWidget) -> tuple[int, int]:
    return on_screen(widget, widget.rect().center())


def on_screen(widget: QWidget, point: QPoint) -> tuple[int, int]:
    ratio = widget.devicePixelRatioF()
    place = widget.mapToGlobal(point)
    return round(place.x() * ratio), round(place.y() * ratio)


def box_state() -> dict[str, Any]:
    """The box that is open over the window: what it says, and its buttons by their words."""
    box = QApplication.activeModalWidget()
    if not isinstance(box, QDialog) or not box.isVisible():
        return {"box": "", "buttons": {}, "box_window": 0}
    buttons = {
        button.text().replace("&", ""): middle(button)
        for button in box.findChildren(QAbstractButton)
        if button.isVisible()
    }
    named = {
        button.accessibleName(): middle(button)
        for button in box.findChildren(QAbstractButton)
        if button.isVisible() and button.accessibleName()
    }
    boards = box.findChildren(SetupBoard)
    return {
        "box": shown_text(box),
        "buttons": buttons,
        "named": named,
        "written": "\n".join(text.toPlainText() for text in box.findChildren(QPlainTextEdit)),
        "set_up": square_points(boards[0]) if boards else {},
        "box_window": int(box.winId()),
    }


def workshop_state(window: MainWindow) -> dict[str, Any]:
    """The page of the workshop, where it is shown."""
    desk = window.desk
    if desk is None or not desk.page.isVisible():
        return {"workshop": None}
    page = desk.page
    lines = [page.lines.line(row).move for row in range(page.lines.count())]
    named = {name: middle(button) for name, button in page.buttons.items()}
    return {
        "workshop": {
            "heading": page.heading.text(),
            "order": page.order.text(),
            "remark": page.remark.text(),
            "note": page.note.toPlainText(),
            "writing": page.note.hasFocus(),
            "keys_on_lines": page.lines.hasFocus() or page.entry.hasFocus(),
            "dirty": page.note.dirty,
            "lines": lines,
            "unsaved": desk.unsaved,
            "undo": desk.undoable,
            "squares": square_points(page.board),
            "points": {**named, "save": middle(page.save), "back": middle(page.back)},
        }
    }


def games_state(window: MainWindow) -> dict[str, Any]:
    """The place Games, where it is shown."""
    place = window.rooms.games
    if place is None or not place.isVisible():
        return {"games": None}
    model, table, page = place.list.table.model(), place.list.table, place.page
    rows = [model.index(row, 0) for row in range(min(12, model.rowCount()))]
    return {
        "games": {
            "section": place.section.name,
            "still": not place.shelf.reading,
            "count": model.rowCount(),
            "rows": [row.data(Qt.ItemDataRole.AccessibleTextRole) for row in rows],
            "row_points": [
                on_screen(table.viewport(), table.visualRect(row).center()) for row in rows
            ],
            "status": place.list.status,
            "words": {
                button.text().rstrip(" …0123456789,"): middle(button)
                for button in place.words.buttons
            },
            "page": page.isVisible(),
            "ply": page.ply,
            "where": page.where,
            "keys_on_ribbon": page.ribbon.hasFocus(),
            "keys_in_list": table.hasFocus(),
            "buttons": {
                button.text().replace("&", ""): middle(button)
                for button in place.findChildren(QAbstractButton)
                if button.isVisible()
            },
        }
    }


def orders_state(window: MainWindow) -> dict[str, Any]:
    """The place Move orders, where it is shown."""
    place = window.rooms.orders
    if place is None or not place.isVisible():
        return {"orders": None}
    model, view = place.list.entries, place.list
    rows = [model.index(row) for row in range(model.rowCount())]
    note = place.page.note
    lines = place.page.lines
    return {
        "orders": {
            "section": place.section.name,
            "still": not place.seeker.unfinished and not window._is_stale(),
            "words": {
                button.text().rstrip(" …0123456789,"): middle(button)
                for button in place.words.buttons
            },
            "counts": [button.text() for button in place.words.buttons],
            "rows": [model.row(index).spoken for index in rows],
            "row_points": [
                on_screen(view.viewport(), view.visualRect(index).center()) for index in rows
            ],
            "chosen": view.currentIndex().row(),
            "keys_in_list": view.hasFocus(),
            "keys_in_filter": place.filter.hasFocus(),
            "keys_on_orders": lines.orders.hasFocus(),
            "sentence": place.empty_sentence,
            "title": place.page.title.text() if place.page.detail is not None else "",
            "where": lines.where,
            "note": None if note is None else note.text,
            "note_said": None if note is None else note.said,
            "note_point": None if note is None else middle(note.paper),
            "buttons": {
                button.text().replace("&", ""): middle(button)
                for button in place.page.findChildren(QAbstractButton)
                if button.isVisible()
            },
        }
    }


def square_points(board: BoardWidget | SetupBoard) -> dict[str, tuple[int, int]]:
    geometry = board.geometry_now()
    points = {}
    for square in chess.SQUARES:
        x, y = geometry.centre(square)
        spot = QPoint(round(x / geometry.ratio), round(y / geometry.ratio))
        points[chess.square_name(square)] = on_screen(board, spot)
    return points


def shown_text(place: QWidget) -> str:
    labels = place.findChildren(QLabel)
    return "\n".join(label.text() for label in labels if label.isVisibleTo(place))


if __name__ == "__main__":
    sys.exit(main())
