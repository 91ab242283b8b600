from __future__ import annotations

import gc
import threading
import weakref
from collections.abc import Iterator

import pytest
from PySide6.QtCore import QObject
from pytestqt.qtbot import QtBot

from trainer.ui.garbage import GarbageDuty


class Ring:
    """An object that only garbage collection can free; it notes the thread that freed it."""

    def __init__(self, freed_in: list[threading.Thread]) -> None:
        self.itself = self
        self.freed_in = freed_in

    def __del__(self) -> None:
        self.freed_in.append(threading.current_thread())


@pytest.fixture
def owner(qtbot: QtBot) -> Iterator[QObject]:
    owner = QObject()
    gc.enable()  # as a program begins
    yield owner
    gc.enable()
    gc.unfreeze()


def make_garbage(freed_in: list[threading.Thread]) -> None:
    Ring(freed_in)
    # Enough new objects that Python's own threshold is passed.
    for _ in range(20_000):
        [[]]  # noqa: B018
    kept = [[] for _ in range(20_000)]
    del kept


def test_a_worker_collects_nothing_and_the_window_does(qtbot: QtBot, owner: QObject) -> None:
    duty = GarbageDuty(owner)
    freed_in: list[threading.Thread] = []
    worker = threading.Thread(target=make_garbage, args=(freed_in,))
    worker.start()
    worker.join()
    assert freed_in == []
    kept = [[] for _ in range(20_000)]
    qtbot.waitUntil(lambda: bool(freed_in), timeout=10_000)
    assert freed_in == [threading.main_thread()]
    assert len(kept) == 20_000
    duty.end()
    assert gc.isenabled()


def test_nothing_is_collected_while_it_is_held(qtbot: QtBot, owner: QObject) -> None:
    duty = GarbageDuty(owner)
    duty.hold()
    freed_in: list[threading.Thread] = []
    make_garbage(freed_in)
    kept = [[] for _ in range(20_000)]
    qtbot.wait(1200)
    assert freed_in == []
    duty.go_on()
    qtbot.waitUntil(lambda: bool(freed_in), timeout=10_000)
    assert len(kept) == 20_000
    duty.end()


def test_what_is_spared_is_never_searched(qtbot: QtBot, owner: QObject) -> None:
    duty = GarbageDuty(owner)
    before = gc.get_freeze_count()
    repertoire = Ring([])
    watched = weakref.ref(repertoire)
    duty.spare()
    assert gc.get_freeze_count() > before
    del repertoire
    gc.collect()
    assert watched() is not None
    duty.end()
