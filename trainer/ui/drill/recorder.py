"""Answers are written beside the window, which hears when they are safe.

A commit waits until the disk has it. That takes a millisecond or two, and a tenth of a second and
more where another program writes a lot; the window goes on painting meanwhile, and only the drill
waits.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

from PySide6.QtCore import QObject

from trainer.memory.acts import Act, Writing
from trainer.storage.log import BugLog
from trainer.storage.writer import Writer
from trainer.ui.mail import Mailbox


class Recorder(QObject):
    """Goes through one act after the other; all of it but the writing in the window's thread."""

    def __init__(self, writer: Writer, log: BugLog, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._writer = writer
        self._log = log
        self._mailbox = Mailbox(self)
        #: Whether an act waits for its writing.
        self.waiting = False

    def carry_out(
        self, act: Act[Any], *, done: Callable[[Any], None], failed: Callable[[str], None]
    ) -> None:
        """Go through `act` and hand its result to `done`; at once where it writes nothing.

        Where a piece of writing fails, `failed` gets one sentence and the act goes no further.
        """
        self._go_on(act, None, done, failed)

    def finish(self) -> None:
        """Come back when no act waits any more."""
        while self.waiting:
            self._writer.finish()
            self._mailbox.read()

    def _go_on(
        self,
        act: Act[Any],
        written: object,
        done: Callable[[Any], None],
        failed: Callable[[str], None],
    ) -> None:
        try:
            write = act.send(written)
        except StopIteration as end:
            done(end.value)
            return
        self.waiting = True
        self._writer.put(
            lambda: self._write(
                write,
                lambda result: self._go_on(act, result, done, failed),
                failed,
            )
        )

    def _write(
        self, write: Writing, done: Callable[[object], None], failed: Callable[[str], None]
    ) -> None:
        """Do a piece of writing, in the writer's thread."""
        try:
            result = write()
        except Exception as error:
            self._post(partial(failed, self._log.sentence(error)))
        else:
            self._post(partial(done, result))

    def _post(self, letter: Callable[[], None]) -> None:
        def arrive() -> None:
            self.waiting = False
            letter()

        self._mailbox.post(arrive)
