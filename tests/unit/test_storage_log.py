"""Bugs go to the log; the user sees one sentence."""

from __future__ import annotations

import subprocess
import sys
import threading
from pathlib import Path

from trainer.storage.log import LOGS_KEPT, BugLog, install_excepthook


def bug(message: str = "one\ntwo") -> ValueError:
    try:
        raise ValueError(message)
    except ValueError as error:
        return error


def test_a_bug_is_logged_with_its_traceback(tmp_path: Path) -> None:
    path = tmp_path / "log" / "stemline.log"
    log = BugLog(path)
    assert not path.parent.exists()
    sentence = log.report(bug())
    log.close()
    assert sentence == (
        f"Stemline made a mistake (ValueError: one); please report it with the file {path}, "
        "which has the details."
    )
    text = path.read_text()
    assert "Traceback (most recent call last)" in text
    assert "raise ValueError(message)" in text


def test_text_that_is_no_utf8_is_logged_too(tmp_path: Path) -> None:
    log = BugLog(tmp_path / "stemline.log")
    assert "please report it with" in log.report(bug("er\udcf6ffnung"))
    log.close()
    assert "er\\udcf6ffnung" in log.path.read_text()


def test_the_log_stays_small(tmp_path: Path) -> None:
    log = BugLog(tmp_path / "stemline.log", size=4000)
    for number in range(60):
        log.report(bug(f"number {number}"))
    log.close()
    assert len(list(tmp_path.iterdir())) == 1 + LOGS_KEPT
    assert all(entry.stat().st_size <= 4000 for entry in tmp_path.iterdir())
    assert "number 59" in log.path.read_text()


def test_a_log_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    for path in (tmp_path / "file" / "stemline.log", tmp_path):
        log = BugLog(path)
        sentence = log.report(bug())
        assert sentence.startswith(
            f"Stemline made a mistake (ValueError: one), and the log {path} cannot be written ("
        )
        log.close()


def test_hooks_are_put_back(tmp_path: Path) -> None:
    before = (sys.excepthook, threading.excepthook)
    restore = install_excepthook(BugLog(tmp_path / "stemline.log"), print)
    assert sys.excepthook is not before[0]
    restore()
    assert (sys.excepthook, threading.excepthook) == before


SCRIPT = """
import sys, threading
from pathlib import Path
from trainer.errors import ProgressError
from trainer.storage.log import BugLog, install_excepthook
install_excepthook(BugLog(Path(sys.argv[1])), {show})
def work():
    raise KeyError("in a thread")
thread = threading.Thread(target=work, name="worker")
thread.start()
thread.join()
raise {error}
"""


def run(path: Path, error: str, show: str = "print") -> subprocess.CompletedProcess[str]:
    script = SCRIPT.replace("{show}", show).replace("{error}", error)
    return subprocess.run(
        [sys.executable, "-c", script, str(path)], capture_output=True, text=True, check=False
    )


def test_a_real_process(tmp_path: Path) -> None:
    path = tmp_path / "stemline.log"
    result = run(path, "ZeroDivisionError('at the end')")
    assert result.returncode == 1
    assert result.stderr == ""
    assert [line.split("(")[1].split(")")[0] for line in result.stdout.splitlines()] == [
        "KeyError: 'in a thread'",
        "ZeroDivisionError: at the end",
    ]
    text = path.read_text()
    assert "worker" in text
    assert text.count("Traceback (most recent call last)") == 2


def test_what_the_user_can_mend_is_shown_and_not_logged(tmp_path: Path) -> None:
    path = tmp_path / "stemline.log"
    sentence = "The disk is full; make room."
    result = run(path, f"ProgressError({sentence!r})")
    assert result.stdout.splitlines()[1] == sentence
    assert sentence not in path.read_text()


def test_an_interrupt_goes_its_usual_way(tmp_path: Path) -> None:
    result = run(tmp_path / "stemline.log", "KeyboardInterrupt")
    assert "KeyboardInterrupt" in result.stderr
    assert len(result.stdout.splitlines()) == 1


def test_a_window_that_cannot_show_it(tmp_path: Path) -> None:
    result = run(
        tmp_path / "stemline.log", "ZeroDivisionError('at the end')", "lambda text: 1 / 0"
    )
    assert "ZeroDivisionError: at the end" in result.stderr
    assert "Traceback" not in result.stderr
