"""A little at a time: in between the window paints and answers, and nothing is done twice."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import pytest
from PySide6.QtCore import QTimer
from pytestqt.qtbot import QtBot

from trainer.ui.turns import Turns


def test_other_things_happen_between_the_steps(qtbot: QtBot) -> None:
    seen: list[str] = []
    timer = QTimer(interval=0)
    timer.timeout.connect(lambda: seen.append("window"))
    turns = Turns()

    def pieces() -> Iterator[None]:
        for number in range(3):
            seen.append(str(number))
            yield

    timer.start()
    turns.run(pieces(), lambda: seen.append("then"))
    assert seen == []
    assert turns.active
    qtbot.waitUntil(lambda: "then" in seen)
    timer.stop()
    steps = [seen.index(what) for what in ("0", "1", "2", "then")]
    assert steps == sorted(steps)
    assert all("window" in seen[a:b] for a, b in pairwise(steps))
    assert not turns.active


def test_what_was_given_up_goes_on_where_it_stopped(qtbot: QtBot) -> None:
    seen: list[int] = []
    turns = Turns()

    def pieces() -> Iterator[None]:
        for number in range(6):
            seen.append(number)
            if number == 2:
                turns.cancel()
            yield

    rest = pieces()
    turns.run(rest, lambda: pytest.fail("it was given up"))
    qtbot.waitUntil(lambda: not turns.active)
    qtbot.wait(20)
    assert seen == [0, 1, 2]
    ended: list[bool] = []
    turns.run(rest, lambda: ended.append(True))
    qtbot.waitUntil(lambda: bool(ended))
    assert seen == [0, 1, 2, 3, 4, 5]
    # Where nothing is left, what comes then comes at once.
    turns.run(rest, lambda: ended.append(False))
    qtbot.waitUntil(lambda: len(ended) == 2)
    assert seen == [0, 1, 2, 3, 4, 5]


def test_what_comes_then_may_begin_again(qtbot: QtBot) -> None:
    seen: list[str] = []
    turns = Turns()

    def pieces(name: str) -> Iterator[None]:
        seen.append(name)
        yield

    turns.run(pieces("first"), lambda: turns.run(pieces("second"), lambda: seen.append("end")))
    qtbot.waitUntil(lambda: "end" in seen)
    assert seen == ["first", "second", "end"]


def test_a_bug_in_a_step_ends_the_rest(qtbot: QtBot) -> None:
    turns = Turns()

    def pieces() -> Iterator[None]:
        yield
        raise ZeroDivisionError

    with qtbot.captureExceptions() as caught:
        turns.run(pieces(), lambda: pytest.fail("a step was missing"))
        qtbot.waitUntil(lambda: not turns.active)
        qtbot.wait(20)
    assert [kind for kind, _error, _traceback in caught] == [ZeroDivisionError]
