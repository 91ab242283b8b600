"""Games for moments: reads them, asks, keeps, drafts notes, all off the thread of the window."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject, QTimer, Signal

from trainer.errors import StemlineError
from trainer.ui.lesson.moments_panel import MomentsPanel
from trainer.ui.tasks import TaskControl, TaskRunner

if TYPE_CHECKING:
    from trainer.lesson.facts import NoveltyFact
    from trainer.lesson.game import LessonGame
    from trainer.lesson.game_notes import GameNotes
    from trainer.lesson.handout.model import Lesson
    from trainer.lesson.moments import Better, Moment
    from trainer.lesson.narrate import Draft
    from trainer.lesson.tricks import Trick
    from trainer.memory.course import Course
    from trainer.ui.lesson.engine_side import EngineSide
    from trainer.ui.lesson.facts import GameTitle

#: Milliseconds without a change after which the notes of a game are kept.
_PAUSE = 600

#: Asks an engine of tricks, where there is one, and gives them back with its word.
Confirm = Callable[["list[Trick]", Callable[["list[Trick]"], None]], None]


class MomentsDesk(QObject):
    """The game that is looked at, and what is done with its moments."""

    #: An `Asking` to be put to the player.
    ask_wanted = Signal(object)
    #: A `Lesson` to be handed out.
    handout_wanted = Signal(object)
    said = Signal(str)

    def __init__(self, runner: TaskRunner, panel: MomentsPanel, data_folder: Path) -> None:
        super().__init__(panel)
        self._runner = runner
        self._panel = panel
        self._folder = data_folder
        #: The engine, where there is one to be asked.
        self.engine: EngineSide | None = None
        self.confirm: Confirm = lambda tricks, done: done(tricks)
        #: What the reference base knows to be new in a game, where there is one; off this thread.
        self.find_novelty: Callable[[Path, int], NoveltyFact | None] | None = None
        self._notes: GameNotes | None = None
        #: Whether `_notes` has what is not on the disk yet.
        self._unkept = False
        self._writing = Lock()
        self._numbered = self._written = 0
        #: What was given to the worker last.
        self._waiting: tuple[int, LessonGame, GameNotes] | None = None
        self._course: Course | None = None
        self._task: TaskControl | None = None
        self.path: Path | None = None
        self.number = 0
        self.game: LessonGame | None = None
        self.draft: Draft | None = None
        self._pause = QTimer(self)
        self._pause.setSingleShot(True)
        self._pause.setInterval(_PAUSE)
        self._pause.timeout.connect(self._keep_soon)
        panel.file_chosen.connect(self.open)
        panel.game_chosen.connect(self._read)
        panel.find_wanted.connect(self._find)
        panel.ask_wanted.connect(self._ask)
        panel.edit_wanted.connect(self._edit)
        panel.asked_changed.connect(self._asked_changed)
        panel.keep_wanted.connect(self._keep)
        panel.handout_wanted.connect(self._hand_out)
        notes = panel.notes
        notes.draft_wanted.connect(self._make_draft)
        notes.changed.connect(self._change)
        notes.added.connect(self._add)
        notes.deleted.connect(self._delete)
        notes.moved.connect(self._move)

    def show_course(self, course: Course) -> None:
        """Tell departures of drafts against another repertoire."""
        self._course = course

    def clear(self) -> None:
        """Forget the repertoire; the game stays."""
        self._course = None
        if self._task is not None:
            self._task.cancel()

    # -- the game ------------------------------------------------------------------------------

    def open(self, path: Path) -> None:
        """Read which games a file holds, and show the first."""
        self.path = path
        self._panel.say(f"Reading {path.name} …")

        def work(_control: TaskControl) -> list[GameTitle]:
            from trainer.ui.lesson.facts import titles_of

            return titles_of(path)

        self._start(work, self._titles)

    def _titles(self, titles: list[GameTitle]) -> None:
        self._panel.show_titles(titles)
        if titles:
            self._read(titles[0].number)
        else:
            self._panel.say("There is no game with moves in this file; choose another one.")

    def _read(self, number: int) -> None:
        path, folder = self.path, self._folder
        if path is None:
            return
        self.flush()

        def work(_control: TaskControl) -> tuple[LessonGame, GameNotes, str]:
            from trainer.lesson.game import read_game
            from trainer.lesson.game_notes import GameNotes, load_notes

            game = read_game(path, number)
            try:
                return game, load_notes(folder, game), ""
            except StemlineError as error:
                return game, GameNotes(), str(error)

        def show(read: tuple[LessonGame, GameNotes, str]) -> None:
            self.number = number
            self._show(*read)

        self._start(work, show)

    def _show(self, game: LessonGame, notes: GameNotes, fault: str) -> None:
        self.game, self.draft = game, None
        # A file that could not be read is left alone: nothing is kept over it.
        self._notes, self._unkept = None if fault else notes, False
        if self.engine is not None:
            self.engine.stop_moments()
        self._panel.show_game(game)
        self._panel.moves.setText(notes.asked)
        if fault:
            self._panel.say(fault)
        elif notes.sentences is not None:
            self._make_draft()

    # -- what is kept with the game --------------------------------------------------------------

    def flush(self) -> None:
        """Keep what was changed and not kept yet, at once: the game is left, or the window."""
        # What waits for the worker may wait in vain, where the window is closed.
        kept = self._to_keep() or self._waiting
        if kept is None:
            return
        try:
            self._write(*kept)
        except StemlineError as error:
            self._panel.say(str(error))

    def _keep_soon(self) -> None:
        """Keep what was changed, off this thread: a disk may be slow."""
        kept = self._waiting = self._to_keep()
        if kept is not None:
            self._runner.start(
                lambda _control: self._write(*kept),
                done=lambda _done: None,
                failed=self._panel.say,
            )

    def _write(self, number: int, game: LessonGame, notes: GameNotes) -> None:
        """Write notes, from whatever thread, unless later ones were written meanwhile."""
        from trainer.lesson.game_notes import keep_notes

        with self._writing:
            if number > self._written:
                self._written = number
                keep_notes(self._folder, game, notes)

    def _to_keep(self) -> tuple[int, LessonGame, GameNotes] | None:
        """The game and its notes where they are not on the disk yet, with a rising number."""
        self._pause.stop()
        if not self._unkept or self.game is None or self._notes is None:
            return None
        self._unkept = False
        self._numbered += 1
        return self._numbered, self.game, self._notes

    def _note(self, notes: GameNotes) -> None:
        """Have notes kept at the next pause."""
        if self._notes is not None:
            self._notes, self._unkept = notes, True
            self._pause.start()

    def _asked_changed(self, text: str) -> None:
        if self._notes is not None:
            self._note(replace(self._notes, asked=text.strip()))

    # -- moments ---------------------------------------------------------------------------------

    def _better(self) -> dict[int, Better]:
        """What the engine found in the game, by half-move."""
        return {one.ply: one for one in self._notes.better} if self._notes is not None else {}

    def _with_moments(self, text: str, act: Callable[[list[Moment]], None]) -> None:
        """Do `act` with the moments that are named and their plies, or say what is wrong."""
        from trainer.lesson.moments import parse_plies

        game = self.game
        if game is None:
            return
        try:
            plies = parse_plies(text, game)
        except StemlineError as error:
            self._panel.say(str(error))
            return
        if not plies:
            self._panel.say("Name the moves to ask first, as 12w, 15b.")
            self._panel.moves.setFocus()
            return
        self._panel.say("Looking at the moments …")

        def work(_control: TaskControl) -> dict[int, list[Trick]]:
            from trainer.lesson.tricks import forbidden_captures

            return {ply: forbidden_captures(game.boards[ply - 1]) for ply in plies}

        def found(tricks: dict[int, list[Trick]]) -> None:
            self.confirm(
                [trick for ply in plies for trick in tricks[ply]],
                lambda judged: self._made(game, plies, judged, act),
            )

        self._start(work, found)

    def _made(
        self,
        game: LessonGame,
        plies: Sequence[int],
        judged: Sequence[Trick],
        act: Callable[[list[Moment]], None],
    ) -> None:
        if game is not self.game:
            return
        self._panel.say("")
        better, notes = self._better(), self._notes

        def work(_control: TaskControl) -> list[Moment]:
            from trainer.lesson.moments import moment_of

            moments = []
            for ply in plies:
                here = [one for one in judged if one.board == game.boards[ply - 1]]
                moment = moment_of(game, ply, better.get(ply), tricks=here)
                edit = None if notes is None else notes.edit_of(ply)
                moments.append(moment if edit is None else edit.of(moment))
            return moments

        self._start(work, act)

    def _find(self) -> None:
        """Let the engine look for moments; they are put among the moves to ask."""
        game = self.game
        if game is None:
            return
        if self.engine is None:
            self._panel.say("There is no engine to ask.")
            return
        self._panel.say("The engine looks at the game …")
        self.engine.find_moments(
            game,
            done=lambda found: self._found(game, found),
            failed=self._panel.say,
            told=lambda share: self._panel.say(f"The engine looks at the game … {share:.0%}"),
        )

    def _found(self, game: LessonGame, found: list[Better]) -> None:
        if game is not self.game:
            return
        words = []
        for one in found:
            board = game.boards[one.ply - 1]
            words.append(f"{board.fullmove_number}{'w' if board.turn else 'b'}")
        if words:
            self._panel.moves.setText(", ".join(words))
        if self._notes is not None:
            asked = self._panel.moves.text().strip()
            self._note(replace(self._notes, asked=asked, better=tuple(found)))
        self._panel.say(
            "These are the moments that the engine found; change them as you like."
            if words
            else "The engine found no moment in this game at which one move was much better."
        )

    def _ask(self, text: str) -> None:
        def ask(moments: list[Moment]) -> None:
            from trainer.lesson.moments import MomentRun
            from trainer.ui.lesson.askings import MomentAsking

            self.ask_wanted.emit(MomentAsking(MomentRun(moments)))

        self._with_moments(text, ask)

    def _edit(self, text: str) -> None:
        """Let the coach change what is right, the hints, the wrong tries and the words."""

        def edit(moments: list[Moment]) -> None:
            from trainer.lesson.moments import parse_plies
            from trainer.ui.lesson.moment_dialog import MomentDialog

            game, notes = self.game, self._notes
            if game is None or notes is None:
                return
            dialog = MomentDialog(
                dict(zip(parse_plies(text, game), moments, strict=True)),
                self._panel.settings,
                self._panel.look,
                self._panel,
            )
            dialog.kept.connect(lambda edit: self._keep_edit(game, edit))
            dialog.open()
            self._panel.dialog = dialog

        self._with_moments(text, edit)

    def _keep_edit(self, game: LessonGame, edit: Any) -> None:
        if self._notes is not None and game is self.game:
            self._note(self._notes.with_edit(edit))

    def _keep(self, text: str) -> None:
        """Add the moments to the file of moments of their side, drilled as any repertoire."""
        folder = self._folder

        def keep(moments: list[Moment]) -> None:
            def work(_control: TaskControl) -> list[Path]:
                from trainer.lesson.keeping import keep_moments

                return keep_moments(folder, moments)

            self._start(work, self._kept)

        self._with_moments(text, keep)

    def _kept(self, paths: list[Path]) -> None:
        names = " and ".join(str(path) for path in paths)
        self._panel.say(f"Kept in {names}: open it to drill its moments like any repertoire.")

    def _hand_out(self, text: str) -> None:
        """A lesson of the draft, of the moments, or of both."""
        game, draft = self.game, self.draft
        if game is None:
            return
        flipped = self._course is not None and not self._course.side
        today = datetime.date.today()

        def make(moments: list[Moment]) -> Lesson:
            from trainer.lesson.build import lesson_of_game, lesson_of_moments

            if draft is None:
                return lesson_of_moments(moments, title=game.title, date=today)
            return lesson_of_game(draft, moments=moments, flipped=flipped, date=today)

        if text.strip():
            self._with_moments(text, lambda moments: self.handout_wanted.emit(make(moments)))
        elif draft is not None:
            self.handout_wanted.emit(make([]))
        else:
            self._panel.say("Draft notes or name moves first: there is nothing to hand out yet.")

    # -- the draft -------------------------------------------------------------------------------

    def _make_draft(self) -> None:
        game, course, notes = self.game, self._course, self._notes
        if game is None:
            return
        self._panel.say("Looking at the game …")
        better, find_novelty = list(self._better().values()), self.find_novelty
        path, number, told = self.path, self.number, ""

        def novelty() -> NoveltyFact | None:
            nonlocal told
            try:
                return None if find_novelty is None or path is None else find_novelty(path, number)
            except StemlineError as error:
                told = f"What was new in the game is not told: {error}"
                return None

        def work(control: TaskControl) -> Draft:
            from trainer.lesson import trace  # noqa: F401 - the panel wants it then
            from trainer.lesson.narrate import narrate
            from trainer.lesson.structure_file import load_structures
            from trainer.repertoire.openings import OpeningBook

            return narrate(
                game,
                load_structures(),
                openings=OpeningBook.load(),
                repertoire=None if course is None else course.repertoire,
                novelty=novelty(),
                better=better,
                cancelled=control.cancelled,
            )

        def made(draft: Draft) -> None:
            # What was edited before stands, on the facts as they are now.
            if self.draft is not None:
                from trainer.lesson.game_notes import renewed

                draft = renewed(self.draft, draft)
            elif notes is not None:
                draft = notes.restored(draft)
            self._panel.say("The engine looks at the tricks …" if draft.tricks else "")
            self.confirm(draft.tricks, lambda judged: self._drafted(game, draft, judged, told))

        self._start(work, made)

    def _drafted(self, game: LessonGame, draft: Draft, judged: list[Trick], told: str) -> None:
        if game is not self.game:
            return
        self._panel.say(told)
        self._set_draft(draft.with_tricks(judged))

    def _set_draft(self, draft: Draft, row: int = 0) -> None:
        self.draft = draft
        self._panel.notes.show_draft(draft, row)
        if self._notes is not None:
            self._note(self._notes.with_draft(draft))

    def _change(self, number: int, text: str) -> None:
        if self.draft is not None:
            self.draft = self.draft.with_text(number, text)
            self._panel.notes.take(self.draft)
            if self._notes is not None:
                self._note(self._notes.with_draft(self.draft))

    def _add(self, ply: int, after: int) -> None:
        draft = self.draft
        if draft is None:
            return
        longer = draft.with_own(ply, "A sentence of your own.", after=None if after < 0 else after)
        old = {id(one) for one in draft.sentences}
        row = next(n for n, one in enumerate(longer.sentences) if id(one) not in old)
        self._set_draft(longer, row)
        self._panel.notes.write()

    def _delete(self, number: int) -> None:
        if self.draft is not None:
            self._set_draft(self.draft.without(number), number)
            self._panel.notes.sentences.setFocus()

    def _move(self, number: int, by: int) -> None:
        if self.draft is not None:
            draft, row = self.draft.moved(number, by)
            if draft is not self.draft:
                self._set_draft(draft, row)

    def _start(self, work, done) -> None:
        if self._task is not None:
            self._task.cancel()
        self._task = self._runner.start(work, done=done, failed=self._panel.say)
