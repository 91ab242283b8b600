"""Killed a hundred times in the middle of answering: no acknowledged answer is lost."""

from __future__ import annotations

import os
import random
import select
import subprocess
import sys
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import IO

import pytest

from trainer.errors import ProgressLockedError
from trainer.storage.progress import ProgressStore

KILLS = 100
#: Longest time, in seconds, from the first answer of a process to its end.
LONGEST_LIFE = 0.06

#: The parent of those that are killed. It has the program loaded, so that starting one is a fork
#: and not a start of Python; each opens the file, locks it and answers as a fresh process does.
#: What a child was told on opening and each answer acknowledged go straight to the pipe.
ANSWERING = """
import os, signal, sys
from datetime import UTC, datetime
from pathlib import Path
import chess
from trainer.storage.answers import Answer, AnswerKind, Grade
from trainer.storage.progress import ProgressStore

path = Path(sys.argv[1])

def clock():
    return datetime.now(UTC)

def say(text):
    os.write(1, text.encode() + b"\\n")

def answer_for_ever(number):
    store = ProgressStore.open(path, clock=clock)
    if store.notice:
        say("notice " + store.notice)
    repertoire = store.identify(path.parent / "rep.pgn", chess.WHITE, ())
    session = store.begin_session(repertoire, 10)
    key = number << 32
    while True:
        key += 1
        answer = Answer(repertoire_id=repertoire, key=key, move="g1f3", played="g1f3",
                        kind=AnswerKind.DRILL, grade=Grade.CLEAN, at=clock(), seconds=1.5,
                        session_id=session, entered_from=key, entered_by="d7d5")
        say(f"answer {store.record(answer)} {key}")
        if key % 5 == 0:
            slip = store.record(answer)
            say(f"retracted {slip} {store.retract(slip)}")

for line in sys.stdin:
    child = os.fork()
    if child == 0:
        try:
            answer_for_ever(int(line))
        except BaseException as error:
            say(f"failed {error!r}")
        finally:
            os._exit(1)
    say(f"started {child}")
    _, status = os.waitpid(child, 0)
    say(f"ended {os.waitstatus_to_exitcode(status)}")
"""


class Witness:
    """Reads what the children say and remembers what was acknowledged."""

    def __init__(self, pipe: IO[bytes]) -> None:
        self._pipe = pipe
        self._rest = b""
        self.answers: dict[int, int] = {}
        self.retracted: dict[int, int] = {}
        self.others: list[list[str]] = []

    def read(self, timeout: float = 30.0) -> None:
        """Take in what was said, or wait up to `timeout` seconds for something."""
        if not select.select([self._pipe], [], [], timeout)[0]:
            return
        *lines, self._rest = (self._rest + os.read(self._pipe.fileno(), 1 << 20)).split(b"\n")
        for line in lines:
            word, *values = line.decode().split(" ", 2)
            if word == "answer":
                number, key = map(int, values)
                assert number not in self.answers, "an id was given twice"
                self.answers[number] = key
            elif word == "retracted":
                self.retracted[int(values[0])] = int(values[1])
            else:
                self.others.append([word, *values])

    def wait_for(self, word: str) -> list[str]:
        """The values of the next line with `word`; fails on any word that is not expected."""
        deadline = time.monotonic() + 30
        while True:
            for position, (found, *values) in enumerate(self.others):
                assert found in ("started", "ended"), (found, values)
                if found == word:
                    del self.others[position]
                    return values
            assert time.monotonic() < deadline, f"no {word!r} was said"
            self.read()


@pytest.fixture
def path(tmp_path: Path) -> Path:
    (tmp_path / "rep.pgn").write_text("")
    return tmp_path / "progress.sqlite"


def clock() -> datetime:
    return datetime.now(UTC)


def check(path: Path, witness: Witness) -> int:
    """All that was acknowledged is in the file, and the file is whole and free."""
    with ProgressStore.open(path, clock=clock) as store:
        assert store.notice is None
        assert store.integrity_check() == []
        everything = {answer.id: answer for answer in store.answers(1, include_retracted=True)}
        counted = {answer.id for answer in store.answers(1)}
    for number, key in witness.answers.items():
        assert everything[number].key == key
        assert number in counted
    for slip, retraction in witness.retracted.items():
        assert everything[retraction].retracts == slip
        assert slip not in counted
    return len(everything)


def test_no_acknowledged_answer_is_lost(path: Path) -> None:
    # REPEAT_KILLS_WITH=<seed> repeats a run, as far as the machine's own timing lets it.
    seed = int(os.environ.get("REPEAT_KILLS_WITH") or random.SystemRandom().randrange(10**9))
    print(f"REPEAT_KILLS_WITH={seed}")
    rng = random.Random(seed)
    with subprocess.Popen(
        [sys.executable, "-c", ANSWERING, str(path)], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as parent:
        assert parent.stdin is not None
        assert parent.stdout is not None
        witness = Witness(parent.stdout)
        during_answers = 0
        for number in range(1, KILLS + 1):
            parent.stdin.write(f"{number}\n".encode())
            parent.stdin.flush()
            (child,) = witness.wait_for("started")
            before = len(witness.answers)
            # Most are killed while answering, some while they still open or repair the file.
            if rng.random() < 0.85:
                while len(witness.answers) == before and not witness.others:
                    witness.read()
            time.sleep(rng.uniform(0, LONGEST_LIFE))
            os.kill(int(child), 9)
            assert witness.wait_for("ended") == ["-9"]
            during_answers += len(witness.answers) > before
            if number % 20 == 0:
                check(path, witness)
        parent.stdin.close()
        parent.wait()
    assert during_answers >= KILLS * 0.8
    assert check(path, witness) >= len(witness.answers) + 2 * len(witness.retracted)
    assert witness.retracted


def test_killed_while_another_window_reads(path: Path) -> None:
    with subprocess.Popen(
        [sys.executable, "-c", ANSWERING, str(path)], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as parent:
        assert parent.stdin is not None
        assert parent.stdout is not None
        witness = Witness(parent.stdout)
        parent.stdin.write(b"1\n")
        parent.stdin.flush()
        (child,) = witness.wait_for("started")
        while len(witness.answers) < 3:
            witness.read()
        with pytest.raises(ProgressLockedError):
            ProgressStore.open(path, clock=clock)
        with ProgressStore.open(path, read_only=True, clock=clock) as reader:
            for _ in range(20):
                witness.read()
                acknowledged = set(witness.answers)
                assert acknowledged <= {answer.id for answer in reader.answers(1)}
            os.kill(int(child), 9)
            witness.wait_for("ended")
            assert set(witness.answers) <= {answer.id for answer in reader.answers(1)}
            check(path, witness)
        parent.stdin.close()
        parent.wait()
