"""The drill session: asks the plan, grades, logs each answer, and brings back what was missed.

It knows neither the window nor the terminal nor the disk: both show its prompts and pass moves
and seconds in, and the log is passed in as a function that returns when the answer is safe. Only
then does the session go on, so that no acknowledged answer can be lost. If the log raises,
nothing has changed and the question is still open.

What is written can be left to another thread: `answering` is `answer` as an act (`acts`), and so
for all that the log hears of. While an act waits for its writing no other may begin.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import partial
from typing import Final

import chess

from trainer.memory.acts import Act, at_once
from trainer.memory.drill import (
    DrillSettings,
    Hint,
    Missed,
    Prompt,
    PromptKind,
    Step,
    Summary,
    Verdict,
    VerdictKind,
)
from trainer.memory.grading import Pace
from trainer.memory.model import MemoryState, MemoryStates
from trainer.memory.plan import Plan
from trainer.memory.queue import Ask, AskQueue, way
from trainer.memory.strangers import PlausibleReplies, Strangers
from trainer.position import position_key
from trainer.repertoire.arrays import RepertoireArrays
from trainer.repertoire.graph import Edge, Node, Repertoire
from trainer.repertoire.orders import order_of
from trainer.repertoire.reach import ReplyShares, depth_in_hand
from trainer.storage.answers import Answer, AnswerKind, Grade

__all__ = ["DrillSession", "DrillSettings", "Hint", "Prompt", "Summary", "Verdict", "VerdictKind"]

#: How long a slip of the mouse can be taken back.
SLIP_TIME: Final = timedelta(seconds=3)
#: These come back in the session until they are right once without a hint.
_COMES_BACK: Final = frozenset({Grade.MISSED, Grade.HINTED})


@dataclass(frozen=True)
class Journal:
    """Where a session's answers go.

    `record` returns the answer's id when it is safely kept; `retract` takes an answer back by
    its id; `flag` marks a position (key, note) for later. These three may be called in any
    thread. In that of the session `recorded` is told of each answer that was kept, with its id,
    and `retracted` of the id that was taken back.
    """

    repertoire_id: int
    session_id: int
    record: Callable[[Answer], int]
    retract: Callable[[int], object]
    flag: Callable[[int, str], object]
    recorded: Callable[[Answer], object] = lambda _answer: None
    retracted: Callable[[int], object] = lambda _id: None


@dataclass(frozen=True, eq=False)
class _Logged:
    """An answer of this session, with its id and the memory before it."""

    id: int
    answer: Answer
    ask: Ask
    prompt: Prompt
    before: MemoryState | None


class DrillSession:
    """One sitting. `prompt` is the open question, None when everything was asked."""

    def __init__(
        self,
        repertoire: Repertoire,
        arrays: RepertoireArrays,
        plan: Plan,
        states: MemoryStates,
        *,
        journal: Journal,
        clock: Callable[[], datetime],
        rng: random.Random,
        pace: Pace | None = None,
        settings: DrillSettings | None = None,
        reply_shares: ReplyShares | None = None,
        plausible: PlausibleReplies | None = None,
    ) -> None:
        """`states` and `pace` are kept up to date with every answer of the session.

        `clock` gives the time with its zone; all chance comes from `rng`.
        """
        self._repertoire = repertoire
        self._arrays = arrays
        self._states = states
        self._journal = journal
        self._clock = clock
        self._rng = rng
        self._pace = pace or Pace()
        self._settings = settings or DrillSettings()
        self._timing = plan.timing
        self._reply_shares = reply_shares
        slips_in = self._settings.stranger_rate > 0
        self._strangers = Strangers(repertoire, plausible) if slips_in else None
        self._tomorrow = states.today(clock()) + 1
        self._depth_before = self._depth()
        self._queue = AskQueue(plan)
        self._log: list[_Logged] = []
        # The positions of the line that was shown, the last one on the board (none after a
        # stranger), and the whole order by which it came there.
        self._trail: tuple[Node, ...] = ()
        self._shown_order: tuple[str, ...] = ()
        self._shown_origin: Node | None = None
        self._ask: Ask | None = None
        self._entry: Edge | None = None
        self._stranger: Step | None = None
        self._prompt: Prompt | None = None
        self._correcting = False
        #: The main move was named after an accepted alternative.
        self._named = False
        self._hints = 0
        self._next()

    # -- asking ------------------------------------------------------------------------------

    @property
    def prompt(self) -> Prompt | None:
        """The open question, None when everything was asked."""
        return self._prompt

    @property
    def correcting(self) -> bool:
        """Whether a missed move must now be played."""
        return self._correcting

    @property
    def expected_seconds_left(self) -> float:
        """What the open question and those to come are expected to take."""
        open_seconds = self._ask.question.seconds if self._ask and not self._stranger else 0.0
        # What was missed mostly comes back at once, wherever the board is.
        again = self._timing.right + self._timing.jump
        return open_seconds + sum(
            again if ask.is_repeat else ask.question.seconds for ask in self._queue.waiting()
        )

    def answer(self, move: chess.Move, seconds: float) -> Verdict:
        """Play `move` at the open question, after `seconds`.

        An accepted alternative is no answer and no mistake: nothing is logged, the main move is
        named, has to be played, and comes back in the session. While a missed move has to be
        played, this is `correct`. Raises `ValueError` for a move that is not legal, or when no
        question is open.
        """
        return at_once(self.answering(move, seconds))

    def answering(self, move: chess.Move, seconds: float) -> Act[Verdict]:
        """`answer`, with its writing left to whoever goes through it."""
        prompt, ask = self._open()
        if move not in prompt.board.legal_moves:
            raise ValueError(f"{move.uci()} is not legal in {prompt.board.fen()}")
        if self._correcting:
            return self.correct(move)
        if self._stranger is not None:
            return (yield from self._meet_stranger(AnswerKind.STRANGER_UNNOTICED, seconds, move))
        main = ask.question.edge
        if self._named:
            return self._play_named(prompt, main, move)
        if move == main.move:
            grade = self._pace.grade(seconds, self._hints)
            yield from self._record(self._drill_kind, seconds, grade=grade, played=move)
            self._close(main, comes_back=grade in _COMES_BACK)
            return Verdict(VerdictKind.RIGHT, prompt, main, move, grade)
        if ask.question.node.edge_for(move) is not None:
            self._named = True
            return Verdict(VerdictKind.ALTERNATIVE, prompt, main, move)
        yield from self._record(self._drill_kind, seconds, grade=Grade.MISSED, played=move)
        self._correcting = True
        return Verdict(VerdictKind.MISSED, prompt, main, move, Grade.MISSED)

    def correct(self, move: chess.Move) -> Verdict:
        """Play the prepared move after a miss. It is not logged: the answer was the miss.

        Raises `ValueError` when nothing was missed.
        """
        prompt, ask = self._open()
        if not self._correcting:
            raise ValueError("no missed move has to be played")
        main = ask.question.edge
        if move != main.move:
            return Verdict(VerdictKind.NOT_YET, prompt, main, move)
        self._close(main, comes_back=True)
        return Verdict(VerdictKind.CORRECTED, prompt, main, move)

    def _play_named(self, prompt: Prompt, main: Edge, move: chess.Move) -> Verdict:
        """The main move that was named after an alternative; any other one changes nothing."""
        if move != main.move:
            return Verdict(VerdictKind.NOT_YET, prompt, main, move)
        self._close(main, comes_back=True)
        return Verdict(VerdictKind.CORRECTED, prompt, main, move)

    def hint(self) -> Hint | None:
        """One more step of help: the piece, then where it goes; None where hints are off.

        The answer is then graded as hinted. Where the last reply was a stranger there is nothing
        to show, and the player has not noticed it by himself.
        """
        _, ask = self._open()
        if not self._settings.hints:
            return None
        if not self._correcting:
            self._hints = min(2, self._hints + 1)
        if self._stranger is not None:
            return Hint(None)
        move = ask.question.edge.move
        whole = self._correcting or self._hints == 2
        return Hint(move.from_square, move.to_square if whole else None)

    def left_known_lines(self, seconds: float) -> Verdict:
        """The player says, after `seconds`, that the last reply is not in the repertoire."""
        return at_once(self.leaving_known_lines(seconds))

    def leaving_known_lines(self, seconds: float) -> Act[Verdict]:
        """`left_known_lines`, with its writing left to whoever goes through it."""
        prompt, ask = self._open()
        if self._correcting or self._named:
            return Verdict(VerdictKind.NOT_YET, prompt, ask.question.edge)
        if self._stranger is None:
            yield from self._record(AnswerKind.FALSE_ALARM, seconds)
            return Verdict(VerdictKind.FALSE_ALARM, prompt, ask.question.edge)
        noticed = not self._hints
        kind = AnswerKind.STRANGER_NOTICED if noticed else AnswerKind.STRANGER_UNNOTICED
        return (yield from self._meet_stranger(kind, seconds, None))

    def skip(self) -> Verdict:
        """Leave the open question for another day. A miss before it stands, and comes back."""
        return at_once(self.skipping())

    def skipping(self) -> Act[Verdict]:
        """`skip`, with its writing left to whoever goes through it."""
        prompt, ask = self._open()
        stranger, missed = self._stranger, self._correcting
        yield from self._record(AnswerKind.SKIPPED, 0.0)
        if stranger is not None:
            self._forget_board()
            self._next()
            return Verdict(VerdictKind.SKIPPED, prompt, stranger=stranger)
        self._close(None, comes_back=missed)
        return Verdict(VerdictKind.SKIPPED, prompt, ask.question.edge)

    def flag(self, note: str = "") -> None:
        """Mark the position of the open question for later."""
        at_once(self.flagging(note))

    def flagging(self, note: str = "") -> Act[None]:
        """`flag`, with its writing left to whoever goes through it."""
        prompt, _ = self._open()
        yield partial(self._journal.flag, prompt.node.key, note)

    def undo_slip(self) -> bool:
        """Take back a miss of at most 3 s ago; whether there was one.

        The logged answer is retracted and the question is open again.
        """
        return at_once(self.undoing_slip())

    def undoing_slip(self) -> Act[bool]:
        """`undo_slip`, with its writing left to whoever goes through it."""
        if not self._correcting:
            return False
        slip = self._log[-1]
        if self._clock() - slip.answer.at > SLIP_TIME:
            return False
        yield partial(self._journal.retract, slip.id)
        self._journal.retracted(slip.id)
        self._log.pop()
        if slip.answer.kind is AnswerKind.DRILL:
            self._states.put(slip.answer.key, slip.answer.move, slip.before)
        self._correcting = False
        return True

    # -- the end -----------------------------------------------------------------------------

    def summary(self) -> Summary:
        """The session so far."""
        asked = [entry for entry in self._log if entry.answer.kind is AnswerKind.DRILL]
        kinds = [entry.answer.kind for entry in self._log]
        grades = [entry.answer.grade for entry in asked]
        return Summary(
            asked=len(asked),
            right=grades.count(Grade.CLEAN) + grades.count(Grade.SLOW),
            slow=grades.count(Grade.SLOW),
            hinted=grades.count(Grade.HINTED),
            missed=tuple(
                Missed(
                    entry.ask.question.node,
                    entry.ask.question.edge,
                    chess.Move.from_uci(entry.answer.played),
                    entry.prompt.origin,
                    entry.prompt.order,
                )
                for entry in asked
                if entry.answer.grade is Grade.MISSED
            ),
            repeats=kinds.count(AnswerKind.REPEAT),
            skipped=kinds.count(AnswerKind.SKIPPED),
            strangers_noticed=kinds.count(AnswerKind.STRANGER_NOTICED),
            strangers_unnoticed=kinds.count(AnswerKind.STRANGER_UNNOTICED),
            false_alarms=kinds.count(AnswerKind.FALSE_ALARM),
            depth_before=self._depth_before,
            depth_after=self._depth(),
            seconds=sum(entry.answer.seconds for entry in self._log),
        )

    # -- inside ------------------------------------------------------------------------------

    @property
    def _drill_kind(self) -> AnswerKind:
        ask = self._ask
        repeat = ask is not None and (ask.is_repeat or ask.question.again_today)
        return AnswerKind.REPEAT if repeat else AnswerKind.DRILL

    def _open(self) -> tuple[Prompt, Ask]:
        if self._prompt is None or self._ask is None:
            raise ValueError("no question is open")
        return self._prompt, self._ask

    def _depth(self) -> float:
        """Depth in hand in a game tomorrow, by what is known now."""
        recall = self._states.table(self._arrays).recall(self._tomorrow)
        return depth_in_hand(self._arrays, recall, self._reply_shares)

    def _record(
        self,
        kind: AnswerKind,
        seconds: float,
        *,
        grade: Grade | None = None,
        played: chess.Move | None = None,
    ) -> Act[None]:
        prompt, ask = self._open()
        came: tuple[int, str] | None
        if self._stranger is not None:
            key, main = position_key(prompt.board), ""
            came = (prompt.node.key, self._stranger.move.uci())
        else:
            key, main = prompt.node.key, ask.question.edge.move.uci()
            came = (self._entry.parent.key, self._entry.move.uci()) if self._entry else None
        answer = Answer(
            repertoire_id=self._journal.repertoire_id,
            key=key,
            move=main,
            kind=kind,
            at=self._clock(),
            grade=grade,
            played=played.uci() if played else "",
            seconds=seconds,
            session_id=self._journal.session_id,
            entered_from=came[0] if came else None,
            entered_by=came[1] if came else None,
            hints=self._hints,
        )
        number: int = yield partial(self._journal.record, answer)
        self._journal.recorded(replace(answer, id=number))
        before = self._states.get(key, main)
        self._log.append(_Logged(number, answer, ask, prompt, before))
        self._states.apply(answer)
        self._pace.add(answer)

    def _meet_stranger(
        self, kind: AnswerKind, seconds: float, played: chess.Move | None
    ) -> Act[Verdict]:
        prompt, _ = self._open()
        stranger = self._stranger
        yield from self._record(kind, seconds, played=played)
        # The run ends here; what it had left is asked anew from the last known position.
        self._forget_board()
        self._next()
        return Verdict(VerdictKind(kind.value), prompt, played=played, stranger=stranger)

    def _forget_board(self) -> None:
        self._trail, self._shown_order, self._shown_origin = (), (), None

    def _close(self, played: Edge | None, *, comes_back: bool) -> None:
        """Close the open question; `played` is the move that now stands on the board."""
        prompt, ask = self._open()
        self._queue.close(ask, comes_back=comes_back)
        self._shown_order = prompt.order
        if played is not None:
            self._trail = (*self._trail, played.child)
            self._shown_order = (*prompt.order, played.san)
        self._next()

    def _next(self) -> None:
        """Put up the next prompt."""
        self._correcting = False
        self._named = False
        self._hints = 0
        self._stranger = None
        self._prompt = None
        self._ask = self._queue.take()
        if self._ask is None:
            return
        found = way(self._ask, self._trail)
        steps, cold = found.steps, found.cold
        self._entry = steps[-1] if steps else self._ask.question.entry
        if self._entry is not None and (steps or cold):
            self._stranger = self._pick_stranger(self._ask, self._entry)
        if self._stranger is not None and not steps:
            # Where the position would be there at once, the stranger is played before it.
            steps = (self._entry,) if self._entry is not None else ()
        shown = [Step(edge.move, edge.san, edge) for edge in steps]
        if self._stranger is not None:
            shown[-1] = self._stranger
            self._queue.put_back(self._ask)
        start = steps[0].parent if steps else self._ask.question.node
        taken_back: tuple[str, ...] = ()
        if cold:
            order = self._order_to(start, at_once=not steps)
            self._shown_order = tuple(edge.san for edge in order)
            self._shown_origin = order[0].parent if order else start
            self._trail = (self._shown_origin, *(edge.child for edge in order))
        elif found.taken_back:
            taken_back = self._shown_order[-found.taken_back :]
            self._shown_order = self._shown_order[: -found.taken_back]
            self._trail = self._trail[: -found.taken_back]
        self._trail = (*self._trail, *(step.edge.child for step in shown if step.edge is not None))
        self._prompt = self._make_prompt(self._ask, start, shown, cold=cold, taken_back=taken_back)

    def _order_to(self, start: Node, *, at_once: bool) -> tuple[Edge, ...]:
        """A move order to `start`; by the entry whose turn it is, where that is not played."""
        if at_once and self._entry is not None:
            before = order_of(self._repertoire, self._entry.parent)
            if before is not None:
                return (*before, self._entry)
        return tuple(order_of(self._repertoire, start) or ())

    def _pick_stranger(self, ask: Ask, reply: Edge) -> Step | None:
        """A stranger in place of `reply`; never before a new position, where all is strange."""
        if self._strangers is None or ask.familiar or ask.question.is_new:
            return None
        if reply.parent.turn == self._repertoire.side:
            return None
        if self._rng.random() >= self._settings.stranger_rate:
            return None
        move = self._strangers.choose(reply.parent, self._rng)
        return None if move is None else Step(move, reply.parent.board().san(move), None)

    def _make_prompt(
        self,
        ask: Ask,
        start: Node,
        shown: list[Step],
        *,
        cold: bool,
        taken_back: tuple[str, ...],
    ) -> Prompt:
        board = start.board()
        start_board = board.copy(stack=False)
        for step in shown:
            board.push(step.move)
        is_stranger = self._stranger is not None
        number = self._queue.closed + 1
        waiting = len(self._queue)
        return Prompt(
            kind=PromptKind.STRANGER if is_stranger else PromptKind.DECISION,
            node=self._known_node(ask, shown),
            board=board.copy(stack=False),
            start_board=start_board,
            lead_in=tuple(shown),
            cold=cold,
            taken_back=taken_back,
            origin=self._shown_origin or start,
            order=(*self._shown_order, *(step.san for step in shown)),
            why=_why(ask),
            is_new=ask.question.is_new and not ask.is_repeat,
            is_repeat=ask.is_repeat,
            number=number,
            # A stranger stands in front of its question and is not counted.
            total=self._queue.closed + waiting + (0 if is_stranger else 1),
            entered=self._entry.move if self._entry is not None and not shown else None,
        )

    def _known_node(self, ask: Ask, shown: list[Step]) -> Node:
        """The node asked, or the last known one before a stranger."""
        if self._stranger is None:
            return ask.question.node
        assert self._entry is not None
        assert shown[-1] is self._stranger
        return self._entry.parent


def _why(ask: Ask) -> str:
    if ask.is_repeat:
        return "Missed, hinted or shown today: it comes back until it is right once."
    return ask.question.why.sentence
