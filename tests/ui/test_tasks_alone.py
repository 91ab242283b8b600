"""What changes the repertoire has the runner to itself, and the window does not wait for it."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from pytestqt.qtbot import QtBot

from trainer.storage.log import BugLog
from trainer.ui.tasks import TaskRunner


@pytest.fixture
def runner(qtbot: QtBot, tmp_path: Path) -> Iterator[TaskRunner]:
    log = BugLog(tmp_path / "bugs.log")
    runner = TaskRunner(log)
    yield runner
    runner.close()
    log.close()


def test_at_once_where_nothing_is_under_way(runner: TaskRunner) -> None:
    seen: list[threading.Thread] = []
    runner.alone(lambda: seen.append(threading.current_thread()))
    assert seen == [threading.main_thread()]
    assert not runner.busy()


def test_never_beside_work_and_in_turn(qtbot: QtBot, runner: TaskRunner) -> None:
    log: list[str] = []
    inside = threading.Lock()

    def work(name: str) -> None:
        assert inside.acquire(blocking=False)
        log.append(f"{name} begins")
        time.sleep(0.02)
        log.append(f"{name} ends")
        inside.release()

    def act() -> None:
        # No work begins or goes on while this thread is in here.
        assert inside.acquire(blocking=False)
        log.append("act")
        time.sleep(0.02)
        inside.release()

    for name in ("first", "second"):
        runner.start(
            lambda _control, name=name: work(name), done=lambda _none: None, failed=log.append
        )
    runner.alone(act)
    runner.start(lambda _control: work("third"), done=lambda _none: None, failed=log.append)
    assert "act" not in log  # the window did not wait
    assert runner.busy()
    qtbot.waitUntil(lambda: not runner.busy(), timeout=5000)
    assert log == [
        *("first begins", "first ends", "second begins", "second ends"),
        "act",
        *("third begins", "third ends"),
    ]


def test_an_error_in_the_act_does_not_stop_the_worker(qtbot: QtBot, runner: TaskRunner) -> None:
    done: list[int] = []
    runner.start(lambda _control: time.sleep(0.05), done=lambda _none: None, failed=print)

    def act() -> None:
        raise ValueError("a bug")

    with qtbot.captureExceptions() as raised:
        runner.alone(act)
        runner.start(lambda _control: 1, done=done.append, failed=print)
        qtbot.waitUntil(lambda: done == [1], timeout=5000)
    assert len(raised) == 1


def test_closing_does_not_wait_for_an_act(qtbot: QtBot, runner: TaskRunner) -> None:
    begun = threading.Event()
    acted: list[int] = []

    def work(_control: object) -> None:
        begun.set()
        time.sleep(0.05)

    runner.start(work, done=lambda _none: None, failed=print)
    qtbot.waitUntil(begun.is_set)
    runner.alone(lambda: acted.append(1))
    runner.close()
    qtbot.wait(20)
    assert acted == []
