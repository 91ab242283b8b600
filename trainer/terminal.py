"""The daily drill in a terminal: the same plan, the same grades, a board of letters."""

from __future__ import annotations

import random
import shutil
import sys
import textwrap
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import chess

from trainer.errors import ProgressLockedError, StemlineError
from trainer.lesson.plans import FILE_NAME, PlanNotes
from trainer.lesson.structure_file import load_structures
from trainer.memory.apart import look_alike_sentence
from trainer.memory.course import Course, read_course_file
from trainer.memory.days import StudyDays
from trainer.memory.drill import Hint, Prompt, Verdict, VerdictKind, another_reply
from trainer.memory.index_store import IndexStore
from trainer.memory.sentences import (
    WELCOME,
    asked_sentence,
    gain_sentence,
    outlook_sentence,
    plan_sentence,
    strangers_sentence,
    worth_sentence,
)
from trainer.memory.session import DrillSession
from trainer.notation.typed import TypedMoveError, parse_typed
from trainer.repertoire.notes import NoteKind, lead
from trainer.repertoire.orders import shown_order
from trainer.storage.locations import find_locations
from trainer.storage.progress import ProgressStore, open_as_possible
from trainer.storage.reply_counts import load_reply_counts
from trainer.storage.settings import load_settings

#: After these the note of the prepared move gives nothing away.
_TELL_NOTE = frozenset({VerdictKind.RIGHT, VerdictKind.MISSED})
KEYS = "a move, or: ? hint, l left known lines, s skip, m flag, u undo slip, q end"


def drill_in_terminal(path: Path, *, side: chess.Color | None, minutes: int | None) -> int:
    """Ask today's plan for the repertoire at `path`; the exit status.

    `side` overrides what the file says, `minutes` the settings. Raises `StemlineError`.
    """
    locations = find_locations()
    settings, notice = load_settings(locations.settings_file)
    _tell(notice)
    store = _open_store(locations.progress_file)
    try:
        loaded = read_course_file(path, store, side=side)
        if loaded.side_guessed:
            side = _ask_side(path, loaded.repertoire.side)
            if side != loaded.repertoire.side:
                loaded = read_course_file(path, store, side=side)
        for skipped in loaded.skipped:
            _tell(f"{path}: game {skipped.game}, line {skipped.line}: {skipped.reason}")
        zone = datetime.now().astimezone().tzinfo or UTC
        course = Course(
            loaded,
            store,
            settings,
            clock=_now,
            days=StudyDays(zone),
            rng=random.Random(),
            replies=load_reply_counts(locations.replies_file(path)),
            indexes=IndexStore(locations.cache),
        )
        plans = _own_plans(locations.data)
        TerminalDrill(course, minutes or settings.minutes, plans=plans).run()
    finally:
        if store is not None:
            store.close()
    return 0


def _own_plans(folder: Path) -> Callable[[chess.Board], list[str]]:
    """The player's own plans for the structures of a position, as paragraphs."""
    try:
        notes = PlanNotes(folder / FILE_NAME)
    except StemlineError as error:
        _tell(str(error))
        return lambda _board: []
    if notes.empty:
        return lambda _board: []
    book = load_structures()
    return lambda board: [f"{lead(NoteKind.PLAN)} {note}" for note in notes.at(board, book)]


def _now() -> datetime:
    return datetime.now(UTC)


def _tell(sentence: str | None) -> None:
    if sentence:
        print(f"stemline: {sentence}", file=sys.stderr)


def _open_store(path: Path) -> ProgressStore | None:
    """The progress file, to read only where another window writes it, None where it fails."""
    store, reason = open_as_possible(path, _now)
    if isinstance(reason, ProgressLockedError):
        _tell(f"{reason} Going on to read only: answers given here are forgotten.")
    elif reason is not None:
        _tell(f"{reason} Answers given here are forgotten.")
    elif store is not None:
        _tell(store.notice)
    return store


def _ask_side(path: Path, guess: chess.Color) -> chess.Color:
    name = "White" if guess else "Black"
    print(f"{path.name} does not say for which side it is prepared. It looks like {name}.")
    answer = _read(f"Press Enter for {name}, or type w or b: ").lower()
    return {"w": chess.WHITE, "b": chess.BLACK}.get(answer[:1], guess)


def _read(prompt: str) -> str:
    """One line from the player; the end of input ends the drill."""
    try:
        return input(prompt).strip()
    except EOFError:
        print()
        return "q"


def board_text(board: chess.Board, *, flipped: bool) -> str:
    """The position as eight lines of letters: capitals are White, dots are empty squares."""
    files = range(7, -1, -1) if flipped else range(8)
    ranks = range(8) if flipped else range(7, -1, -1)
    lines = []
    for rank in ranks:
        pieces = (board.piece_at(chess.square(file, rank)) for file in files)
        row = " ".join(piece.symbol() if piece else "." for piece in pieces)
        lines.append(f"  {rank + 1}  {row}")
    lines.append("     " + " ".join(chess.FILE_NAMES[file] for file in files))
    return "\n".join(lines)


class TerminalDrill:
    """One drill, from the figures of today to the summary."""

    def __init__(
        self,
        course: Course,
        minutes: int,
        clock: Callable[[], float] = time.monotonic,
        *,
        plans: Callable[[chess.Board], list[str]] = lambda _board: [],
    ) -> None:
        self._course = course
        self._plans = plans
        self._minutes = minutes
        self._clock = clock
        self._since = 0.0

    def run(self) -> None:
        """Ask until everything is asked or the player ends it."""
        today = self._course.today(self._minutes)
        self._say(self._course.title, "")
        if today.first_time and today.decisions:
            self._say(WELCOME)
        self._say(worth_sentence(today), plan_sentence(today), outlook_sentence(today.depth))
        if not today.questions:
            return
        self._say(f"Answer with {KEYS}.")
        session = self._course.begin(self._minutes)
        while session.prompt is not None and self._ask(session, session.prompt):
            pass
        summary = session.summary()
        self._course.finish(summary)
        self._say("", asked_sentence(summary), gain_sentence(summary), strangers_sentence(summary))
        for missed in summary.missed:
            order = shown_order(self._course.repertoire, missed.origin, missed.order)
            self._say(f"  missed: {missed.edge.san} after {order.text()}")

    # -- one question ------------------------------------------------------------------------

    def _ask(self, session: DrillSession, prompt: Prompt) -> bool:
        """Ask until the question is closed; false when the player ends the drill."""
        self._show(prompt)
        self._since = self._clock()
        while True:
            text = _read("> ")
            if text.lower() in ("q", "quit", "end"):
                return False
            try:
                verdict = self._act(session, prompt, text)
            except StemlineError as error:
                self._say(str(error))
                continue
            if verdict is not None and self._judge(verdict):
                return True

    def _show(self, prompt: Prompt) -> None:
        kind = "once more" if prompt.is_repeat else "new" if prompt.is_new else "what is prepared?"
        side = "White" if prompt.board.turn else "Black"
        order = shown_order(self._course.repertoire, prompt.origin, prompt.order)
        print()
        print(board_text(prompt.board, flipped=not self._course.side))
        print()
        self._say(f"{prompt.number} of {prompt.total}. {order.text()}")
        if prompt.taken_back:
            self._say(f"Back, and another reply: {another_reply(prompt)}.")
        self._say(f"{side} to move, {kind}")

    def _act(self, session: DrillSession, prompt: Prompt, text: str) -> Verdict | None:
        """Do what was typed; a verdict where the session gave one."""
        seconds = self._clock() - self._since
        if text == "?":
            self._say(_hint_text(session.hint()))
        elif text == "l":
            return session.left_known_lines(seconds)
        elif text == "s":
            return session.skip()
        elif text == "m":
            session.flag()
            self._say("Flagged for later.")
        elif text == "u":
            self._undo(session)
        elif text:
            return session.answer(parse_typed(prompt.board, text), seconds)
        else:
            raise TypedMoveError(f"Type {KEYS}.")
        return None

    def _undo(self, session: DrillSession) -> None:
        if session.undo_slip():
            self._since = self._clock()
            self._say("Taken back: play your move.")
        else:
            self._say("There is no slip of the last 3 seconds to take back.")

    def _judge(self, verdict: Verdict) -> bool:
        """Say what came of it; whether the question is closed."""
        self._say(verdict.sentence)
        if verdict.edge is not None and (verdict.goes_on or verdict.kind is VerdictKind.MISSED):
            own = self._plans(verdict.edge.parent.board())
            for paragraph in (*verdict.edge.before, *verdict.edge.comments, *own):
                self._say(paragraph)
            if verdict.kind is VerdictKind.MISSED:
                for other in self._course.look_alikes(verdict.prompt.node):
                    repertoire = self._course.repertoire
                    self._say(other.note, look_alike_sentence(repertoire, other))
            self._say(f"({verdict.prompt.why})")
        return verdict.goes_on

    @staticmethod
    def _say(*paragraphs: str) -> None:
        width = min(88, shutil.get_terminal_size().columns)
        for paragraph in paragraphs:
            print(textwrap.fill(paragraph, width) if paragraph else "")


def _hint_text(hint: Hint | None) -> str:
    if hint is None or hint.piece is None:
        return "Nothing prepared can be shown here."
    square = chess.square_name(hint.piece)
    if hint.target is None:
        return f"The piece on {square} moves."
    return f"From {square} to {chess.square_name(hint.target)}."
