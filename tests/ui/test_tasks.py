from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import QEventLoop
from PySide6.QtGui import QPaintEvent
from PySide6.QtWidgets import QWidget
from pytestqt.qtbot import QtBot

from trainer.errors import StemlineError
from trainer.storage.log import BugLog
from trainer.ui.tasks import TaskControl, TaskRunner


@pytest.fixture
def log(tmp_path: Path) -> Iterator[BugLog]:
    log = BugLog(tmp_path / "bugs.log")
    yield log
    log.close()


@pytest.fixture
def runner(qtbot: QtBot, log: BugLog) -> Iterator[TaskRunner]:
    runner = TaskRunner(log)
    yield runner
    runner.close()


def test_result_arrives_in_the_thread_of_the_window(qtbot: QtBot, runner: TaskRunner) -> None:
    seen: list[tuple[object, threading.Thread]] = []
    workers: list[threading.Thread] = []

    def work(_control: TaskControl) -> int:
        workers.append(threading.current_thread())
        return 42

    runner.start(
        work, done=lambda result: seen.append((result, threading.current_thread())), failed=seen
    )
    qtbot.waitUntil(lambda: bool(seen))
    assert seen == [(42, threading.main_thread())]
    assert workers[0] is not threading.main_thread()
    qtbot.waitUntil(lambda: not runner.busy())


def test_progress_is_told_in_order_and_not_too_often(qtbot: QtBot, runner: TaskRunner) -> None:
    shares: list[float] = []
    done: list[object] = []

    def work(control: TaskControl) -> None:
        for step in range(10_000):
            control.report(step / 10_000)
        time.sleep(0.1)
        control.report(1.0)

    runner.start(work, done=done.append, failed=done.append, progressed=shares.append)
    qtbot.waitUntil(lambda: bool(done))
    assert shares == sorted(shares)
    assert (shares[0], shares[-1]) == (0.0, 1.0)
    assert len(shares) < 1_000


def test_an_error_for_the_user_arrives_as_its_sentence(qtbot: QtBot, runner: TaskRunner) -> None:
    failed: list[str] = []

    def work(_control: TaskControl) -> None:
        raise StemlineError("The file is not there.")

    runner.start(work, done=failed.append, failed=failed.append)
    qtbot.waitUntil(lambda: bool(failed))
    assert failed == ["The file is not there."]


def test_a_bug_is_logged_and_told_in_one_sentence(
    qtbot: QtBot, runner: TaskRunner, log: BugLog
) -> None:
    failed: list[str] = []

    def work(_control: TaskControl) -> None:
        raise ZeroDivisionError("a bug")

    runner.start(work, done=failed.append, failed=failed.append)
    qtbot.waitUntil(lambda: bool(failed))
    assert "Traceback" not in failed[0]
    assert failed[0].count("\n") == 0
    assert "Traceback" in log.path.read_text()


def test_cancelled_work_reports_nothing(qtbot: QtBot, runner: TaskRunner) -> None:
    heard: list[object] = []
    started = threading.Event()

    def work(control: TaskControl) -> str:
        started.set()
        while not control.cancelled():
            time.sleep(0.001)
        return "too late"

    control = runner.start(work, done=heard.append, failed=heard.append)
    qtbot.waitUntil(started.is_set)
    control.cancel()
    qtbot.waitUntil(lambda: not runner.busy())
    assert heard == []


def test_closing_joins_the_threads(qtbot: QtBot, log: BugLog) -> None:
    runner = TaskRunner(log)
    begun, ended = threading.Event(), threading.Event()

    def work(control: TaskControl) -> None:
        begun.set()
        while not control.cancelled():
            time.sleep(0.001)
        ended.set()

    runner.start(work, done=lambda _result: None, failed=lambda _text: None)
    qtbot.waitUntil(begun.is_set)
    runner.close()
    assert ended.is_set()


def note_in(heard: list[object], what: object) -> Callable[..., None]:
    """A function that puts `what` into `heard` whatever it is called with."""
    return lambda *_anything: heard.append(what)


def test_work_and_acts_take_turns_in_the_order_they_were_asked_for(
    qtbot: QtBot, runner: TaskRunner
) -> None:
    heard: list[object] = []
    runner.start(note_in(heard, "work 1"), done=note_in(heard, "done 1"), failed=heard.append)
    runner.alone(note_in(heard, "act"))
    runner.start(note_in(heard, "work 2"), done=note_in(heard, "done 2"), failed=heard.append)
    assert heard == []
    qtbot.waitUntil(lambda: not runner.busy())
    assert heard == ["work 1", "done 1", "act", "work 2", "done 2"]


def test_an_act_comes_at_once_where_nothing_is_under_way_or_all_is_cancelled(
    runner: TaskRunner,
) -> None:
    heard: list[object] = []
    runner.alone(note_in(heard, "alone"))
    runner.start(heard.append, done=heard.append, failed=heard.append).cancel()
    runner.alone(lambda: runner.alone(note_in(heard, "inside another")))
    assert heard == ["alone", "inside another"]
    assert not runner.busy()


def test_an_act_that_fails_keeps_nothing_waiting(qtbot: QtBot, runner: TaskRunner) -> None:
    def fail() -> None:
        runner.start(note_in(heard, "work"), done=note_in(heard, "done"), failed=heard.append)
        raise ValueError

    heard: list[object] = []
    with pytest.raises(ValueError):  # noqa: PT011  (it is the one above)
        runner.alone(fail)
    qtbot.waitUntil(lambda: not runner.busy())
    assert heard == ["work", "done"]


class PaintedThings(QWidget):
    """Says when it was painted."""

    def __init__(self, heard: list[object]) -> None:
        super().__init__()
        self.heard = heard

    def paintEvent(self, _event: QPaintEvent) -> None:  # noqa: N802  (a name of Qt)
        self.heard.append("paint")


def test_what_a_result_changes_is_painted_before_the_next_work_begins(
    qtbot: QtBot, runner: TaskRunner
) -> None:
    heard: list[object] = []
    widget = PaintedThings(heard)
    qtbot.addWidget(widget)
    with qtbot.waitExposed(widget):
        widget.show()
    qtbot.waitUntil(lambda: bool(heard))
    heard.clear()
    runner.start(lambda _control: None, done=lambda _result: widget.update(), failed=heard.append)
    runner.start(note_in(heard, "work"), done=note_in(heard, "done"), failed=heard.append)
    qtbot.waitUntil(lambda: "done" in heard)
    assert heard == ["paint", "work", "done"]


def test_work_goes_on_while_a_callback_has_a_box_open(qtbot: QtBot, runner: TaskRunner) -> None:
    heard: list[object] = []

    def open_box(_result: object) -> None:
        box = QEventLoop()
        runner.start(note_in(heard, "work"), done=lambda _result: box.quit(), failed=heard.append)
        box.exec()
        heard.append("closed")

    runner.start(lambda _control: None, done=open_box, failed=heard.append)
    qtbot.waitUntil(lambda: "closed" in heard)
    assert heard == ["work", "closed"]


class Lingering(TaskRunner):
    """Its worker stays a while where it has just told the window something."""

    def _post(self, letter: Callable[[], None]) -> None:
        super()._post(letter)
        if threading.current_thread() is not threading.main_thread():
            time.sleep(0.2)


class Listener:
    """What a dialog stands for: freed where the last one lets go of it."""

    def __init__(self, freed_in: list[threading.Thread]) -> None:
        self.freed_in = freed_in

    def work(self, control: TaskControl) -> None:
        control.report(0.5)

    def fail(self, _control: TaskControl) -> None:
        raise StemlineError("It did not work.")

    def bug(self, _control: TaskControl) -> None:
        raise ValueError

    def hear(self, _said: object) -> None:
        pass

    def act(self) -> None:
        pass

    def __del__(self) -> None:
        self.freed_in.append(threading.current_thread())


@pytest.mark.parametrize("work", ["work", "fail", "bug"])
def test_who_listens_is_let_go_of_in_the_thread_of_the_window(
    qtbot: QtBot, log: BugLog, work: str
) -> None:
    runner = Lingering(log)
    freed_in: list[threading.Thread] = []
    listener = Listener(freed_in)
    runner.start(
        getattr(listener, work),
        done=listener.hear,
        failed=listener.hear,
        progressed=listener.hear,
    )
    del listener
    qtbot.waitUntil(lambda: bool(freed_in))
    runner.close()
    assert freed_in == [threading.main_thread()]


def test_who_acts_alone_is_let_go_of_in_the_thread_of_the_window(
    qtbot: QtBot, log: BugLog
) -> None:
    runner = Lingering(log)
    freed_in: list[threading.Thread] = []
    go_on = threading.Event()
    runner.start(
        lambda _control: go_on.wait(5), done=lambda _result: None, failed=lambda _text: None
    )
    runner.alone(Listener(freed_in).act)
    go_on.set()
    qtbot.waitUntil(lambda: bool(freed_in))
    runner.close()
    assert freed_in == [threading.main_thread()]
