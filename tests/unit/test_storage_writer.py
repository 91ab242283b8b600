"""What is written beside the window: in order, nothing lost, nothing that is out of date."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from threading import Event, current_thread

from trainer.errors import SettingsError
from trainer.storage.settings import Settings, load_settings, save_settings
from trainer.storage.writer import Writer


def fail(error: Exception) -> None:
    raise AssertionError from error


def test_all_is_written_in_order_and_in_another_thread() -> None:
    done: list[int] = []
    threads = set()
    writer = Writer(fail)

    def write(number: int) -> None:
        done.append(number)
        threads.add(current_thread())

    for number in range(50):
        writer.put(lambda number=number: write(number))
    writer.finish()
    assert done == list(range(50))
    assert current_thread() not in threads
    writer.put(lambda: write(50))
    writer.finish()
    assert done[-1] == 50


def test_what_is_out_of_date_is_left_out_and_the_last_is_not() -> None:
    done: list[str] = []
    begun, go_on = Event(), Event()
    writer = Writer(fail)

    def first() -> None:
        begun.set()
        assert go_on.wait(20)
        done.append("first")

    writer.put(first, instead="settings")
    assert begun.wait(20)
    writer.put(lambda: done.append("second"), instead="settings")
    writer.put(lambda: done.append("drill"))
    writer.put(lambda: done.append("third"), instead="settings")
    go_on.set()
    writer.finish()
    assert done == ["first", "drill", "third"]


def test_a_failure_is_told_and_the_rest_is_written(tmp_path: Path) -> None:
    told: list[Exception] = []
    writer = Writer(told.append)
    blocker = tmp_path / "a-file"
    blocker.write_text("")
    writer.put(lambda: save_settings(blocker / "settings.json", Settings(minutes=7)))
    writer.put(lambda: save_settings(tmp_path / "settings.json", Settings(minutes=8)))
    writer.finish()
    assert [type(error) for error in told] == [SettingsError]
    assert load_settings(tmp_path / "settings.json")[0].minutes == 8


def test_a_program_that_ends_waits_for_what_is_being_written(tmp_path: Path) -> None:
    path = tmp_path / "late.txt"
    program = (
        "import time\n"
        "from pathlib import Path\n"
        "from trainer.storage.writer import Writer\n"
        "def write():\n"
        "    time.sleep(0.3)\n"
        f"    Path({str(path)!r}).write_text('there')\n"
        "Writer(print).put(write)\n"
    )
    done = subprocess.run([sys.executable, "-c", program], check=True, capture_output=True)
    assert (done.stdout, path.read_text()) == (b"", "there")
