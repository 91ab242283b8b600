"""Handouts, and what a position is called."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.commands.options import (
    DONE,
    INPUT_ERRORS,
    add_json,
    add_side,
    board_of,
    chosen_side,
    date,
    positive,
    print_json,
    tell_skipped,
)
from trainer.errors import UsageError

if TYPE_CHECKING:
    import argparse

    from trainer.commands.options import Commands
    from trainer.lesson.facts import NoveltyFact
    from trainer.lesson.game import LessonGame
    from trainer.lesson.moments import Better
    from trainer.lesson.structures import StructureBook
    from trainer.lesson.tricks import Confirm, Trick


def add(commands: Commands) -> None:
    """The commands `handout` and `structure`."""
    giving = commands.add_parser("handout", help="a lesson to hand out")
    giving.add_argument(
        "source",
        type=Path,
        metavar="REP|GAMES",
        help="a repertoire, or with --game a file of games",
    )
    giving.add_argument(
        "--out", required=True, type=Path, help=".pdf, .html, .pgn, .epd, .png or .svg"
    )
    giving.add_argument(
        "--section", default="", metavar="S", help="only this one: number or title"
    )
    giving.add_argument("--structure", default="", metavar="S", help="a structure: key or name")
    giving.add_argument("--game", type=positive, metavar="N", help="game N with a draft of notes")
    giving.add_argument(
        "--moments", default="", metavar="MOVES", help="questions from that game, as 12w,15b"
    )
    giving.add_argument(
        "--find", action="store_true", help="let an engine find the moments of that game"
    )
    _add_word(giving)
    giving.add_argument("--base", type=Path, metavar="BASE", help="tell what was new in that game")
    giving.add_argument("--questions", action="store_true", help="the moments and nothing else")
    giving.add_argument("--against", type=Path, metavar="REP", help="tell where the game left it")
    giving.add_argument("--coach", default="", metavar="NAME", help="who gives the lesson")
    giving.add_argument("--date", type=date, metavar="YYYY-MM-DD", help="instead of today")
    giving.add_argument("--paper", choices=("a4", "letter"), default="a4", type=str.lower)
    add_side(giving)
    giving.set_defaults(run=_hand_out)

    naming = commands.add_parser(
        "structure", help="structures of a position, of a repertoire or of games"
    )
    what = naming.add_mutually_exclusive_group()
    what.add_argument("repertoire", type=Path, nargs="?", metavar="REP", help="a repertoire")
    what.add_argument("--fen", help="a position, with its breaks and tricks")
    what.add_argument("--games", type=Path, nargs="+", metavar="GAMES", help="files of games")
    what.add_argument(
        "--base", type=Path, metavar="BASE", help="a reference base, all of its games"
    )
    naming.add_argument(
        "--named",
        default="",
        metavar="S",
        help="with --base: model games of this one, key or name",
    )
    naming.add_argument(
        "--most", type=positive, default=20, metavar="N", help="with --named: so many (default 20)"
    )
    naming.add_argument(
        "--moves", default="", metavar="MOVES", help="with --fen or without: moves from there"
    )
    _add_word(naming)
    add_side(naming)
    add_json(naming)
    naming.set_defaults(run=_name_structure)


def _add_word(parser: argparse.ArgumentParser) -> None:
    """Whose word on tricks is heard."""
    parser.add_argument("--engine", metavar="PATH", help="a UCI engine (default: one on PATH)")
    parser.add_argument(
        "--no-engine", action="store_true", help="tell tricks by rules alone, without an engine"
    )


@contextmanager
def _asked(options: argparse.Namespace) -> Iterator[Confirm | None]:
    """An engine that says whether tricks hold; None where there is none, or none is wanted.

    It is started at the first question. One that was named must be there: raises `EngineError`.
    """
    from trainer.engine.cache import FILE_NAME, EvaluationCache
    from trainer.engine.claims import bears_out
    from trainer.engine.discover import engine_to_use
    from trainer.engine.evaluator import CachedEvaluator
    from trainer.engine.session import Engine
    from trainer.errors import EngineError
    from trainer.storage.locations import find_locations

    if options.no_engine:
        yield None
        return
    try:
        path = engine_to_use(options.engine)
    except EngineError:
        if options.engine:
            raise
        yield None
        return
    with ExitStack() as stack:
        running: list[CachedEvaluator] = []

        def confirm(trick: Trick) -> bool | None:
            if trick.answer is None:
                return None
            if not running:
                cache = EvaluationCache(find_locations().cache / FILE_NAME)
                stack.enter_context(cache)
                engine = stack.enter_context(Engine.start(path))
                running.append(CachedEvaluator(engine, cache))
            return bears_out(trick.board, trick.taking, trick.answer, running[0])

        yield confirm


def _hand_out(options: argparse.Namespace) -> int:
    import datetime

    from trainer.lesson.command import HandoutRequest, make_handout
    from trainer.lesson.handout.model import Paper
    from trainer.lesson.plans import FILE_NAME, PlanNotes
    from trainer.storage.locations import find_locations

    with _asked(options) as confirm:
        result = make_handout(
            HandoutRequest(
                source=options.source,
                out=options.out,
                section=options.section,
                structure=options.structure,
                game=options.game,
                moments=options.moments,
                only_moments=options.questions,
                against=options.against,
                coach=options.coach,
                date=options.date or datetime.date.today(),
                paper=Paper.LETTER if options.paper == "letter" else Paper.A4,
                side=chosen_side(options),
                find_moments=partial(_find_moments, options.engine) if options.find else None,
                confirm=confirm,
                own_plan=PlanNotes(find_locations().data / FILE_NAME).of,
                find_novelty=partial(_find_novelty, options) if options.base is not None else None,
            )
        )
    for path in result.written:
        print(path)
    if result.fault:
        print(f"stemline: {result.fault}", file=sys.stderr)
    for skipped in result.skipped:
        print(
            f"stemline: {options.source}: game {skipped.game}, line {skipped.line}: "
            f"{skipped.reason}",
            file=sys.stderr,
        )
    return INPUT_ERRORS if result.fault or result.skipped else DONE


def _find_moments(engine: str | None, game: LessonGame) -> list[Better]:
    """What an engine knows better in a game, by a bounded number of nodes."""
    import chess

    from trainer.engine.cache import FILE_NAME, EvaluationCache
    from trainer.engine.claims import as_good
    from trainer.engine.discover import engine_to_use
    from trainer.engine.evaluator import CachedEvaluator
    from trainer.engine.moments import find_moments
    from trainer.engine.session import Engine
    from trainer.lesson.moments import Better
    from trainer.storage.locations import find_locations

    cache = EvaluationCache(find_locations().cache / FILE_NAME)
    try:
        with Engine.start(engine_to_use(engine)) as running:
            evaluate = CachedEvaluator(running, cache)
            found = find_moments(game.boards[0], game.moves, evaluate)
            right = [
                as_good(game.boards[one.ply - 1], chess.Move.from_uci(one.best), evaluate)
                for one in found
            ]
    finally:
        cache.close()
    return [
        Better(
            one.ply,
            best,
            "" if one.found else f"{one.after.words(one.side)} after it.",
        )
        for one, best in zip(found, right, strict=True)
    ]


def _find_novelty(options: argparse.Namespace) -> NoveltyFact | None:
    """What was new in the game against a reference base."""
    from trainer.games.base.store import ReferenceBase
    from trainer.games.novelty import novelty_in
    from trainer.lesson.facts import NoveltyFact

    with ReferenceBase(options.base) as base:
        new = novelty_in(base, options.source, options.game)
    return None if new is None else NoveltyFact(new.ply, new.earlier_games)


def _name_structure(options: argparse.Namespace) -> int:
    from trainer.lesson import report
    from trainer.lesson.structure_file import load_structures

    if options.named and options.base is None:
        raise UsageError("--named asks for model games: say with --base where to look for them.")
    book = load_structures()
    sources = (options.repertoire, options.games, options.base)
    if options.fen is not None or options.moves:
        if any(source is not None for source in sources):
            raise UsageError("--moves go with --fen, or stand alone: leave the file out.")
        return _name_position(options, book)
    if all(source is None for source in sources):
        raise UsageError(
            "Say of what: a repertoire, --fen FEN, --moves MOVES, --games GAMES or --base BASE."
        )
    if options.games is not None:
        from trainer.lesson.games import structures_of_games

        found = structures_of_games(options.games, book)
        if options.json:
            print_json(report.games_report(found))
        else:
            print(report.games_text(found))
        return DONE
    if options.base is not None:
        return _structures_of_base(options, book)
    return _structures_of_repertoire(options, book)


def _name_position(options: argparse.Namespace, book: StructureBook) -> int:
    import chess

    from trainer.lesson import report

    start = chess.Board() if options.fen is None else board_of(options.fen)
    boards = report.boards_along(start, options.moves)
    with _asked(options) as confirm:
        if options.json:
            print_json(report.structure_report(boards, book, confirm))
        else:
            print(report.structure_text(boards, book, confirm))
    return DONE


def _structures_of_base(options: argparse.Namespace, book: StructureBook) -> int:
    from trainer.commands.model_games import find_in_base, report_of, text_of

    found = find_in_base(options.base, book, options.named, options.most)
    if options.json:
        print_json(report_of(found))
    else:
        print(text_of(found))
    for fault in found.faults:
        print(f"stemline: {fault}", file=sys.stderr)
    return INPUT_ERRORS if found.faults else DONE


def _structures_of_repertoire(options: argparse.Namespace, book: StructureBook) -> int:
    from trainer.lesson import report
    from trainer.lesson.shares import structure_shares
    from trainer.repertoire.arrays import RepertoireArrays
    from trainer.repertoire.reader import read_repertoire

    loaded = read_repertoire(options.repertoire, side=chosen_side(options))
    shares = structure_shares(RepertoireArrays.compile(loaded.repertoire), book)
    if options.json:
        print_json(report.shares_report(shares))
    else:
        print(report.shares_text(shares))
    return tell_skipped(options.repertoire, loaded)
