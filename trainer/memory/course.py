"""One repertoire with its progress: what the window and the terminal drill are built on.

A course may be opened, asked for today's figures and begun from a worker thread; its session is
then run in one thread. The two never overlap: figures are asked for between sessions.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date, datetime
from itertools import count
from pathlib import Path

import chess

from trainer.errors import ProgressError
from trainer.memory.apart import LookAlike, PairNotes
from trainer.memory.days import StudyDays, day_and_month
from trainer.memory.exercises import plan_exercise
from trainer.memory.forecast import figures, noted
from trainer.memory.game_slips import GameSlip, in_order_of_time, slips_to_count
from trainer.memory.grading import Pace
from trainer.memory.index_store import IndexStore
from trainer.memory.learnt import LearntDays
from trainer.memory.model import PARAMETERS, MemoryStates
from trainer.memory.own_timing import own_timing
from trainer.memory.plan import Plan, Question, Run, Timing
from trainer.memory.planner import LastEntries, plan_positions, plan_session, planning_graph
from trainer.memory.review_index import ReviewIndex
from trainer.memory.session import DrillSession, DrillSettings, Journal, Summary
from trainer.memory.strangers import PlausibleReplies
from trainer.memory.today import NotedDecision, Today
from trainer.repertoire.arrays import Floats, RepertoireArrays
from trainer.repertoire.graph import Node, Repertoire
from trainer.repertoire.measured import Measured
from trainer.repertoire.reach import reach
from trainer.repertoire.reader import LoadedRepertoire, read_repertoire
from trainer.storage.answers import Answer, AnswerKind
from trainer.storage.progress import ProgressStore
from trainer.storage.reply_counts import ReplyCounts
from trainer.storage.settings import Settings

Clock = Callable[[], datetime]


class Course:
    """A repertoire, the memory of it, and where its answers are kept.

    `store` is None where no progress file could be opened; then, and where it is open to read
    only, the drill works and its answers are forgotten when the course is closed.
    """

    def __init__(
        self,
        loaded: LoadedRepertoire,
        store: ProgressStore | None,
        settings: Settings,
        *,
        clock: Clock,
        days: StudyDays,
        rng: random.Random,
        plausible: PlausibleReplies | None = None,
        replies: ReplyCounts | None = None,
        indexes: IndexStore | None = None,
    ) -> None:
        """`plausible` may be set later too; strangers are taken from it first.

        By `replies` reach is measured; without, all replies of a position are equally likely.
        Raises `ProgressError` when the progress file cannot be read or written."""
        assert loaded.path is not None
        self.path: Path = loaded.path
        self.settings = settings
        self.plausible = plausible
        self.loaded = loaded
        self.arrays = RepertoireArrays.compile(self.repertoire)
        #: Where review indices of the player's own parameters are kept.
        self.indexes = indexes or IndexStore(None)
        self.replies = replies or ReplyCounts()
        self.reply_shares: Floats | None = None
        self._measured_as: float | None = None
        self._measure()
        self._own_parameters: tuple[float, ...] | None = None
        self._store = store
        self._clock = clock
        self._rng = rng
        self._session_id = 0
        self.repertoire_id = 0
        if store is not None:
            keys = [node.key for node in self.repertoire.decisions()]
            self.repertoire_id = store.identify(self.path, self.side, keys)
        #: All answers that stand, those of this course added as they are given, so that the file
        #: is read once. Where no file keeps them they have numbers below 0.
        self._log = [] if store is None else store.answers(self.repertoire_id)
        self._unkept_numbers = count(-1, -1)
        self.pair_notes = PairNotes(() if store is None else store.pair_notes(self.repertoire_id))
        self._days = days
        #: By position key: the day on which the player wants to be asked, whatever the recall.
        self._wanted_on: dict[int, int] = {}
        self.states = self._states_of_log()

    # -- what it is --------------------------------------------------------------------------

    @property
    def repertoire(self) -> Repertoire:
        """The graph of positions."""
        return self.loaded.repertoire

    @property
    def side(self) -> chess.Color:
        """Whose repertoire it is."""
        return self.repertoire.side

    @property
    def keeps_answers(self) -> bool:
        """Whether answers go to a file."""
        return self._store is not None and not self._store.read_only

    @property
    def title(self) -> str:
        """What the window calls it: the file's name without its ending, as words."""
        words = self.path.stem.replace("-", " ").replace("_", " ").split()
        return " ".join(word[:1].upper() + word[1:] for word in words) or self.path.name

    @property
    def answers(self) -> list[Answer]:
        """All answers that stand, in the order in which they were given."""
        return list(self._log)

    def go_on_from(self, before: Course) -> None:
        """Keep what no file keeps of the course that this one replaces."""
        self._wanted_on |= before._wanted_on
        if not self.keeps_answers and not before.keeps_answers:
            self._log, self._unkept_numbers = before._log, before._unkept_numbers
            self.states = self._states_of_log()

    # -- look-alikes -------------------------------------------------------------------------

    def tell_apart(self, first: Node, second: Node, note: str) -> None:
        """Keep what tells two look-alikes apart; empty takes it away. Raises `ProgressError`."""
        if self.keeps_answers:
            assert self._store is not None
            self._store.tell_apart(self.repertoire_id, first.key, second.key, note)
        self.pair_notes.keep(first, second, note)

    def look_alikes(self, node: Node) -> tuple[LookAlike, ...]:
        """What the player has told `node` apart from."""
        return self.pair_notes.look_alikes(self.repertoire, node)

    # -- asking ------------------------------------------------------------------------------

    def today(self, minutes: int) -> Today:
        """Today's figures for a drill of so many minutes. Raises `ProgressError`."""
        self._measure()
        return figures(
            self.repertoire,
            self.arrays,
            self.states,
            self._plan(minutes),
            self._log,
            now=self._clock(),
            desired_retention=self.settings.desired_retention,
            flagged=self._flagged(),
            reply_shares=self.reply_shares,
        )

    def begin(self, minutes: int) -> DrillSession:
        """Plan a drill of so many minutes and open it. Raises `ProgressError`."""
        self._measure()
        return self._open(self._plan(minutes), minutes, self._stranger_rate())

    def ask_today(self, node: Node) -> None:
        """Ask this decision first in today's next drill, whatever its recall."""
        self._wanted_on[node.key] = self.today_number

    def begin_with(self, nodes: Sequence[Node]) -> DrillSession:
        """Open a drill of just these decisions, without strangers. Raises `ProgressError`."""
        self._measure()
        plan = plan_positions(
            self.arrays,
            self.states,
            self.reach,
            nodes,
            now=self._clock(),
            last_entries=self._last_entries(),
            timing=self.timing,
        )
        return self._open(plan, max(1, round(plan.minutes)), 0.0)

    def _open(self, plan: Plan, minutes: int, stranger_rate: float) -> DrillSession:
        if self.keeps_answers:
            assert self._store is not None
            self._session_id = self._store.begin_session(self.repertoire_id, minutes)
        return DrillSession(
            self.repertoire,
            self.arrays,
            plan,
            self.states,
            journal=self._journal(),
            clock=self._clock,
            rng=self._rng,
            pace=Pace.lately(self._log),
            settings=DrillSettings(stranger_rate=stranger_rate),
            plausible=self.plausible,
            reply_shares=self.reply_shares,
        )

    def begin_exercise(
        self,
        nodes: Sequence[Node],
        minutes: int,
        *,
        mixed: bool = True,
        moves_before: int | None = None,
    ) -> DrillSession:
        """Open a drill of the best of these decisions, without strangers.

        `moves_before` is how many half-moves are shown before each. Raises `ProgressError`.
        """
        self._measure()
        plan = plan_exercise(
            self.arrays,
            self.states,
            self.reach,
            nodes,
            minutes=minutes,
            now=self._clock(),
            index=self.index,
            rng=self._rng,
            mixed=mixed,
            moves_before=moves_before,
            graph=self.graph,
            last_entries=self._last_entries(),
            timing=self.timing,
        )
        return self._open(plan, minutes, 0.0)

    # -- the player's own memory -------------------------------------------------------------

    @property
    def days(self) -> StudyDays:
        """The player's calendar."""
        return self._days

    @property
    def today_number(self) -> int:
        """Today, as a day of study."""
        return self.states.today(self._clock())

    @property
    def timing(self) -> Timing:
        """What questions take this player, by the answers he gave lately."""
        return own_timing(self._log, self.repertoire)

    @property
    def days_to_tournament(self) -> int | None:
        """How many days there are to the tournament that was set; None without one, or past it."""
        day = self.settings.tournament_day
        left = None if day is None else date.fromisoformat(day).toordinal() - self.today_number
        return left if left is not None and left > 0 else None

    @property
    def index(self) -> ReviewIndex:
        """The review index of the parameters in use; computed (seconds) where they are new."""
        return self.indexes.index_for(self.states.model.parameters)

    def use_parameters(self, parameters: Sequence[float]) -> None:
        """Count all answers by these parameters of the model from now on, and keep them.

        Raises `ProgressError`, and `ValueError` when one is out of the library's bounds; nothing
        is changed then.
        """
        states = MemoryStates.from_answers(self._log, parameters, self._days)
        if self.keeps_answers:
            assert self._store is not None
            self._store.save_parameters(parameters, self.repertoire_id)
        self._own_parameters = tuple(parameters)
        self.states = states

    def finish(self, summary: Summary) -> None:
        """Note the end of the drill that was begun last. Raises `ProgressError`."""
        self.ending(summary)()

    def ending(self, summary: Summary) -> Callable[[], None]:
        """What notes the end of the drill that was begun last, to be called from any thread.

        The drill may be another one by then. It raises `ProgressError`.
        """
        store, session = self._store, self._session_id
        if store is None or not self.keeps_answers or not session:
            return lambda: None
        noted = {
            "asked": summary.asked,
            "right": summary.right,
            "missed": len(summary.missed),
            "depth_before": round(summary.depth_before, 3),
            "depth_after": round(summary.depth_after, 3),
            "seconds": round(summary.seconds, 1),
        }
        now = self._clock()
        return lambda: store.end_session(session, noted, now)

    def unflag(self, key: int) -> None:
        """Take the flag off a position. Raises `ProgressError`."""
        if self._store is not None:
            self._store.unflag(self.repertoire_id, key)

    # -- the player's own games --------------------------------------------------------------

    def learnt(self) -> LearntDays:
        """Which prepared moves had been learnt on which day."""
        return LearntDays(self._log, self._days)

    def use_replies(self, replies: ReplyCounts) -> None:
        """Measure reach by how often each reply was played."""
        self.replies = replies
        self._measured_as = None
        self._measure()

    @property
    def measured(self) -> Measured:
        """How likely replies are, by what was counted."""
        return Measured(self.replies, self.settings.base_counts_as)

    def _measure(self) -> None:
        """Weigh the replies, if that was not done yet or by other settings."""
        if self._measured_as != self.settings.base_counts_as:
            self._measured_as = self.settings.base_counts_as
            self.reply_shares = self.measured.shares(self.arrays)
            self.reach = reach(self.arrays, self.reply_shares)
            self.graph = planning_graph(self.arrays, self.reply_shares)

    def count_slips(self, slips: Sequence[GameSlip]) -> list[Answer]:
        """Count decisions forgotten in games, each once and for all; what was new among them.

        Where no file keeps answers nothing is counted. Raises `ProgressError`.
        """
        if not self.keeps_answers or not slips:
            return []
        assert self._store is not None
        log = self._store.answers(self.repertoire_id, include_retracted=True)
        missing = slips_to_count(slips, log, self.repertoire_id, self._clock())
        if not missing:
            return []
        kept = [
            replace(answer, id=number)
            for answer, number in zip(missing, self._store.record_all(missing), strict=True)
        ]
        self._log += kept
        self._renew_states(kept)
        return kept

    def counted_slips(self) -> list[Answer]:
        """The decisions forgotten in games that count for memory now."""
        return [answer for answer in self._log if answer.kind is AnswerKind.GAME]

    def discount_slips(self, answers: Sequence[Answer]) -> None:
        """Take forgotten decisions back, for good. Raises `ProgressError`."""
        if not self.keeps_answers:
            return
        assert self._store is not None
        for answer in answers:
            self._store.retract(answer.id)
        gone = {answer.id for answer in answers}
        self._log = [answer for answer in self._log if answer.id not in gone]
        self._renew_states(answers)

    # -- inside ------------------------------------------------------------------------------

    def _states_of_log(self) -> MemoryStates:
        log = in_order_of_time(self._log)
        return MemoryStates.from_answers(log, self._parameters(), self._days)

    def _renew_states(self, answers: Sequence[Answer]) -> None:
        """Derive again what is remembered where these answers came in or were taken back."""
        histories: dict[tuple[int, str], list[Answer]] = {
            (answer.key, answer.move): [] for answer in answers
        }
        for answer in in_order_of_time(self._log):
            history = histories.get((answer.key, answer.move))
            if history is not None:
                history.append(answer)
        for (key, move), history in histories.items():
            states = MemoryStates.from_answers(history, self._parameters(), self._days)
            self.states.put(key, move, states.get(key, move))

    def _parameters(self) -> tuple[float, ...]:
        stored = None if self._store is None else self._store.load_parameters(self.repertoire_id)
        return self._own_parameters or stored or PARAMETERS

    def _plan(self, minutes: int) -> Plan:
        plan = self._plan_by_worth(minutes)
        wanted = self._wanted_today()
        if not wanted:
            return plan
        first = plan_positions(
            self.arrays,
            self.states,
            self.reach,
            wanted,
            now=self._clock(),
            last_entries=self._last_entries(),
            timing=plan.timing,
        )
        runs = [_without(run, frozenset(wanted)) for run in plan.runs]
        rest = tuple(run for run in runs if run is not None)
        return replace(plan, runs=first.runs + rest, minutes=plan.minutes + first.minutes)

    def _wanted_today(self) -> list[Node]:
        """The decisions that the player wants to be asked today and has not answered since."""
        today, nodes = self.today_number, self.repertoire.nodes
        found = [
            nodes[key] for key, day in self._wanted_on.items() if day == today and key in nodes
        ]
        return [node for node in found if self.repertoire.is_decision(node)]

    def _plan_by_worth(self, minutes: int) -> Plan:
        return plan_session(
            self.arrays,
            self.states,
            self.reach,
            minutes=minutes,
            now=self._clock(),
            desired_retention=self.settings.desired_retention,
            last_entries=self._last_entries(),
            timing=self.timing,
            index=self.index,
            graph=self.graph,
            days_left=self.days_to_tournament,
        )

    def _last_entries(self) -> LastEntries | None:
        return None if self._store is None else self._store.last_entries(self.repertoire_id)

    def _stranger_rate(self) -> float:
        first = next((a.at for a in self._log if a.kind is AnswerKind.DRILL), None)
        wanted = self.settings.wants_strangers(first, self._clock())
        return self.settings.stranger_rate if wanted else 0.0

    def _flagged(self) -> tuple[NotedDecision, ...]:
        flags = [] if self._store is None else self._store.flags(self.repertoire_id)
        return tuple(
            noted(self.repertoire, node, flag.note or f"flagged on {self._day(flag.at)}")
            for flag in flags
            if (node := self.repertoire.nodes.get(flag.key)) is not None
            and self.repertoire.is_decision(node)
        )

    def _day(self, moment: datetime) -> str:
        days = self.states.days
        return day_and_month(days.date(days.number(moment)))

    def _journal(self) -> Journal:
        """Where the answers of a session go: to the file, where it keeps them, and to the log."""
        store = self._store if self.keeps_answers else None
        number = self.repertoire_id

        def record(answer: Answer) -> int:
            return next(self._unkept_numbers) if store is None else store.record(answer)

        def recorded(answer: Answer) -> None:
            self._log.append(answer)
            self._wanted_on.pop(answer.key, None)

        def retract(answer_id: int) -> None:
            if store is not None:
                store.retract(answer_id)

        def retracted(answer_id: int) -> None:
            self._log = [answer for answer in self._log if answer.id != answer_id]

        def flag(key: int, note: str) -> None:
            if store is None:
                raise ProgressError("Nothing is kept in this window, so a flag would be lost.")
            store.flag(number, key, note)

        return Journal(
            repertoire_id=number,
            session_id=0 if store is None else self._session_id,
            record=record,
            retract=retract,
            flag=flag,
            recorded=recorded,
            retracted=retracted,
        )


def _without(run: Run, nodes: frozenset[Node]) -> Run | None:
    """A run that ends before the first question at one of `nodes`; None where none is left.

    What follows in it would be approached from there; it is asked another time.
    """
    kept: list[Question] = []
    for question in run.questions:
        if question.node in nodes:
            break
        kept.append(question)
    return replace(run, questions=tuple(kept)) if kept else None


def read_course_file(
    path: Path,
    store: ProgressStore | None,
    *,
    side: chess.Color | None = None,
    progress: Callable[[float], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> LoadedRepertoire:
    """The repertoire at `path`, for the side that the player chose for this file before.

    `side` overrides that and what the file says. `side_guessed` is set in what comes back only
    where nobody ever said it.

    Raises `RepertoireFileError`, `ReadingCancelledError` and `ProgressError`.
    """
    loaded = read_repertoire(path, side=side, progress=progress, cancelled=cancelled)
    known = store.known_side(path) if loaded.side_guessed and store is not None else None
    if known is None:
        return loaded
    if known == loaded.repertoire.side:
        return replace(loaded, side_guessed=False)
    return read_repertoire(path, side=known, progress=progress, cancelled=cancelled)
