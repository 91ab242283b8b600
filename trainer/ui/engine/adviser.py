"""What the window asks the engine, and in which terms: looks, refutations, tests, moments."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import islice
from pathlib import Path
from threading import RLock
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QTimer, Signal

from trainer.errors import EngineError
from trainer.storage.log import BugLog
from trainer.storage.settings import Settings
from trainer.ui.engine.worker import EngineChoice, EngineWorker, Request

if TYPE_CHECKING:
    import chess

    from trainer.engine.cache import EvaluationCache
    from trainer.engine.check import CheckProgress, CheckResult
    from trainer.engine.evaluation import Evaluation
    from trainer.engine.moments import Moment
    from trainer.engine.session import Engine
    from trainer.engine.why_not import WhyNot
    from trainer.repertoire.graph import Repertoire
    from trainer.repertoire.reach import Weigh

#: Lines that a look shows.
LINES = 3
#: Nodes of a "why not", as a multiple of those that a test spends on a position.
_CLOSER = 4
#: Positions for which near-best replies are looked for after a test.
_PREPARED = 200

Failed = Callable[[str], None]


class Adviser(QObject):
    """The one way from the window to the engine. Nothing is started before the first question."""

    #: The engine is at work, or it rests.
    busy_changed = Signal(bool)
    #: A question of the drill was opened, so that nothing may be said, or it is answered.
    silent_changed = Signal(bool)

    def __init__(
        self, settings: Settings, cache_folder: Path, log: BugLog, parent: QObject | None = None
    ) -> None:
        super().__init__(parent)
        self._settings = settings
        self._cache_folder = cache_folder
        self._cache: EvaluationCache | None = None
        self._lock = RLock()
        self._closed = False
        self._worker = EngineWorker(log, self)
        self._worker.busy_changed.connect(self.busy_changed)

    # -- which engine ------------------------------------------------------------------------

    def set_settings(self, settings: Settings) -> None:
        """Take over changed settings; an engine that runs goes on until the next question."""
        self._settings = settings

    @property
    def settings(self) -> Settings:
        """The settings that questions are asked by."""
        return self._settings

    def _choose(self, failed: Failed) -> bool:
        """Tell the worker which engine; whether there is one."""
        from trainer.engine.discover import engine_to_use

        settings = self._settings
        try:
            path = engine_to_use(settings.engine)
        except EngineError as error:
            failed(str(error))
            return False
        choice = EngineChoice(path, settings.engine_hash_mb, settings.engine_threads)
        self._worker.set_choice(choice)
        return True

    # -- questions ---------------------------------------------------------------------------

    def look(
        self,
        board: chess.Board,
        *,
        told: Callable[[Evaluation], None],
        done: Callable[[Evaluation], None],
        failed: Failed,
    ) -> Request | None:
        """The best lines of a position, told as they deepen, then done."""
        if not self._choose(failed):
            return None
        board, seconds = board.copy(stack=False), self._settings.engine_seconds

        def work(engine: Engine, request: Request) -> Evaluation:
            from trainer.engine.evaluation import Limit

            found = engine.evaluate(
                board,
                Limit(seconds=seconds),
                lines=LINES,
                game=self,
                cancelled=request.stopped,
                progress=request.tell,
            )
            if found.nodes:
                cache = self.cache()
                cache.keep(board, engine.name, found, nodes=found.nodes, lines=LINES)
            return found

        return self._worker.ask(work, done=done, failed=failed, told=told)

    def why_not(
        self,
        board: chess.Board,
        move: chess.Move,
        *,
        done: Callable[[WhyNot], None],
        failed: Failed,
    ) -> Request | None:
        """What speaks against a move."""
        if not self._choose(failed):
            return None
        board, nodes = board.copy(stack=False), _CLOSER * self._settings.engine_nodes

        def work(engine: Engine, request: Request) -> WhyNot:
            from trainer.engine.evaluator import CachedEvaluator
            from trainer.engine.why_not import why_not

            evaluate = CachedEvaluator(engine, self.cache(), request.stopped)
            return why_not(board, move, evaluate, nodes=nodes)

        return self._worker.ask(work, done=done, failed=failed)

    def bears_out(
        self,
        board: chess.Board,
        taking: chess.Move | None,
        answer: chess.Move,
        *,
        done: Callable[[bool], None],
        failed: Failed,
        background: bool = False,
    ) -> Request | None:
        """Whether a claim that rules made holds: `answer` refutes `taking`, or wins by itself.

        In the `background` it takes nobody's place, and waits its turn.
        """
        if not self._choose(failed):
            return None
        board = board.copy(stack=False)

        def work(engine: Engine, request: Request) -> bool:
            from trainer.engine.claims import bears_out
            from trainer.engine.evaluator import CachedEvaluator

            evaluate = CachedEvaluator(engine, self.cache(), request.stopped)
            return bears_out(board, taking, answer, evaluate)

        return self._worker.ask(work, done=done, failed=failed, background=background)

    def as_good(
        self,
        questions: Sequence[tuple[chess.Board, chess.Move]],
        *,
        done: Callable[[list[tuple[chess.Move, ...]]], None],
        failed: Failed,
    ) -> Request | None:
        """For positions with their best moves: these, and what is as good."""
        if not self._choose(failed):
            return None
        asked = [(board.copy(stack=False), best) for board, best in questions]

        def work(engine: Engine, request: Request) -> list[tuple[chess.Move, ...]]:
            from trainer.engine.claims import as_good
            from trainer.engine.evaluator import CachedEvaluator

            evaluate = CachedEvaluator(engine, self.cache(), request.stopped)
            return [as_good(board, best, evaluate) for board, best in asked]

        return self._worker.ask(work, done=done, failed=failed, background=True)

    def test(
        self,
        repertoire: Repertoire,
        weigh: Weigh,
        *,
        told: Callable[[CheckProgress], None],
        done: Callable[[CheckResult], None],
        failed: Failed,
        positions: int | None = None,
    ) -> Request | None:
        """Test a repertoire in the background; it makes room for every other question.

        `weigh` is called in the engine's thread.
        """
        if not self._choose(failed):
            return None
        nodes, margin = self._settings.engine_nodes, self._settings.engine_margin

        def work(engine: Engine, request: Request) -> CheckResult:
            from trainer.engine.check import CheckSettings, check_repertoire
            from trainer.engine.evaluator import CachedEvaluator

            evaluate = CachedEvaluator(engine, self.cache(), request.stopped)
            settings = CheckSettings(nodes, margin, positions)
            return check_repertoire(repertoire, evaluate, settings, weigh=weigh, told=request.tell)

        return self._worker.ask(work, done=done, failed=failed, told=told, background=True)

    def prepare(self, repertoire: Repertoire, weigh: Weigh) -> Request | None:
        """Have near-best replies ready for strangers, what is reached most first, in silence."""
        if not self._choose(lambda _sentence: None):
            return None
        nodes = self._settings.engine_nodes // 2

        def work(engine: Engine, request: Request) -> None:
            from trainer.engine.check import by_reach
            from trainer.engine.evaluator import CachedEvaluator
            from trainer.engine.plausible import prepare

            evaluate = CachedEvaluator(engine, self.cache(), request.stopped)
            asked = (
                node
                for node, _reach in by_reach(repertoire, weigh)
                if node.turn != repertoire.side and node.edges
            )
            for node in islice(asked, _PREPARED):
                prepare(node.board(), evaluate, nodes=nodes)

        return self._worker.ask(
            work, done=lambda _result: None, failed=lambda _sentence: None, background=True
        )

    def moments(
        self,
        start: chess.Board,
        moves: Sequence[chess.Move],
        *,
        done: Callable[[tuple[Moment, ...]], None],
        failed: Failed,
        told: Callable[[float], None] | None = None,
        first_ply: int = 1,
    ) -> Request | None:
        """The critical moments of a game, found in the background and kept with it.

        Where they were found before they are told at once, and no engine is started.
        """
        known = self.known_moments(start, moves) if first_ply == 1 else None
        if known is not None:
            QTimer.singleShot(0, self, lambda: done(known))
            return None
        if not self._choose(failed):
            return None
        board, line = start.copy(stack=False), list(moves)

        def work(engine: Engine, request: Request) -> tuple[Moment, ...]:
            from trainer.engine.evaluator import CachedEvaluator
            from trainer.engine.kept_moments import keep_moments
            from trainer.engine.moments import find_moments

            cache = self.cache()
            evaluate = CachedEvaluator(engine, cache, request.stopped)
            found = find_moments(board, line, evaluate, first_ply=first_ply, told=request.tell)
            if first_ply == 1:
                keep_moments(cache, board, line, found)
            return found

        return self._worker.ask(work, done=done, failed=failed, told=told, background=True)

    def known_moments(
        self, start: chess.Board, moves: Sequence[chess.Move]
    ) -> tuple[Moment, ...] | None:
        """The moments of a game where they were found before; the engine is not asked."""
        from trainer.engine.kept_moments import known_moments

        return known_moments(self.cache(), start, moves)

    def near_best(self, board: chess.Board) -> Sequence[tuple[chess.Move, float]]:
        """Near-best moves that are known already, for strangers; the engine is not asked."""
        from trainer.engine.plausible import near_best

        return near_best(self.cache(), board)

    def shake_hands(
        self, path: Path, *, done: Callable[[str], None], failed: Failed
    ) -> Request | None:
        """Start the program at `path`, hear its name by the UCI handshake, and go on with it."""
        settings = self._settings
        choice = EngineChoice(path, settings.engine_hash_mb, settings.engine_threads)
        self._worker.set_choice(choice)

        def work(engine: Engine, _request: Request) -> str:
            return engine.name

        return self._worker.ask(work, done=done, failed=failed)

    # -- the rest ----------------------------------------------------------------------------

    def give_up(self, request: Request | None) -> None:
        """Nobody waits for this answer any more."""
        self._worker.give_up(request)

    def set_silent(self, silent: bool) -> None:
        """A drill question is open, or it is not: while it is, the engine does nothing."""
        changed = silent != self._worker.silent
        self._worker.set_silent(silent)
        if changed:
            self.silent_changed.emit(silent)

    @property
    def silent(self) -> bool:
        """Whether a drill question is open."""
        return self._worker.silent

    @property
    def working(self) -> bool:
        """Whether the engine is at work this moment."""
        return self._worker.working

    def get_ready(self) -> None:
        """Open the evaluations before anybody asks for them, unless this is closed already.

        For a worker: the first game that is opened asks for its moments in the window's thread.
        """
        with self._lock:
            if not self._closed:
                self.cache()

    def cache(self) -> EvaluationCache:
        """The evaluations, opened at first use, from whatever thread."""
        from trainer.engine.cache import FILE_NAME, EvaluationCache

        with self._lock:
            if self._cache is None:
                self._cache = EvaluationCache(self._cache_folder / FILE_NAME)
            return self._cache

    def close(self) -> None:
        """Stop everything and end the engine."""
        self._worker.close()
        with self._lock:
            self._closed = True
            if self._cache is not None:
                self._cache.close()
                self._cache = None
