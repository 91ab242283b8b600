"""What a place needs is imported before the player goes there."""

from __future__ import annotations

import importlib
import sys
from pathlib import Path

import pytest
from pytestqt.qtbot import QtBot

from tests.ui.conftest import MakeWindow
from trainer.ui import rooms

_PART = "a_part_for_later"


def test_parts_are_imported_once_the_window_is_at_rest(
    qtbot: QtBot,
    make_window: MakeWindow,
    small: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    Path(tmp_path, f"{_PART}.py").write_text("", encoding="utf-8")
    monkeypatch.syspath_prepend(str(tmp_path))
    monkeypatch.setattr(rooms, "_LATER_PARTS", (_PART,))
    make_window(small)
    assert _PART not in sys.modules
    try:
        qtbot.waitUntil(lambda: _PART in sys.modules)
    finally:
        sys.modules.pop(_PART, None)


def test_the_names_of_later_parts_are_true() -> None:
    for name in rooms._LATER_PARTS:
        importlib.import_module(name)
