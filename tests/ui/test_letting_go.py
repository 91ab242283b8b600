from __future__ import annotations

import weakref

from pytestqt.qtbot import QtBot

from trainer.ui.letting_go import LettingGo


class Thing:
    """Can be seen to be freed."""


def test_what_is_let_go_of_is_freed_later_and_what_others_hold_is_not(qtbot: QtBot) -> None:
    letting_go = LettingGo()
    things = [Thing() for _ in range(1_000)]
    held, seen = things[0], [weakref.ref(thing) for thing in things]
    letting_go.take(things)
    del things
    assert all(ref() is not None for ref in seen)
    qtbot.waitUntil(lambda: not letting_go.left)
    assert [ref() for ref in seen if ref() is not None] == [held]


def test_more_can_come_while_some_is_being_freed(qtbot: QtBot) -> None:
    letting_go = LettingGo()
    letting_go.take(Thing() for _ in range(500))
    letting_go.take([])
    letting_go.take([Thing()])
    assert letting_go.left == 501
    qtbot.waitUntil(lambda: not letting_go.left)
