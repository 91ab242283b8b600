"""The command line: thin, one function a command.

Exit status 0 done, 1 the input has errors, 2 wrong usage. Errors go to standard error as one
clear sentence each, never a traceback.
"""

from __future__ import annotations

import io
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from trainer import __version__
from trainer.errors import StemlineError, UsageError

if TYPE_CHECKING:
    import argparse
    import datetime

    import chess

    from trainer.memory.learnt import LearntDays
    from trainer.repertoire.orders_kept import KeptOrders
    from trainer.repertoire.reader import LoadedRepertoire

DONE, INPUT_ERRORS, WRONG_USAGE = 0, 1, 2


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; the exit status."""
    arguments = list(sys.argv[1:] if argv is None else argv)
    # A terminal or a pipe that knows few characters gets the others spelt out.
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="backslashreplace")
    try:
        return _flushed(_run(arguments))
    except UsageError as error:
        print(f"stemline: {error}", file=sys.stderr)
        return WRONG_USAGE
    except StemlineError as error:
        print(f"stemline: {error}", file=sys.stderr)
        return INPUT_ERRORS
    except KeyboardInterrupt:
        print(file=sys.stderr)
        return INPUT_ERRORS
    except BrokenPipeError:
        # The reader of our output has gone; what is left for it goes nowhere.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return DONE
    except Exception as error:  # a bug: logged with its traceback, told in one sentence
        from trainer.storage.locations import find_locations
        from trainer.storage.log import BugLog

        print(f"stemline: {BugLog(find_locations().log_file).report(error)}", file=sys.stderr)
        return INPUT_ERRORS


def _flushed(status: int) -> int:
    """What the reader of our output does not take comes up here, not after the end."""
    if sys.stdout is not None:
        sys.stdout.flush()
    return status


def _run(arguments: list[str]) -> int:
    if not arguments or _names_a_file(arguments):
        return _open_window(Path(arguments[0]) if arguments else None)
    options = _parser().parse_args(arguments)
    result: int = options.run(options)
    return result


def _names_a_file(arguments: list[str]) -> bool:
    """Whether the only argument is a file to open, as a file manager passes it."""
    if len(arguments) != 1 or arguments[0].startswith("-"):
        return False
    return arguments[0].lower().endswith(".pgn") or "/" in arguments[0]


def _parser() -> argparse.ArgumentParser:
    # Imported where it is needed: every start of the window would pay for it.
    import argparse

    parser = argparse.ArgumentParser(
        prog="stemline",
        description="A trainer for a chess player or coach who lives in one opening system. "
        "Without a command it opens the window; a PGN file alone is opened in it.",
    )
    parser.add_argument("--version", action="version", version=f"stemline {__version__}")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)

    drill = commands.add_parser("drill", help="the daily drill")
    drill.add_argument("repertoire", type=Path, metavar="REP", help="a repertoire in PGN")
    drill.add_argument("--terminal", action="store_true", help="ask in the terminal")
    drill.add_argument("--minutes", type=_minutes, metavar="N", help="how long, 1 to 240")
    _add_side(drill)
    drill.set_defaults(run=_drill)

    check = commands.add_parser("check", help="read and audit a repertoire")
    check.add_argument("repertoire", type=Path, metavar="REP", help="a repertoire in PGN")
    _add_side(check)
    check.add_argument("--json", action="store_true", help="print one JSON object")
    check.set_defaults(run=_check)

    orders = commands.add_parser("orders", help="crossings, shortcuts and conflicts")
    orders.add_argument("repertoire", type=Path, metavar="REP", help="a repertoire in PGN")
    _add_side(orders)
    orders.add_argument("--json", action="store_true", help="print one JSON object")
    orders.set_defaults(run=_orders)

    games = commands.add_parser("games", help="departures, re-entries and novelties of games")
    games.add_argument("repertoire", type=Path, metavar="REP", help="a repertoire in PGN")
    games.add_argument("games", type=Path, metavar="GAMES", nargs="+", help="games in PGN")
    games.add_argument("--player", default="", metavar="NAME", help="whose games count")
    games.add_argument("--base", type=Path, metavar="BASE", help="a reference base, for novelties")
    _add_side(games)
    games.add_argument("--json", action="store_true", help="print one JSON object")
    games.set_defaults(run=_games)

    importing = commands.add_parser("import", help="a repertoire from whole games")
    _add_import(importing)
    importing.set_defaults(run=_import)

    engine = commands.add_parser("engine-check", help="let an engine test a repertoire")
    engine.add_argument("repertoire", type=Path, metavar="REP", help="a repertoire in PGN")
    engine.add_argument("--engine", metavar="PATH", help="a UCI engine (default: one on PATH)")
    engine.add_argument("--nodes", type=_positive, metavar="N", help="a position (100000)")
    engine.add_argument("--margin", type=_positive, metavar="CP", help="centipawns (100)")
    engine.add_argument(
        "--positions", type=_positive, metavar="N", help="only so many, by reach (default: all)"
    )
    engine.add_argument("--threads", type=_positive, default=1, metavar="N", help="default 1")
    engine.add_argument("--hash", type=_positive, default=64, metavar="MIB", help="default 64")
    _add_side(engine)
    engine.add_argument("--json", action="store_true", help="print one JSON object")
    engine.set_defaults(run=_engine_check)

    _add_simulate(commands)
    _add_base(commands)
    _add_picture(commands)
    return parser


def _add_import(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("games", type=Path, metavar="GAMES", nargs="+", help="games in PGN")
    parser.add_argument(
        "--side",
        choices=("white", "black", "both"),
        type=str.lower,
        metavar="S",
        required=True,
        help="white, black, or both: two repertoires of one player",
    )
    parser.add_argument("--out", required=True, type=Path, metavar="FILE", help="the new file")
    parser.add_argument("--replace", action="store_true", help="write over FILE if it is there")
    parser.add_argument("--player", default="", metavar="NAME", help="only his games count")
    parser.add_argument(
        "--plies", type=int, default=24, metavar="N", help="half-moves of each game (default 24)"
    )
    parser.add_argument(
        "--share",
        type=float,
        default=5.0,
        metavar="P",
        help="keep replies played in P per cent of the games at their position (default 5)",
    )
    parser.add_argument(
        "--or-games", type=int, default=0, metavar="N", help="or in at least N games"
    )
    parser.add_argument(
        "--least", type=int, default=1, metavar="N", help="but never in fewer than N games"
    )
    parser.add_argument(
        "--best-score",
        type=int,
        metavar="N",
        help="as own move the one that scored best, of those played N times or more",
    )
    parser.add_argument("--lines", type=int, default=0, metavar="N", help="at most N lines")
    parser.add_argument("--title", default="Imported", help="of the section")
    parser.add_argument("--json", action="store_true", help="print one JSON object")


def _add_simulate(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    simulation = commands.add_parser(
        "simulate", help="what planning comes to, with simulated players"
    )
    simulation.add_argument("repertoire", type=Path, metavar="REP", help="a repertoire in PGN")
    simulation.add_argument("--minutes", type=_minutes, default=5, metavar="M", help="a day")
    simulation.add_argument("--days", type=_many(3650), default=60, metavar="D")
    simulation.add_argument("--learners", type=_many(1000), default=12, metavar="K")
    simulation.add_argument("--seed", type=int, default=1, metavar="S", help="of all chance")
    _add_side(simulation)
    simulation.add_argument("--json", action="store_true", help="print one JSON object")
    simulation.set_defaults(run=_simulate)


def _add_picture(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    _add_handout(commands)

    picture = commands.add_parser("picture", help="a diagram of a position")
    picture.add_argument("--fen", required=True, help="the position as FEN")
    picture.add_argument("--out", required=True, type=Path, help=".svg, .png or .pdf")
    picture.add_argument("--flip", action="store_true", help="with Black at the bottom")
    picture.add_argument("--size", type=int, default=480, help="side in pixels (default 480)")
    picture.add_argument("--plain", action="store_true", help="two tones instead of hatching")
    picture.set_defaults(run=_picture)


def _add_base(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    base = commands.add_parser("base", help="the reference base: games to compare with")
    actions = base.add_subparsers(title="actions", metavar="ACTION", required=True)
    build = actions.add_parser("build", help="make a base of games, or add games to it")
    build.add_argument("base", type=Path, metavar="BASE", help="the file of the base")
    build.add_argument("games", type=Path, metavar="GAMES", nargs="+", help="games in PGN")
    build.add_argument(
        "--plies", type=_many(200), metavar="N", help="half-moves of each game (default 40)"
    )
    build.add_argument(
        "--jobs", type=_many(64), metavar="N", help="processes that read (default: the cores)"
    )
    build.add_argument("--json", action="store_true", help="print one JSON object")
    build.set_defaults(run=_base_build)
    show = actions.add_parser("show", help="what was played in a position")
    show.add_argument("base", type=Path, metavar="BASE", help="the file of the base")
    what = show.add_mutually_exclusive_group()
    what.add_argument("--fen", help="the position as FEN (default: the starting position)")
    what.add_argument(
        "--unused", action="store_true", help="what it holds, and the games left out, with reasons"
    )
    show.add_argument("--json", action="store_true", help="print one JSON object")
    show.set_defaults(run=_base_show)


def _add_handout(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    handout = commands.add_parser("handout", help="a lesson to hand out")
    handout.add_argument(
        "source",
        type=Path,
        metavar="REP|GAMES",
        help="a repertoire, or with --game a file of games",
    )
    handout.add_argument(
        "--out", required=True, type=Path, help=".pdf, .html, .pgn, .epd, .png or .svg"
    )
    handout.add_argument(
        "--section", default="", metavar="S", help="only this one: number or title"
    )
    handout.add_argument("--structure", default="", metavar="S", help="a structure: key or name")
    handout.add_argument(
        "--game", type=_positive, metavar="N", help="game N with a draft of notes"
    )
    handout.add_argument(
        "--moments", default="", metavar="MOVES", help="questions from that game, as 12w,15b"
    )
    handout.add_argument("--questions", action="store_true", help="the moments and nothing else")
    handout.add_argument("--against", type=Path, metavar="REP", help="tell where the game left it")
    handout.add_argument("--coach", default="", metavar="NAME", help="who gives the lesson")
    handout.add_argument("--date", type=_date, metavar="YYYY-MM-DD", help="instead of today")
    handout.add_argument("--paper", choices=("a4", "letter"), default="a4", type=str.lower)
    _add_side(handout)
    handout.set_defaults(run=_handout)

    structure = commands.add_parser("structure", help="structure, breaks and tricks of a position")
    structure.add_argument("--fen", required=True, help="the position as FEN")
    structure.add_argument("--json", action="store_true", help="print one JSON object")
    structure.set_defaults(run=_structure)


def _date(text: str) -> datetime.date:
    import argparse
    import datetime

    try:
        return datetime.date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"“{text}” is no date, such as 2026-11-25") from None


def _add_side(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--side",
        choices=("white", "black"),
        type=str.lower,
        metavar="S",
        help="white or black, instead of what the file says",
    )


def _minutes(text: str) -> int:
    import argparse

    if not text.isdecimal() or not 1 <= int(text) <= 240:
        raise argparse.ArgumentTypeError(f"“{text}” is no whole number from 1 to 240")
    return int(text)


def _positive(text: str) -> int:
    import argparse

    if not text.isdecimal() or not 1 <= int(text) <= 10**12:
        raise argparse.ArgumentTypeError(f"“{text}” is no whole number from 1 on")
    return int(text)


def _many(most: int) -> Callable[[str], int]:
    """Reads a whole number from 1 to `most`."""
    import argparse

    def read(text: str) -> int:
        if not text.isdecimal() or not 1 <= int(text) <= most:
            raise argparse.ArgumentTypeError(f"“{text}” is no whole number from 1 to {most}")
        return int(text)

    return read


def _side(options: argparse.Namespace) -> chess.Color | None:
    return None if options.side is None else options.side == "white"


def _open_window(
    path: Path | None, minutes: int | None = None, side: chess.Color | None = None
) -> int:
    from trainer.ui.app import run

    return run(path, drill_minutes=minutes, side=side)


def _drill(options: argparse.Namespace) -> int:
    if not options.terminal:
        return _open_window(options.repertoire, options.minutes or 0, _side(options))
    from trainer.terminal import drill_in_terminal

    return drill_in_terminal(options.repertoire, side=_side(options), minutes=options.minutes)


def _check(options: argparse.Namespace) -> int:
    import json

    from trainer.repertoire.audit import check_report, check_text
    from trainer.repertoire.reader import read_repertoire

    loaded = read_repertoire(options.repertoire, side=_side(options))
    if options.json:
        print(json.dumps(check_report(loaded), ensure_ascii=False, indent=2))
    else:
        print(check_text(loaded))
    return _tell_skipped(options.repertoire, loaded)


def _orders(options: argparse.Namespace) -> int:
    import json

    from trainer.repertoire.openings import OpeningBook
    from trainer.repertoire.orders_report import orders_report
    from trainer.repertoire.orders_text import orders_text
    from trainer.repertoire.reader import read_repertoire

    loaded = read_repertoire(options.repertoire, side=_side(options))
    kept = _kept_orders(loaded)
    if options.json:
        report = orders_report(loaded.repertoire, kept)
        print(json.dumps(report, ensure_ascii=False, indent=2))
    else:
        print(orders_text(loaded, OpeningBook.load(), kept))
    return _tell_skipped(options.repertoire, loaded)


def _games(options: argparse.Namespace) -> int:
    import json
    from contextlib import ExitStack

    from trainer.games.base.store import ReferenceBase
    from trainer.games.report import games_report, games_text
    from trainer.games.survey import survey
    from trainer.repertoire.reader import read_repertoire

    loaded = read_repertoire(options.repertoire, side=_side(options))
    found = survey(loaded.repertoire, options.games, options.player.strip())
    with ExitStack() as stack:
        base = stack.enter_context(ReferenceBase(options.base)) if options.base else None
        if options.json:
            report = games_report(loaded.repertoire, found, base)
            print(json.dumps(report, ensure_ascii=False, indent=2))
        else:
            print(games_text(loaded.repertoire, found, _learnt(loaded), base))
    for fault in found.faults:
        print(
            f"stemline: {fault.path}: game {fault.game}, line {fault.line}: {fault.reason}",
            file=sys.stderr,
        )
    return max(_tell_skipped(options.repertoire, loaded), INPUT_ERRORS if found.faults else DONE)


def _learnt(loaded: LoadedRepertoire) -> LearntDays:
    """What the progress file, if there is one, says had been learnt."""
    import contextlib
    from datetime import UTC, datetime

    from trainer.errors import ProgressError
    from trainer.memory.days import StudyDays
    from trainer.memory.learnt import LearntDays
    from trainer.storage.locations import find_locations
    from trainer.storage.progress import ProgressStore
    from trainer.storage.settings import utc_now

    days = StudyDays(datetime.now().astimezone().tzinfo or UTC)
    path = find_locations().progress_file
    repertoire = loaded.repertoire
    if path.exists() and loaded.path is not None:
        # Without it everything counts as not learnt yet; the departures are the same.
        with (
            contextlib.suppress(ProgressError),
            ProgressStore.open(path, read_only=True, clock=utc_now) as store,
        ):
            keys = [node.key for node in repertoire.decisions()]
            number = store.identify(loaded.path, repertoire.side, keys)
            return LearntDays(store.answers(number), days)
    return LearntDays((), days)


def _engine_check(options: argparse.Namespace) -> int:
    import json

    from trainer.engine.check import MARGIN, NODES, CheckSettings
    from trainer.engine.check_report import check_text as engine_text
    from trainer.engine.check_report import check_values
    from trainer.engine.command import run_check
    from trainer.engine.discover import engine_to_use
    from trainer.engine.session import EngineOptions
    from trainer.repertoire.reader import read_repertoire

    nodes, margin = options.nodes or NODES, options.margin or MARGIN
    loaded = read_repertoire(options.repertoire, side=_side(options))
    result, name = run_check(
        loaded.repertoire,
        engine_to_use(options.engine),
        EngineOptions(options.hash, options.threads),
        CheckSettings(nodes, margin, options.positions),
    )
    if options.json:
        values = check_values(result, engine=name, nodes=nodes, margin=margin)
        print(json.dumps(values, ensure_ascii=False, indent=2))
    else:
        print(engine_text(loaded.repertoire, result, engine=name, nodes=nodes))
    status = _tell_skipped(options.repertoire, loaded)
    if not result.complete:
        print(
            f"stemline: stopped after {result.done} of {result.total} positions; what was "
            "evaluated is kept, and the same command goes on from there.",
            file=sys.stderr,
        )
        return INPUT_ERRORS
    return status


def _base_build(options: argparse.Namespace) -> int:
    import json

    from trainer.games.base.command import build_with_progress
    from trainer.games.base.reader import BROKEN
    from trainer.games.base.report import build_text, build_values, unused_lines

    report = build_with_progress(
        options.base, options.games, plies=options.plies, jobs=options.jobs
    )
    if options.json:
        print(json.dumps(build_values(report), ensure_ascii=False, indent=2))
    else:
        print(build_text(report))
    broken = [one for one in report.unused if one.kind == BROKEN]
    for line in unused_lines(broken):
        print(f"stemline: {line}", file=sys.stderr)
    return INPUT_ERRORS if broken else DONE


def _base_show(options: argparse.Namespace) -> int:
    import json

    import chess

    from trainer.games.base import report
    from trainer.games.base.store import ReferenceBase

    board = chess.Board() if options.fen is None else report.board_of_fen(options.fen)
    with ReferenceBase(options.base) as base:
        if options.unused:
            if options.json:
                print(json.dumps(report.unused_values(base), ensure_ascii=False, indent=2))
            else:
                print(report.summary_text(base.summary()))
                for line in report.unused_lines(base.unused()):
                    print(line)
        elif options.json:
            print(json.dumps(report.show_values(base, board), ensure_ascii=False, indent=2))
        else:
            print(report.show_text(base, board))
    return DONE


def _simulate(options: argparse.Namespace) -> int:
    import json

    from trainer.memory.index_store import IndexStore
    from trainer.memory.simulation.report import Trial, report_object, report_text, run_trial
    from trainer.repertoire.reader import read_repertoire
    from trainer.storage.locations import find_locations

    loaded = read_repertoire(options.repertoire, side=_side(options))
    report = run_trial(
        options.repertoire,
        loaded.repertoire,
        IndexStore(find_locations().cache).index_for(),
        Trial(options.minutes, options.days, options.learners, options.seed),
    )
    if options.json:
        print(json.dumps(report_object(report), ensure_ascii=False, indent=2))
    else:
        print(report_text(report))
    return _tell_skipped(options.repertoire, loaded)


def _kept_orders(loaded: LoadedRepertoire) -> KeptOrders:
    """What the progress file knows of a repertoire's move orders; told where it cannot be read."""
    from trainer.errors import ProgressError
    from trainer.repertoire.orders_kept import KeptOrders
    from trainer.storage.locations import find_locations
    from trainer.storage.progress import ProgressStore
    from trainer.storage.settings import utc_now

    path = find_locations().progress_file
    try:
        with ProgressStore.open(path, read_only=True, clock=utc_now) as store:
            return KeptOrders.of(loaded, store)
    except ProgressError as error:
        print(f"stemline: {error}", file=sys.stderr)
        return KeptOrders()


def _tell_skipped(path: Path, loaded: LoadedRepertoire) -> int:
    """Name on standard error what could not be read; the exit status that goes with it."""
    for skipped in loaded.skipped:
        print(
            f"stemline: {path}: game {skipped.game}, line {skipped.line}: {skipped.reason}",
            file=sys.stderr,
        )
    return INPUT_ERRORS if loaded.skipped else DONE


def _import(options: argparse.Namespace) -> int:
    import json

    from trainer.repertoire.workshop.import_files import refusal, save_imported, target_files
    from trainer.repertoire.workshop.import_words import import_fields, import_words
    from trainer.repertoire.workshop.importing import (
        ImportOptions,
        import_both_sides,
        import_games,
    )

    wanted = ImportOptions(
        side=options.side != "black",
        plies=options.plies,
        reply_share=options.share / 100,
        reply_games=options.or_games,
        least_reply_games=options.least,
        most_lines=options.lines,
        player=options.player.strip(),
        choice="most played" if options.best_score is None else "best score",
        least_games=3 if options.best_score is None else options.best_score,
        title=options.title,
    )
    if options.side == "both":
        by_side = import_both_sides(options.games, wanted.player, wanted)
    else:
        by_side = {wanted.side: import_games(options.games, wanted)}
    # With two sides asked for, the names tell them apart even where one has no games.
    sides = (True, False) if options.side == "both" else by_side
    files = target_files(options.out, sides)
    for side in by_side:
        sentence = refusal(files[side], options.games)
        if not sentence and not options.replace and files[side].exists():
            sentence = f"There is a file {files[side]} already; choose another, or say --replace."
        if sentence:
            raise StemlineError(sentence)
    saved = save_imported(by_side, files)
    made = [(path, by_side[side]) for path in saved for side in by_side if files[side] == path]
    left = made[0][1].report.left
    if options.json:
        fields = [{"file": str(path), **import_fields(imported)} for path, imported in made]
        places = [
            {"file": str(one.path), "game": one.game, "line": one.line, "reason": one.reason}
            for one in left
        ]
        print(json.dumps({"repertoires": fields, "left": places}, ensure_ascii=False, indent=2))
    else:
        for path, imported in made:
            print("\n".join([f"{path}:", *(f"  {line}" for line in import_words(imported))]))
    for one in left:
        print(
            f"stemline: {one.path}: game {one.game}, line {one.line}: {one.reason}",
            file=sys.stderr,
        )
    return INPUT_ERRORS if left else DONE


def _handout(options: argparse.Namespace) -> int:
    import datetime

    from trainer.lesson.command import HandoutRequest, make_handout
    from trainer.lesson.handout.model import Paper

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
            side=_side(options),
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


def _structure(options: argparse.Namespace) -> int:
    import json

    from trainer.lesson.report import structure_report, structure_text
    from trainer.lesson.structure_file import load_structures

    board = _board(options.fen)
    book = load_structures()
    if options.json:
        print(json.dumps(structure_report(board, book), ensure_ascii=False, indent=2))
    else:
        print(structure_text(board, book))
    return DONE


def _board(fen: str) -> chess.Board:
    import chess

    try:
        return chess.Board(fen)
    except ValueError as error:
        raise UsageError(f"“{fen}” is not a FEN: {error}.") from error


def _picture(options: argparse.Namespace) -> int:
    from trainer.diagram import write_diagram

    write_diagram(
        options.out,
        _board(options.fen),
        size=options.size,
        flipped=options.flip,
        style="plain" if options.plain else "hatched",
    )
    return DONE
