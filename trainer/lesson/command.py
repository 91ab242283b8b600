"""What `stemline handout` does, without its words on the command line."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import chess

from trainer.errors import UsageError
from trainer.lesson.build import (
    chosen_sections,
    chosen_structure,
    lesson_of_game,
    lesson_of_moments,
    lesson_of_sections,
    lesson_of_structure,
)
from trainer.lesson.facts import NoveltyFact
from trainer.lesson.game import LessonGame, read_game
from trainer.lesson.handout.model import Lesson, Paper
from trainer.lesson.handout.writing import check_ending, check_spared, write_lesson
from trainer.lesson.moments import Better, Moment, moment_of, parse_plies
from trainer.lesson.narrate import narrate
from trainer.lesson.shares import structure_shares
from trainer.lesson.structure_file import load_structures
from trainer.lesson.structures import Found
from trainer.lesson.tricks import Confirm, Trick, confirmed, forbidden_captures
from trainer.repertoire.arrays import RepertoireArrays
from trainer.repertoire.openings import OpeningBook
from trainer.repertoire.reader import read_repertoire
from trainer.repertoire.report import Skipped


@dataclass(frozen=True)
class HandoutRequest:
    """What to hand out.

    `source` is a repertoire, or with `game` (from 1) a file of games. `section` is a number or a
    title, `structure` a key or a name; `moments` are words such as `12w, 15b` of that game, and
    with `only_moments` nothing but them is handed out. `against` is a repertoire by which the
    departure of the game is told.
    """

    source: Path
    out: Path
    section: str = ""
    structure: str = ""
    game: int | None = None
    moments: str = ""
    only_moments: bool = False
    against: Path | None = None
    coach: str = ""
    date: datetime.date | None = None
    paper: Paper = Paper.A4
    side: chess.Color | None = None
    #: What an engine, or the reference base, knows of the game; asked once.
    find_moments: Callable[[LessonGame], Sequence[Better]] | None = None
    find_novelty: Callable[[], NoveltyFact | None] | None = None
    #: The player's own plan for a structure, "" where he wrote none.
    own_plan: Callable[[Found], str] = lambda _found: ""
    #: Whether a trick holds, as an engine says.
    confirm: Confirm | None = None


@dataclass(frozen=True)
class HandoutResult:
    """The files written, and what of the source could not be read: sentences, or its places."""

    written: tuple[Path, ...]
    skipped: tuple[Skipped, ...] = ()
    fault: str = ""


def make_handout(request: HandoutRequest) -> HandoutResult:
    """Build the lesson and write it.

    Raises `UsageError` where the wishes contradict each other, and the `StemlineError` of what
    cannot be read, found or written.
    """
    check_ending(request.out)
    check_spared(request.out, _sources(request))
    if request.game is None and (request.moments or request.find_moments is not None):
        raise UsageError("Moments are moves of a game: say which one with --game N.")
    if request.section and request.structure:
        raise UsageError("A handout is of a section or of a structure: leave one of them out.")
    if request.game is not None:
        if request.section or request.structure:
            raise UsageError("A game has no sections or structures to choose: leave --game out.")
        return _of_game(request, request.game)
    loaded = read_repertoire(request.source, side=request.side)
    repertoire, book = loaded.repertoire, load_structures()
    if request.structure:
        shares = structure_shares(RepertoireArrays.compile(repertoire), book)
        chosen = chosen_structure(shares, request.structure)
        lesson = lesson_of_structure(
            repertoire,
            chosen,
            notes=request.own_plan(chosen.found),
            coach=request.coach,
            date=request.date,
        )
    else:
        lesson = lesson_of_sections(
            repertoire,
            chosen_sections(repertoire, request.section),
            book,
            title="" if request.section else request.source.stem,
            coach=request.coach,
            date=request.date,
        )
    written = write_lesson(request.out, lesson, request.paper)
    return HandoutResult(tuple(written), tuple(loaded.skipped))


def _sources(request: HandoutRequest) -> list[Path]:
    """The files that must not be written over."""
    sources = (request.source, request.against)
    return [source for source in sources if source is not None and source.exists()]


def _of_game(request: HandoutRequest, number: int) -> HandoutResult:
    game = read_game(request.source, number)
    better = [] if request.find_moments is None else list(request.find_moments(game))
    by_ply = {one.ply: one for one in better}
    plies = sorted({*parse_plies(request.moments, game), *by_ply})
    moments = [
        moment_of(
            game,
            ply,
            by_ply.get(ply),
            tricks=_judged(forbidden_captures(game.boards[ply - 1]), request.confirm),
        )
        for ply in plies
    ]
    lesson = _moments_or_game(request, game, moments, better)
    written = write_lesson(request.out, lesson, request.paper)
    return HandoutResult(tuple(written), fault=game.fault)


def _moments_or_game(
    request: HandoutRequest, game: LessonGame, moments: list[Moment], better: list[Better]
) -> Lesson:
    if request.only_moments:
        return lesson_of_moments(moments, title=game.title, coach=request.coach, date=request.date)
    against = None
    if request.against is not None:
        against = read_repertoire(request.against, side=request.side).repertoire
    draft = narrate(
        game,
        load_structures(),
        openings=OpeningBook.load(),
        repertoire=against,
        novelty=None if request.find_novelty is None else request.find_novelty(),
        better=better,
    )
    draft = draft.with_tricks(_judged(draft.tricks, request.confirm))
    return lesson_of_game(
        draft,
        moments=moments,
        flipped=request.side == chess.BLACK,
        coach=request.coach,
        date=request.date,
    )


def _judged(tricks: list[Trick], confirm: Confirm | None) -> list[Trick]:
    return tricks if confirm is None else [confirmed(one, confirm) for one in tricks]
