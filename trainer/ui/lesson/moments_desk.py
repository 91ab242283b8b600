"""Games for moments: reads them, asks, keeps, drafts notes, all off the thread of the window."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject, Signal

from trainer.errors import StemlineError
from trainer.ui.lesson.moments_panel import MomentsPanel
from trainer.ui.tasks import TaskControl, TaskRunner

if TYPE_CHECKING:
    from trainer.lesson.game import LessonGame
    from trainer.lesson.handout.model import Lesson
    from trainer.lesson.moments import Better, Moment
    from trainer.lesson.narrate import Draft
    from trainer.memory.course import Course
    from trainer.ui.lesson.engine_side import EngineSide
    from trainer.ui.lesson.facts import GameTitle


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
        #: What the engine found in the game, by half-move.
        self._better: dict[int, Better] = {}
        self._course: Course | None = None
        self._task: TaskControl | None = None
        self.path: Path | None = None
        self.game: LessonGame | None = None
        self.draft: Draft | None = None
        panel.file_chosen.connect(self.open)
        panel.game_chosen.connect(self._read)
        panel.find_wanted.connect(self._find)
        panel.ask_wanted.connect(self._ask)
        panel.keep_wanted.connect(self._keep)
        panel.handout_wanted.connect(self._hand_out)
        panel.draft_wanted.connect(self._make_draft)
        panel.sentence_changed.connect(self._change)

    def show_course(self, course: Course) -> None:
        """Tell departures of drafts against another repertoire."""
        self._course = course

    def clear(self) -> None:
        """Forget the repertoire; the game stays."""
        self._course = None
        if self._task is not None:
            self._task.cancel()

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
        path = self.path
        if path is None:
            return

        def work(_control: TaskControl) -> LessonGame:
            from trainer.lesson.game import read_game

            return read_game(path, number)

        self._start(work, self._show)

    def _show(self, game: LessonGame) -> None:
        self.game, self.draft, self._better = game, None, {}
        if self.engine is not None:
            self.engine.stop_moments()
        self._panel.show_game(game)

    def _with_moments(
        self, text: str, done: Callable[[Any], None], act: Callable[[list[Moment]], Any]
    ) -> None:
        """Do `act` with the moments that are named, off this thread, or say what is wrong."""
        from trainer.lesson.moments import parse_plies

        game, better = self.game, dict(self._better)
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
        self._panel.say("")

        def work(_control: TaskControl) -> Any:
            from trainer.lesson.moments import moment_of

            return act([moment_of(game, ply, better.get(ply)) for ply in plies])

        self._start(work, done)

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
        self._better = {one.ply: one for one in found}
        words = []
        for one in found:
            board = game.boards[one.ply - 1]
            words.append(f"{board.fullmove_number}{'w' if board.turn else 'b'}")
        self._panel.moves.setText(", ".join(words))
        self._panel.say(
            "These are the moments that the engine found; change them as you like."
            if words
            else "The engine found no moment in this game at which one move was much better."
        )

    def _ask(self, text: str) -> None:
        def make(moments: list[Moment]) -> object:
            from trainer.lesson.moments import MomentRun
            from trainer.ui.lesson.askings import MomentAsking

            return MomentAsking(MomentRun(moments))

        self._with_moments(text, self.ask_wanted.emit, make)

    def _keep(self, text: str) -> None:
        """Add the moments to the file of moments of their side, drilled as any repertoire."""

        def keep(moments: list[Moment]) -> list[Path]:
            from trainer.lesson.keeping import keep_moments

            return keep_moments(self._folder, moments)

        self._with_moments(text, self._kept, keep)

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
            self._with_moments(text, self.handout_wanted.emit, make)
        elif draft is not None:
            self.handout_wanted.emit(make([]))
        else:
            self._panel.say("Draft notes or name moves first: there is nothing to hand out yet.")

    def _make_draft(self) -> None:
        game, course = self.game, self._course
        if game is None:
            return
        self._panel.say("Looking at the game …")
        better = list(self._better.values())

        def work(control: TaskControl) -> Draft:
            from trainer.lesson.narrate import narrate
            from trainer.lesson.structure_file import load_structures
            from trainer.repertoire.openings import OpeningBook

            return narrate(
                game,
                load_structures(),
                openings=OpeningBook.load(),
                repertoire=None if course is None else course.repertoire,
                better=better,
                cancelled=control.cancelled,
            )

        self._start(work, self._drafted)

    def _drafted(self, draft: Draft) -> None:
        self.draft = draft
        self._panel.say("")
        self._panel.show_draft(draft)

    def _change(self, number: int, text: str) -> None:
        if self.draft is not None:
            self.draft = self.draft.with_text(number, text)
            self._panel.take_draft(self.draft)

    def _start(self, work, done) -> None:
        if self._task is not None:
            self._task.cancel()
        self._task = self._runner.start(work, done=done, failed=self._panel.say)
