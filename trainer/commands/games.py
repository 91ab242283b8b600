"""Departures, re-entries and novelties of games."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from trainer.commands.options import (
    add_json,
    add_repertoire,
    chosen_side,
    print_json,
    tell_faults,
    tell_skipped,
)

if TYPE_CHECKING:
    import argparse

    from trainer.commands.options import Commands
    from trainer.memory.learnt import LearntDays
    from trainer.repertoire.reader import LoadedRepertoire


def add(commands: Commands) -> None:
    """The command `games`."""
    parser = commands.add_parser("games", help="departures, re-entries and novelties of games")
    add_repertoire(parser)
    parser.add_argument("games", type=Path, metavar="GAMES", nargs="+", help="games in PGN")
    parser.add_argument("--player", default="", metavar="NAME", help="whose games count")
    parser.add_argument(
        "--base", type=Path, metavar="BASE", help="a reference base, for novelties"
    )
    add_json(parser)
    parser.set_defaults(run=_run)


def _run(options: argparse.Namespace) -> int:
    from contextlib import ExitStack

    from trainer.games.base.store import ReferenceBase
    from trainer.games.report import games_report, games_text
    from trainer.games.survey import survey
    from trainer.repertoire.reader import read_repertoire

    loaded = read_repertoire(options.repertoire, side=chosen_side(options))
    found = survey(loaded.repertoire, options.games, options.player.strip())
    with ExitStack() as stack:
        base = stack.enter_context(ReferenceBase(options.base)) if options.base else None
        if options.json:
            report = games_report(loaded.repertoire, found, base)
            print_json(report)
        else:
            print(games_text(loaded.repertoire, found, _learnt(loaded), base))
    return max(tell_faults(found.faults), tell_skipped(options.repertoire, loaded))


def _learnt(loaded: LoadedRepertoire) -> LearntDays:
    """What had been learnt; without a progress file all counts as not learnt yet."""
    from datetime import UTC, datetime

    from trainer.commands.progress import kept_answers
    from trainer.memory.days import StudyDays
    from trainer.memory.learnt import LearntDays

    days = StudyDays(datetime.now().astimezone().tzinfo or UTC)
    return LearntDays(kept_answers(loaded), days)
