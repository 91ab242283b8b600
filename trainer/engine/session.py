"""One engine process: started, asked and stopped from any thread, and never trusted.

python-chess speaks UCI on an event loop in a thread of its own. A question waits in the thread
that asks and looks 50 times a second whether it was cancelled; an engine that does not stop
searching then is killed, so that a cancelled question always returns within 200 ms.

An engine that crashes, says nothing, floods or lies is stopped and its next question raises
`EngineError`. It ends with this program in every case: with a word at the end, and where this
program is killed, because its standard input ends, or on its leash (`trainer.engine.leash`).
"""

from __future__ import annotations

import asyncio
import contextlib
import os
import sys
from collections.abc import Callable, Sequence
from concurrent.futures import Future
from dataclasses import dataclass
from pathlib import Path
from threading import Thread
from typing import Any, Final

import chess
import chess.engine

from trainer.engine.evaluation import Evaluation, Limit, finished
from trainer.engine.gathering import Gathered
from trainer.engine.leash import Leash
from trainer.engine.protocol import GuardedProtocol
from trainer.errors import EngineError, EngineStoppedError

Cancelled = Callable[[], bool]
Progress = Callable[[Evaluation], None]

#: Seconds for the handshake, for the first line of a search, and between two looks at `cancelled`.
HANDSHAKE: Final = 10.0
FIRST_LINE: Final = 10.0
_LOOK: Final = 0.02
#: Seconds that an engine has to stop searching, and to quit, before it is killed.
_STOPPING: Final = 0.12
_QUITTING: Final = 1.0
#: An engine slower than this many nodes a second hangs.
_SLOWEST: Final = 2_000
_WANTED: Final = chess.engine.INFO_BASIC | chess.engine.INFO_SCORE | chess.engine.INFO_PV


@dataclass(frozen=True)
class EngineOptions:
    """What every engine can be told: memory for positions in MiB, and processor threads."""

    hash_mb: int = 64
    threads: int = 1


class Engine:
    """A running engine. Make it with `Engine.start`; use it as a context manager or `close` it.

    One question at a time; `close` may be called from another thread meanwhile.
    """

    def __init__(
        self,
        path: Path,
        options: EngineOptions,
        patience: float,
        cancelled: Cancelled | None = None,
    ) -> None:
        self.path = path
        self.name = path.name
        self._patience = patience
        self._first_line = min(FIRST_LINE, patience)
        self._loop = asyncio.new_event_loop()
        self._protocol: GuardedProtocol | None = None
        self._leash: Leash | None = None
        self._closed = False
        self._spawning = False
        self._thread = Thread(target=self._run_loop, name="engine", daemon=True)
        self._thread.start()
        try:
            self._ask(self._open(options), cancelled)
        except BaseException:
            self.close()
            raise

    @classmethod
    def start(
        cls,
        path: Path,
        options: EngineOptions | None = None,
        *,
        patience: float = HANDSHAKE,
        cancelled: Cancelled | None = None,
    ) -> Engine:
        """Start the program at `path` and shake hands by UCI; `patience` in seconds.

        Raises `EngineError` where it cannot be started or is no UCI engine, `EngineStoppedError`
        once `cancelled()`.
        """
        return cls(path, options or EngineOptions(), patience, cancelled)

    def __enter__(self) -> Engine:
        return self

    def __exit__(self, *_error: object) -> None:
        self.close()

    @property
    def pid(self) -> int:
        """The process id, 0 where there is none."""
        transport = None if self._protocol is None else self._protocol.transport
        return 0 if transport is None else transport.get_pid()

    @property
    def alive(self) -> bool:
        """Whether it can be asked."""
        protocol = self._protocol
        return not self._closed and protocol is not None and not protocol.returncode.done()

    # -- asking ------------------------------------------------------------------------------

    def evaluate(
        self,
        board: chess.Board,
        limit: Limit,
        *,
        lines: int = 1,
        moves: Sequence[chess.Move] = (),
        game: object = None,
        cancelled: Cancelled | None = None,
        progress: Progress | None = None,
    ) -> Evaluation:
        """The best `lines` of the position on `board`, of `moves` only where some are named.

        Where `game` is None the engine forgets what it searched before, so that the same question
        has the same answer (on one thread, by nodes). There are fewer lines where the engine
        cannot show so many. `progress` is called in a thread of the engine with each deeper
        evaluation.

        Raises `EngineStoppedError` once `cancelled()`, `EngineError` where the engine fails or
        the position cannot be given to one.
        """
        over = finished(board)
        if over is not None:
            return over
        if not board.is_valid():
            raise EngineError(
                "An engine takes only positions that can arise in a game; set up one king a side "
                "and leave the side to move no king to take."
            )
        if cancelled is not None and cancelled():
            raise EngineStoppedError("Stopped.")
        search = self._search(
            board.copy(stack=False),
            limit,
            min(lines, len(moves) or board.legal_moves.count()),
            list(moves),
            object() if game is None else game,
            progress,
        )
        result: Evaluation = self._ask(search, cancelled)
        return result

    async def _search(
        self,
        board: chess.Board,
        limit: Limit,
        lines: int,
        moves: list[chess.Move],
        game: object,
        progress: Progress | None,
    ) -> Evaluation:
        protocol = self._alive()
        protocol.begin()
        lines = min(lines, _most_lines(protocol))
        gathered = Gathered(lines)
        try:
            async with asyncio.timeout(self._first_line) as patience:
                analysis = await protocol.analysis(
                    board,
                    chess.engine.Limit(nodes=limit.nodes, time=limit.seconds),
                    multipv=lines,
                    game=game,
                    info=_WANTED,
                    root_moves=moves or None,
                )
                best = await self._listen(
                    analysis, gathered, self._longest(limit), patience, progress
                )
        except TimeoutError:
            protocol.condemn("does not answer and was stopped")
            raise self._failure() from None
        except chess.engine.EngineError as error:
            raise self._failure(error) from None
        legal = best is not None and board.is_legal(best)
        if protocol.variations > gathered.variations or not legal:
            protocol.condemn("names moves that are not legal and was stopped")
            raise self._failure()
        return gathered.evaluation(best)

    async def _listen(
        self,
        analysis: chess.engine.AnalysisResult,
        gathered: Gathered,
        longest: float,
        patience: asyncio.Timeout,
        progress: Progress | None,
    ) -> chess.Move | None:
        """Read a search to its end; its best move."""
        first = True
        async for info in analysis:
            if first:
                first = False
                patience.reschedule(asyncio.get_running_loop().time() + longest)
            if gathered.take(info) and progress is not None:
                progress(gathered.evaluation(None))
        return (await analysis.wait()).move

    def _longest(self, limit: Limit) -> float:
        """Seconds after which a search that should have ended hangs."""
        by_time = limit.seconds if limit.seconds is not None else float("inf")
        by_nodes = limit.nodes / _SLOWEST if limit.nodes is not None else float("inf")
        return min(by_time, by_nodes) + self._first_line

    def _ask(self, question: Any, cancelled: Cancelled | None) -> Any:
        """Run a coroutine in the engine's thread and wait for it here."""
        answer = asyncio.run_coroutine_threadsafe(question, self._loop)
        while True:
            try:
                return answer.result(_LOOK)
            except TimeoutError:
                if answer.done():
                    raise
                if cancelled is not None and cancelled():
                    self._stop(answer)
                    raise EngineStoppedError("Stopped.") from None

    def _stop(self, answer: Future[Any]) -> None:
        """End a search by the word for it, and where that is not heard, with the process."""

        def say_stop() -> None:
            protocol = self._protocol
            if protocol is not None and protocol.command is not None:
                protocol.command.cancel()

        self._loop.call_soon_threadsafe(say_stop)
        try:
            answer.exception(_STOPPING)
        except TimeoutError:
            self._loop.call_soon_threadsafe(self._kill)
            with contextlib.suppress(TimeoutError):
                answer.exception(_STOPPING)

    # -- the process -------------------------------------------------------------------------

    async def _open(self, options: EngineOptions) -> None:
        # A group of its own: Ctrl+C in a terminal is for this program alone.
        apart: dict[str, Any] = {} if sys.platform == "win32" else {"process_group": 0}
        try:
            async with asyncio.timeout(self._patience):
                self._protocol = protocol = await self._spawn(apart)
                await protocol.initialize()
                await protocol.configure(_accepted(protocol, options))
                await protocol.ping()
        except TimeoutError:
            raise EngineError(
                f"{self.path} did not answer as a UCI engine does within {self._patience:g} "
                "seconds; choose another program."
            ) from None
        except OSError as error:
            raise EngineError(
                f"{self.path} cannot be started ({error.strerror or error}); choose another "
                "program."
            ) from None
        except chess.engine.EngineError:
            fault = None if self._protocol is None else self._protocol.fault
            raise EngineError(
                f"{self.path} {fault or 'ended instead of answering as a UCI engine does'}; "
                "choose another program."
            ) from None
        name = self._protocol.id.get("name", "").strip()
        # What is shown in a terminal must not steer it.
        printable = "".join(letter for letter in name if letter.isprintable())
        self.name = " ".join(printable.split())[:60] or self.path.name

    async def _spawn(self, apart: dict[str, Any]) -> GuardedProtocol:
        self._spawning = True
        try:
            transport, protocol = await self._loop.subprocess_exec(
                GuardedProtocol, os.fspath(self.path), **apart
            )
            self._protocol = protocol
            self._leash = Leash(transport.get_pid())
            return protocol
        finally:
            self._spawning = False

    def _alive(self) -> GuardedProtocol:
        protocol = self._protocol
        if protocol is None or protocol.fault is not None or protocol.returncode.done():
            raise self._failure()
        return protocol

    def _failure(self, error: Exception | None = None) -> EngineError:
        protocol = self._protocol
        fault = None if protocol is None else protocol.fault
        if (
            fault is None
            and protocol is not None
            and isinstance(error, chess.engine.EngineTerminatedError)
        ):
            fault = "ended in the middle of its work"
        if fault is None and error is not None and protocol is not None:
            protocol.condemn("answers what a UCI engine does not and was stopped")
            fault = protocol.fault
        return EngineError(
            f"The engine {self.name} {fault or 'is not running'}; start it again or choose "
            "another one."
        )

    def _kill(self) -> None:
        if self._protocol is not None:
            self._protocol.kill()

    def close(self) -> None:
        """End the process: politely, and after a second without. Never raises."""
        if self._closed:
            return
        self._closed = True
        ending = asyncio.run_coroutine_threadsafe(self._end(), self._loop)
        with contextlib.suppress(Exception):
            ending.result(_QUITTING + 5)
        if self._leash is not None:
            self._leash.close()
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join()

    async def _end(self) -> None:
        # A process that is just being made is there in a moment, and must not be left behind.
        while self._spawning:
            await asyncio.sleep(0.01)
        protocol = self._protocol
        if protocol is None or protocol.transport is None:
            return
        if not protocol.returncode.done():
            with contextlib.suppress(Exception):
                protocol.send_line("stop")
                protocol.send_line("quit")
            try:
                await asyncio.wait_for(asyncio.shield(protocol.returncode), _QUITTING)
            except TimeoutError:
                protocol.kill()
                await asyncio.wait({protocol.returncode}, timeout=2)
        protocol.transport.close()

    def _run_loop(self) -> None:
        asyncio.set_event_loop(self._loop)
        self._loop.set_exception_handler(_without_engine_errors)
        try:
            self._loop.run_forever()
            left = asyncio.all_tasks(self._loop)
            for task in left:
                task.cancel()
            if left:
                self._loop.run_until_complete(asyncio.wait(left, timeout=5))
            self._loop.run_until_complete(asyncio.sleep(0))
        finally:
            self._loop.close()


def _without_engine_errors(loop: asyncio.AbstractEventLoop, context: dict[str, Any]) -> None:
    """Leave out what python-chess reports of an ended engine besides: its user was told once."""
    if not isinstance(context.get("exception"), chess.engine.EngineError):
        loop.default_exception_handler(context)


def _most_lines(protocol: GuardedProtocol) -> int:
    """How many lines an engine can show: one, where it has no option for more."""
    option = protocol.options.get("MultiPV")
    return 1 if option is None else option.max or 1


def _accepted(
    protocol: GuardedProtocol, options: EngineOptions
) -> dict[str, str | int | bool | None]:
    """The options that this engine knows, within its bounds."""
    wanted = {"Hash": options.hash_mb, "Threads": options.threads}
    accepted: dict[str, str | int | bool | None] = {}
    for name, value in wanted.items():
        known = protocol.options.get(name)
        if known is not None and known.type == "spin":
            low = known.min if known.min is not None else value
            high = known.max if known.max is not None else value
            accepted[name] = max(low, min(high, value))
    return accepted
