"""Runs a drill session in the window: what is shown when, and for how long.

The session decides what is asked and what an answer is worth; the view paints. In between stand
the clock, the pace, and the moves that the program plays.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from enum import Enum, auto
from typing import TYPE_CHECKING, Any

import chess
from PySide6.QtCore import QObject, QTimer, Signal

from trainer.memory.apart import look_alike_sentence
from trainer.memory.drill import Prompt, Verdict, VerdictKind, announced, another_reply
from trainer.notation.display import Notation, shown_text
from trainer.notation.typed import TypedMoveError, parse_typed
from trainer.repertoire.orders import shown_order
from trainer.storage.settings import Settings
from trainer.ui.board.setup import set_up_board
from trainer.ui.drill.look_alike import Reminder
from trainer.ui.drill.recorder import Recorder
from trainer.ui.drill.stopwatch import Stopwatch
from trainer.ui.drill.view import DrillView
from trainer.ui.theme import LIGHT, Theme

if TYPE_CHECKING:
    from trainer.memory.acts import Act
    from trainer.memory.apart import LookAlike
    from trainer.memory.session import DrillSession
    from trainer.repertoire.graph import Node, Repertoire

_STEP_MS = 450  # between moves that the program plays
_GO_ON_MS = 700  # after a right answer that has no note to read
_SLIP_MS = 3000


class Stage(Enum):
    """What the drill is doing."""

    IDLE = auto()
    LEADING_IN = auto()
    ASKING = auto()
    CORRECTING = auto()
    #: What the player did is on its way to the disk; nothing else is taken before it is there.
    KEEPING = auto()
    READING = auto()
    PAUSED = auto()


class DrillController(QObject):
    """Owns the session while it runs."""

    ended = Signal(object)
    #: A question is open and its clock runs.
    asked = Signal(object)
    #: What came of an answer, once it is recorded and shown.
    judged = Signal(object)
    #: The player wants to know what speaks against his move.
    why_wanted = Signal()

    def __init__(self, view: DrillView, settings: Settings, recorder: Recorder) -> None:
        super().__init__(view)
        self._recorder = recorder
        self.stage = Stage.IDLE
        #: The player's own plans for the structures of a position, as paragraphs of a note.
        self.plans: Callable[[chess.Board], Sequence[str]] | None = None
        #: Whether the board stays behind, and the moves since are announced.
        self.blind = False
        self._view = view
        self._settings, self._theme = settings, LIGHT
        self._session: DrillSession | None = None
        self._repertoire: Repertoire | None = None
        self._side = chess.WHITE
        self._prompt: Prompt | None = None
        self._look_alikes: Callable[[Node], Sequence[LookAlike]] | None = None
        self._steps: list[chess.Move] = []
        self._board = chess.Board()
        self._paused_stage = Stage.IDLE
        self._flipped = False
        self._show_targets = settings.show_targets
        self._watch = Stopwatch()
        self._step_timer = self._timer(self._play_step)
        self._pace_timer = self._timer(self._go_on)
        self._slip_timer = self._timer(lambda: self._view.buttons["undo"].setEnabled(False))
        view.answered.connect(self._answer)
        view.typed.connect(self._answer_typed)
        view.command.connect(self._command)
        view.proceed.connect(self._proceed)
        view.leave.connect(self.leave)
        view.board.illegal_attempt.connect(self._say_illegal)
        self._commands: dict[str, Callable[[], None]] = {
            "hint": self._hint,
            "left": self._left_known_lines,
            "skip": self._skip,
            "flag": self._flag,
            "undo": self._undo_slip,
            "pause": self._pause,
            "targets": self._toggle_targets,
            "flip": self._flip,
            "why": self.why_wanted.emit,
        }

    def _timer(self, slot: Callable[[], None]) -> QTimer:
        timer = QTimer(self)
        timer.setSingleShot(True)
        timer.timeout.connect(slot)
        return timer

    # -- beginning and ending ----------------------------------------------------------------

    @property
    def notation(self) -> Notation:
        """How moves are shown."""
        return self._settings.notation

    @property
    def running(self) -> bool:
        """Whether a session is under way."""
        return self._session is not None

    def set_settings(self, settings: Settings, theme: Theme) -> None:
        """Take over changed settings, also in the middle of a drill."""
        self._settings, self._theme = settings, theme
        self._show_targets = settings.show_targets
        set_up_board(self._view.board, settings, theme)
        self._view.buttons["targets"].setChecked(self._show_targets)
        if self._prompt is not None:
            self._view.order.setText(self._order_text(self._prompt))

    def run(
        self,
        session: DrillSession,
        repertoire: Repertoire,
        look_alikes: Callable[[Node], Sequence[LookAlike]] | None = None,
    ) -> None:
        """Start asking; the side of the player stands at the bottom.

        `look_alikes` tells what a position was told apart from, which is shown after a miss.
        """
        self._session = session
        self._look_alikes = look_alikes
        self._repertoire = repertoire
        self._side = repertoire.side
        self._flipped = self._side == chess.BLACK
        self._view.board.set_flipped(self._flipped)
        self._view.say("")
        self._next()

    def leave(self) -> None:
        """End the drill now; what was answered is kept."""
        self._recorder.finish()
        session = self._session
        if session is None:
            return
        for timer in (self._step_timer, self._pace_timer, self._slip_timer):
            timer.stop()
        self._session = None
        self._prompt = None
        self.stage = Stage.IDLE
        self._view.set_covered(False)
        self._view.close_question()
        self.ended.emit(session.summary())

    # -- asking ------------------------------------------------------------------------------

    def _next(self) -> None:
        assert self._session is not None
        prompt = self._session.prompt
        if prompt is None:
            self.leave()
            return
        self._prompt = prompt
        self._view.show_count(
            prompt.number, prompt.total, self._session.expected_seconds_left / 60
        )
        self._view.panel.show_text(why="")
        self._view.ask(self._watch_text(prompt))
        self._view.order.setText(self._order_text(prompt))
        self._view.close_question()
        self._view.continue_button.setEnabled(False)
        self._steps = [step.move for step in prompt.lead_in]
        self._board = prompt.start_board.copy(stack=False)
        if self.blind and self._steps:
            self._steps = []
            self._view.show_position(self._board, None, animate=False)
        elif prompt.taken_back:
            # The board goes back to a position of this line, and another reply follows.
            self._view.show_position(self._board, None, animate=True)
        elif prompt.cold or not self._steps:
            at_once = prompt.last_move if not self._steps else None
            last = at_once if prompt.cold else self._view.board.last_move
            self._view.show_position(self._board, last, animate=False)
        self.stage = Stage.LEADING_IN
        elsewhere = prompt.cold or bool(prompt.taken_back)
        self._step_timer.start(_STEP_MS if elsewhere and self._steps else 0)

    def _play_step(self) -> None:
        if not self._steps:
            self._ask()
            return
        move = self._steps.pop(0)
        self._board.push(move)
        self._view.show_position(self._board, move, animate=True)
        self._step_timer.start(_STEP_MS if self._steps else self._settle_ms())

    def _settle_ms(self) -> int:
        """The last move of the program is seen arriving before the clock runs."""
        return 0 if self._settings.reduced_motion or not self._settings.animate else 150

    def _ask(self) -> None:
        prompt = self._prompt
        assert prompt is not None
        self.stage = Stage.ASKING
        self._view.open_question(
            self._asked_text(prompt), self._order_text(prompt), player=self._side
        )
        self._view.buttons["undo"].setEnabled(False)
        if self.blind and prompt.lead_in:
            # The board is not that of the question, so the move is typed.
            self._view.board.set_interactive(False, None)
            self._view.entry.setFocus()
        self._watch.start()
        self.asked.emit(prompt)

    def _watch_text(self, prompt: Prompt) -> str:
        if prompt.taken_back:
            return f"Back, and another reply: {self._another_reply(prompt)}."
        return "Watch the moves." if prompt.lead_in else ""

    def _another_reply(self, prompt: Prompt) -> str:
        return shown_text(another_reply(prompt), self._settings.notation)

    def _asked_text(self, prompt: Prompt) -> str:
        who = "White" if self._side else "Black"
        if self.blind and prompt.lead_in:
            moves = shown_text(announced(prompt), self._settings.notation)
            return f"The board stays behind. Played since: {moves}. Type what is prepared."
        if prompt.is_repeat:
            return "Once more: what is prepared?"
        if prompt.is_new:
            now = f", now {self._another_reply(prompt)}" if prompt.taken_back else ""
            return f"New to you{now}: what would you play?"
        if prompt.taken_back:
            return f"Now {self._another_reply(prompt)}: what is prepared?"
        return f"{who} to move: what is prepared?"

    def number_of(self, prompt: Prompt) -> int:
        """The number of the move that is asked."""
        assert self._repertoire is not None
        order = shown_order(self._repertoire, prompt.origin, prompt.order)
        return order.number + (len(order.sans) + (0 if order.turn else 1)) // 2

    def _order_text(self, prompt: Prompt) -> str:
        assert self._repertoire is not None
        order = shown_order(self._repertoire, prompt.origin, prompt.order)
        text = order.text(self._settings.notation)
        return text[:1].upper() + text[1:]

    # -- answering ---------------------------------------------------------------------------

    def _answer_typed(self, text: str) -> None:
        if self.stage not in (Stage.ASKING, Stage.CORRECTING) or self._prompt is None:
            return
        try:
            move = parse_typed(self._prompt.board, text)
        except TypedMoveError as error:
            self._view.say(str(error))
            self._view.entry.selectAll()
            return
        self._answer(move)

    def _answer(self, move: chess.Move) -> None:
        prompt, session = self._prompt, self._session
        if prompt is None or session is None:
            return
        if self.stage not in (Stage.ASKING, Stage.CORRECTING):
            return
        seconds = self._watch.seconds()
        self._show_move(prompt, move)
        self._keep(
            session.answering(move, seconds),
            self._judge,
            failed=lambda: self._view.reopen_question(prompt.board, prompt.last_move),
        )

    def _show_move(self, prompt: Prompt, move: chess.Move) -> None:
        """Paint the player's move before anything else is done with it."""
        after = prompt.board.copy(stack=False)
        after.push(move)
        self._view.show_position(after, move, animate=True)
        self._view.board.repaint()

    def _keep(
        self,
        act: Act[Any],
        then: Callable[[Any], None],
        *,
        failed: Callable[[], None] = lambda: None,
        still_open: str = " The question is still open.",
    ) -> None:
        """Have what is written for an act kept beside the window, and then go on.

        Where it cannot be kept that is said, and all is as before it.
        """
        before = self.stage

        def kept(result: Any) -> None:
            self.stage = before
            self._view.release()
            then(result)

        def not_kept(sentence: str) -> None:
            self.stage = before
            self._view.release()
            failed()
            self._view.say(sentence + still_open)

        self._recorder.carry_out(act, done=kept, failed=not_kept)
        if self._recorder.waiting:
            self.stage = Stage.KEEPING
            self._view.hold()

    def _judge(self, verdict: Verdict) -> None:
        self._view.say("")
        self._view.buttons["undo"].setEnabled(False)
        sentence = shown_text(verdict.sentence, self._settings.notation)
        if verdict.kind is VerdictKind.MISSED:
            self._show_missed(verdict, sentence)
        elif verdict.kind in (VerdictKind.ALTERNATIVE, VerdictKind.NOT_YET):
            self._view.reopen_question(verdict.prompt.board, verdict.prompt.last_move)
            self._view.panel.show_text(_HEADINGS[verdict.kind], sentence)
            self._point_at(verdict)
        elif verdict.kind is VerdictKind.FALSE_ALARM:
            self._view.panel.show_text(_HEADINGS[verdict.kind], sentence)
        else:
            self._show_closed(verdict, sentence)
        self.judged.emit(verdict)

    def _show_missed(self, verdict: Verdict, sentence: str) -> None:
        self.stage = Stage.CORRECTING
        self._view.reopen_question(verdict.prompt.board, verdict.prompt.last_move)
        self._point_at(verdict)
        self._view.panel.show_text(
            _HEADINGS[verdict.kind], sentence, self._note(verdict), why=verdict.prompt.why
        )
        self._remind(verdict)
        self._view.ask("Play the prepared move.")
        self._view.buttons["undo"].setEnabled(True)
        self._slip_timer.start(_SLIP_MS)

    def _point_at(self, verdict: Verdict) -> None:
        if verdict.edge is not None:
            move = verdict.edge.move
            self._view.board.set_arrows([(move.from_square, move.to_square)])

    def _show_closed(self, verdict: Verdict, sentence: str) -> None:
        """The question is over: the note stands beside the board until play goes on."""
        self.stage = Stage.READING
        self._view.close_question()
        note = self._note(verdict)
        self._view.panel.show_text(_HEADINGS[verdict.kind], sentence, note, why=verdict.prompt.why)
        if verdict.kind is VerdictKind.CORRECTED:
            self._remind(verdict)
        self._view.ask("")
        self._view.continue_button.setEnabled(True)
        self._start_pace()

    def _start_pace(self) -> None:
        """Go on by itself, unless the player goes on by a key; sooner where there is no note."""
        pace = round(self._settings.pace_seconds * 1000)
        if pace:
            has_note = self._view.panel.has_note
            self._pace_timer.start(pace if has_note else min(pace, _GO_ON_MS))

    def _note(self, verdict: Verdict) -> list[str]:
        if verdict.edge is None:
            return []
        own = () if self.plans is None else self.plans(verdict.edge.parent.board())
        paragraphs = (*verdict.edge.before, *verdict.edge.comments, *own)
        return [shown_text(paragraph, self._settings.notation) for paragraph in paragraphs]

    def _remind(self, verdict: Verdict) -> None:
        """Show what the player wrote on positions that look like the one he missed."""
        repertoire = self._repertoire
        if self._look_alikes is None or repertoire is None:
            return
        notation = self._settings.notation
        reminders = [
            Reminder(
                other.node.board(),
                shown_text(look_alike_sentence(repertoire, other), notation),
                shown_text(other.note, notation),
            )
            for other in self._look_alikes(verdict.prompt.node)
        ]
        self._view.panel.look_alikes.show_reminders(
            reminders, self._theme, flipped=self._flipped, scale=self._settings.scale
        )

    def _say_illegal(self, start: int, end: int) -> None:
        if self.stage in (Stage.ASKING, Stage.CORRECTING):
            squares = f"{chess.square_name(start)}–{chess.square_name(end)}"
            self._view.say(f"{squares} is not a legal move.")

    # -- going on ----------------------------------------------------------------------------

    def _proceed(self) -> None:
        if self.stage is Stage.PAUSED:
            self._resume()
        elif self.stage is Stage.READING:
            self._go_on()
        elif self.stage is Stage.LEADING_IN and self._steps:
            # An impatient player sees the position at once.
            while self._steps:
                self._board.push(self._steps.pop(0))
            last = self._prompt.last_move if self._prompt else None
            self._view.show_position(self._board, last, animate=False)
            self._step_timer.start(0)

    def wait_for_player(self) -> None:
        """There is more to read: play goes on by a key only."""
        self._pace_timer.stop()

    def _go_on(self) -> None:
        self._pace_timer.stop()
        if self._session is not None:
            self._next()

    # -- commands ----------------------------------------------------------------------------

    def _command(self, name: str) -> None:
        if self._session is None:
            return
        if self.stage is Stage.PAUSED and name not in ("pause", "flip"):
            return
        self._commands[name]()

    def _hint(self) -> None:
        if self.stage not in (Stage.ASKING, Stage.CORRECTING) or self._session is None:
            return
        hint = self._session.hint()
        if hint is None or hint.piece is None:
            self._view.say("Nothing prepared can be shown here.")
            return
        self._view.board.set_hint(hint.piece, hint.target)
        square = chess.square_name(hint.piece)
        if hint.target is None:
            self._view.say(f"The piece on {square} moves. Once more shows where to.")
        else:
            self._view.say(f"From {square} to {chess.square_name(hint.target)}.")

    def _left_known_lines(self) -> None:
        session = self._session
        if self.stage is not Stage.ASKING or session is None:
            return
        self._keep(session.leaving_known_lines(self._watch.seconds()), self._judge)

    def _skip(self) -> None:
        session = self._session
        if self.stage not in (Stage.ASKING, Stage.CORRECTING) or session is None:
            return
        self._keep(session.skipping(), self._skipped)

    def _skipped(self, verdict: Verdict) -> None:
        self._view.say(verdict.sentence)
        self._go_on()

    def _flag(self) -> None:
        if self.stage not in (Stage.ASKING, Stage.CORRECTING) or self._session is None:
            return
        said = "Flagged: it stands under Flagged positions on Today."
        self._keep(self._session.flagging(), lambda _nothing: self._view.say(said), still_open="")

    def _undo_slip(self) -> None:
        if self.stage is not Stage.CORRECTING or self._session is None:
            return
        self._keep(self._session.undoing_slip(), self._undone, still_open="")

    def _undone(self, undone: bool) -> None:
        if not undone or self._prompt is None:
            self._view.say("A slip can be taken back within 3 seconds only.")
            return
        self._view.panel.show_text(why="")
        self._view.reopen_question(self._prompt.board, self._prompt.last_move)
        self._ask()
        self._view.say("Taken back: play your move.")

    def _toggle_targets(self) -> None:
        self._show_targets = not self._show_targets
        self._view.board.set_show_targets(self._show_targets)
        self._view.buttons["targets"].setChecked(self._show_targets)

    def _flip(self) -> None:
        self._flipped = not self._flipped
        self._view.board.set_flipped(self._flipped)

    # -- pause -------------------------------------------------------------------------------

    def _pause(self) -> None:
        if self.stage is Stage.PAUSED:
            self._resume()
            return
        if self.stage is Stage.KEEPING:
            return
        self._paused_stage = self.stage
        self.stage = Stage.PAUSED
        self._watch.pause()
        for timer in (self._step_timer, self._pace_timer):
            timer.stop()
        self._view.set_covered(True)
        self._view.continue_button.setEnabled(True)

    @contextmanager
    def held(self) -> Iterator[None]:
        """The clock stands still, and play does not go on, while a box is open over the drill."""
        self._recorder.finish()
        hold = self.running and self.stage is not Stage.PAUSED
        if hold:
            self._pause()
        try:
            yield
        finally:
            if hold and self.stage is Stage.PAUSED:
                self._resume()

    def _resume(self) -> None:
        self.stage = self._paused_stage
        self._view.set_covered(False)
        self._view.continue_button.setEnabled(self.stage is Stage.READING)
        if self.stage is Stage.LEADING_IN:
            self._step_timer.start(_STEP_MS)
        elif self.stage in (Stage.ASKING, Stage.CORRECTING):
            self._watch.resume()
            self._view.entry.setFocus()
        elif self.stage is Stage.READING:
            self._start_pace()


_HEADINGS = {
    VerdictKind.RIGHT: "Right.",
    VerdictKind.ALTERNATIVE: "Prepared as well.",
    VerdictKind.MISSED: "Not this one.",
    VerdictKind.CORRECTED: "That is the move.",
    VerdictKind.NOT_YET: "Not yet.",
    VerdictKind.STRANGER_NOTICED: "A stranger, noticed.",
    VerdictKind.STRANGER_UNNOTICED: "A stranger, not noticed.",
    VerdictKind.FALSE_ALARM: "A known reply.",
    VerdictKind.SKIPPED: "Skipped.",
}
